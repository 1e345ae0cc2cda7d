"""Products of two stations: which pairs, and on which dial settings, against trying every one."""

from __future__ import annotations

from itertools import product

import numpy as np
import numpy.typing as npt
import pytest

from spurplan.errors import Refused
from spurplan.receiver.chain import compile_chains
from spurplan.receiver.description import Receiver
from spurplan.responses.asking import Settings
from spurplan.responses.pairs.heard import Pairs, intermodulation
from spurplan.responses.pairs.intermodulation import PRODUCTS, Meeting, meetings, pairs_of, received_on
from tests.oracle import connect, plain, sets
from tests.oracle.exact import PlainChain, walk
from tests.outside import Differences, against, agreed
from tests.two_tones import Stations, at_levels, chains_of, plain_set


def brute_pairs(
    chain: PlainChain, stations: Stations, meeting: Meeting
) -> dict[tuple[int, int], tuple[int, int]]:
    """Every pair that is received somewhere, with its first and last dial setting, by trying each setting."""
    made = PRODUCTS[meeting.product]
    dials = range(chain.low_hz, chain.high_hz + 1)
    # what is wanted stands on whole hertz all the way
    wanted = np.array([int([d, *walk(chain, d, chain.wanted, d)][meeting.target]) for d in dials])
    found: dict[tuple[int, int], tuple[int, int]] = {}
    for i, j in product(range(len(stations)), repeat=2):
        (low_1, high_1), (low_2, high_2) = stations[i], stations[j]
        if (made.k1 == made.k2 and i > j) or (i == j and low_1 == high_1):
            continue
        ends = [made.k1 * f1 + made.k2 * f2 for f1 in (low_1, high_1) for f2 in (low_2, high_2)]
        received = (2 * (min(ends) - wanted) <= chain.bandwidth_hz) & (
            2 * (wanted - max(ends)) <= chain.bandwidth_hz
        )
        at = np.flatnonzero(received)
        if len(at):
            found[i, j] = (dials[at[0]], dials[at[-1]])
    return found


def scanned(kind: str) -> int:
    """Hold some random sets of a kind against the scan; return how many pairs there were."""
    rng = np.random.default_rng(30 + sets.KINDS.index(kind))
    counted = 0
    for _ in range(4):
        made = sets.receiver(rng, kind, dials=30, scale=400)
        for position, chain in zip(made["range"], plain.chains(made), strict=True):
            top = 2 * max(chain.high_hz, chain.if_hz)
            lows = np.sort(rng.integers(1, top, 24))
            widths = np.where(rng.random(24) < 0.4, rng.integers(1, 60, 24), 0)
            stations = sorted(zip(lows.tolist(), (lows + widths).tolist(), strict=True))
            occupants = connect.occupants_of(stations)
            one = Receiver.from_dict({**made, "range": [position]})
            (chains,) = compile_chains([(one, one.ranges[0])])
            for meeting in meetings(chains.conversions):
                first, second = pairs_of(chains, occupants, meeting, 0.0, drop=False)
                low, high = received_on(chains, occupants, meeting, first, second)
                rows = zip(*(a.tolist() for a in (first, second, low, high)), strict=True)
                listed = {(i, j): (a, b) for i, j, a, b in rows}
                assert len(listed) == len(first)
                assert listed == brute_pairs(chain, stations, meeting), (made, stations, meeting)
                counted += len(listed)
    return counted


@against(
    "every pair tried at every dial setting", "pairs of stations, random sets", unit="pairs", tolerance=0
)
def test_pairs_equal_the_scan() -> Differences:
    """Every pair of stations and bands on every target, first and last hertz of the dial, none twice."""
    for kind in ("single", "double", "converter"):
        counted = scanned(kind)
        assert counted > 500  # the comparison is not an empty one
        yield kind, agreed(counted)


def test_dropping_loses_nothing() -> None:
    """What is found with weak pairs dropped early is all that is found without, from the threshold up."""
    rng = np.random.default_rng(8)
    made = plain_set("6 MHz", "8 MHz", iip3=0.0, iip2=20.0)
    made["range"][0] |= {"front_end": [{"circuits": 2, "q": 40}], "rf_gain": "10 dB"}
    chains = chains_of(made)
    lows = np.sort(rng.integers(100_000, 15_000_000, 220))
    widths = np.where(rng.random(220) < 0.2, rng.integers(1, 100_000, 220), 0)
    stations = sorted(zip(lows.tolist(), (lows + widths).tolist(), strict=True))
    occupants = at_levels(stations, *rng.uniform(-65, -10, 220))
    kept = intermodulation(chains, occupants, Settings())
    whole = intermodulation(chains, occupants, Settings(everything=True))

    def who(pairs: Pairs, rows: npt.NDArray[np.int64]) -> set[tuple[int, ...]]:
        return set(
            zip(
                *(getattr(pairs, n)[rows].tolist() for n in ("first", "second", "product", "target")),
                strict=True,
            )
        )

    heard = np.flatnonzero(whole.margin_db >= 0.0)
    assert 60 < len(heard) < len(whole) / 5
    assert who(kept, np.arange(len(kept))) == who(whole, heard)
    assert (kept.margin_db >= 0.0).all()


def test_dropping_loses_nothing_in_longer_chains() -> None:
    """The same for random sets of two conversions with front ends, filters and mixers of every family."""
    rng = np.random.default_rng(81)
    heard_in_all = 0
    for _ in range(12):
        made = sets.dressed(rng, sets.receiver(rng, "double", dials=3_000_000, scale=20_000_000))
        receiver = Receiver.from_dict({**made, "range": made["range"][:1]})
        (chains,) = compile_chains([(receiver, receiver.ranges[0])])
        near = [chains.want_b[0, 1], chains.want_b[0, 2], (chains.low_hz[0] + chains.high_hz[0]) // 2]
        lows = np.sort(np.abs(rng.normal(rng.choice(near, 90), 300_000)).astype(np.int64) + 1_000)
        widths = np.where(rng.random(90) < 0.2, rng.integers(1, 50_000, 90), 0)
        stations = sorted(zip(lows.tolist(), (lows + widths).tolist(), strict=True))
        occupants = at_levels(stations, *rng.uniform(-40, 10, 90))
        kept, whole = (intermodulation(chains, occupants, Settings(everything=e)) for e in (False, True))
        heard = np.flatnonzero(whole.margin_db >= 0.0)
        keys = [
            set(zip(*(getattr(p, n)[rows].tolist() for n in KEY), strict=True))
            for p, rows in ((kept, np.arange(len(kept))), (whole, heard))
        ]
        assert keys[0] == keys[1]
        heard_in_all += len(keys[0])
    assert heard_in_all > 100


KEY = ("first", "second", "product", "target")


def test_stretches_end_where_the_product_is_no_longer_heard() -> None:
    """On its first and last hertz a product is audible; a hertz further out it is not, or not received."""
    made = plain_set("5 MHz", "9 MHz", if_text="1.6 MHz", iip2=20.0)
    made["range"][0]["front_end"] = [{"circuits": 2, "q": 60}]
    chains = chains_of(made)
    stations: Stations = [(6_000_000, 6_000_000), (7_600_000, 7_600_000)]
    occupants = at_levels(stations, -10.0, -14.0)
    found = intermodulation(chains, occupants, Settings())
    rows = [i for i in range(len(found)) if found.target[i] == 1]
    assert rows

    def heard_at(dial_hz: int) -> bool:
        there = chains.tuned_to(np.array([dial_hz]), np.array([dial_hz]))
        return 1 in intermodulation(there, occupants, Settings()).target.tolist()

    for i in rows:
        low, high = int(found.dial_low_hz[i]), int(found.dial_high_hz[i])
        assert 5_000_000 < low < high < 9_000_000
        assert [heard_at(d) for d in (low - 1, low, high, high + 1)] == [False, True, True, False]


def test_a_balanced_mixer_makes_less_on_its_if_than_with_its_oscillator() -> None:
    """Even order without the oscillator: the balance for the oscillator counts, 16 dB in the family."""
    # physics of the family: products of even oscillator order and second order in the signal, +16 dB
    made = plain_set("5 MHz", "6 MHz", if_text="10.7 MHz")
    made["conversion"][0]["mixer"]["family"] = "single_balanced_lo"
    stations: Stations = [(15_000_000, 15_000_000), (20_500_000, 20_500_000), (25_700_000, 25_700_000)]
    found = intermodulation(
        chains_of(made), at_levels(stations, -20.0, -20.0, -20.0), Settings(everything=True)
    )
    level = {(int(t), int(a), int(b)): float(h) for t, a, b, h in zip(
        found.target, found.first, found.second, found.heard_dbm, strict=True)}  # fmt: skip
    on_dial, on_if = level[0, 1, 0], level[1, 2, 0]
    assert on_dial - on_if == pytest.approx(16.0, abs=1e-6)


def test_neither_station_is_the_one_tuned_in() -> None:
    """Two carriers on one frequency, or nearer than half the passband, are not a pair."""
    chains = chains_of(plain_set("7 MHz", "7.2 MHz", iip3=-20.0))
    close: Stations = [(7_100_000, 7_100_000), (7_103_000, 7_103_000)]
    apart: Stations = [(7_100_000, 7_100_000), (7_103_001, 7_103_001)]
    levels = (-20.0, -20.0)
    assert not len(intermodulation(chains, at_levels(close, *levels), Settings()))
    assert sorted(
        intermodulation(chains, at_levels(apart, *levels), Settings()).loudest_dial_hz.tolist()
    ) == [
        7_096_999,
        7_106_002,
    ]


def test_more_than_a_million_are_refused() -> None:
    """The count is said, and what narrows it."""
    rng = np.random.default_rng(1)
    lows = np.sort(rng.choice(np.arange(7_000_000, 8_000_000, 100), 1_500, replace=False)).tolist()
    occupants = connect.occupants_of([(low, low) for low in lows])
    chains = chains_of(plain_set("7 MHz", "8 MHz"))
    with pytest.raises(Refused, match=r"--intermodulation.*1,000,000 pairs.*--range"):
        intermodulation(chains, occupants, Settings(everything=True))

"""Products of two stations: which pairs, and on which dial settings, against trying every one."""

from __future__ import annotations

from fractions import Fraction
from itertools import combinations, product
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest

from spurplan.errors import Refused
from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import Chains, compile_chains
from spurplan.receiver.description import Receiver
from spurplan.responses.asking import Settings
from spurplan.responses.levels import external_dbm_per_hz
from spurplan.responses.pairs import search, triples
from spurplan.responses.pairs.heard import Pairs, intermodulation, pairs_at_least
from spurplan.responses.pairs.intermodulation import PRODUCTS, received_on
from spurplan.responses.pairs.records import three_assumed
from spurplan.responses.pairs.search import pairs_of
from spurplan.responses.pairs.triples import three_at_once
from spurplan.responses.routes import steps_of_rows
from tests.oracle import connect, sets
from tests.outside import Differences, against, agreed
from tests.two_tones import Stations, at_levels, chains_of, landing, plain_set

Step = tuple[int, int]


Key = tuple[int, int, tuple[Step, ...], tuple[Step, ...], tuple[Step, ...], int, int]


def converted(
    starts: list[tuple[tuple[Step, ...], Fraction]], oscillators: list[Fraction], lo_order: int
) -> list[tuple[tuple[Step, ...], Fraction]]:
    """Every route of first order through some mixers, and where it comes out."""
    for hz in oscillators:
        starts = [
            ((*way, (lo, rf)), out)
            for way, x in starts
            for lo in range(-lo_order, lo_order + 1)
            for rf in (1, -1)
            if (out := lo * hz + rf * x) > 0
        ]
    return starts


def brute_pairs(chains: Chains, stations: list[int], lo_order: int) -> dict[Key, tuple[int, int]]:
    """Every product on every route that is received somewhere, by trying each setting in fractions."""
    n, found = chains.conversions, {}
    columns = [getattr(chains, name)[0].tolist() for name in ("osc_a", "osc_b", "osc_h")]
    for d in range(int(chains.low_hz[0]), int(chains.high_hz[0]) + 1):
        own = [Fraction(a * d + b, h) for a, b, h in zip(*columns, strict=True)]
        for mixer in range(n):
            there = [
                (who, way, y)
                for who, f in enumerate(stations)
                for way, y in converted([((), Fraction(f))], own[:mixer], lo_order)
            ]
            for (i, way_1, y1), (j, way_2, y2) in product(there, repeat=2):
                for number, made in enumerate(PRODUCTS):
                    if i == j or (made.k1 == made.k2 and (i, way_1) > (j, way_2)):
                        continue
                    g = made.k1 * y1 + made.k2 * y2
                    if made.k1 == 1 and g <= 0:
                        continue
                    for behind, out in converted([((), g)], own[mixer:], lo_order):
                        if abs(2 * (out - int(chains.if_hz[0]))) <= int(chains.bandwidth_hz[0]):
                            key = mixer, number, way_1, way_2, behind, i, j
                            found[key] = (found.get(key, (d, d))[0], d)
    return found


def listed(chains: Chains, stations: list[int], lo_order: int) -> dict[Key, tuple[int, int]]:
    """The same as it is found by joining."""
    occupants = connect.occupants_of([(f, f) for f in stations])
    found = pairs_of(chains, occupants, 0.0, lo_order=lo_order, drop=False)
    low, high = received_on(chains, occupants, found.routes, found.route, found.first, found.second)
    out = {}
    rows = zip(*(one.tolist() for one in (found.route, found.first, found.second, low, high)), strict=True)
    for route, i, j, first_hz, last_hz in rows:
        mixer, number = int(found.routes.mixer[route]), int(found.routes.product[route])
        ways = [steps_of_rows(steps[route]) for steps in (found.routes.head_1, found.routes.head_2)]
        ends = [(i, ways[0][:mixer]), (j, ways[1][:mixer])]
        if PRODUCTS[number].k1 == PRODUCTS[number].k2:
            ends.sort()
        if first_hz <= last_hz:
            behind = steps_of_rows(found.routes.behind[route])[mixer:]
            key = mixer, number, ends[0][1], ends[1][1], behind, ends[0][0], ends[1][0]
            assert key not in out
            out[key] = (first_hz, last_hz)
    return out


def scanned(kind: str, lo_order: int, dials: int, stations: int) -> int:
    """Hold some random sets of a kind against the scan; return how many products there were."""
    rng = np.random.default_rng(30 + sets.KINDS.index(kind))
    counted = 0
    for _ in range(5):
        made = sets.receiver(rng, kind, dials=dials, scale=400)
        one = Receiver.from_dict({**made, "range": made["range"][:1]})
        (chains,) = compile_chains([(one, one.ranges[0])])
        top = 2 * max(int(chains.high_hz[0]), int(chains.if_hz[0]))
        carriers = sorted(set(rng.integers(1, top, stations).tolist()))
        expected = brute_pairs(chains, carriers, lo_order)
        assert listed(chains, carriers, lo_order) == expected, (made, carriers)
        counted += len(expected)
    return counted


@against(
    "every route tried at every dial setting", "pairs of stations, random sets", unit="pairs", tolerance=0
)
def test_pairs_equal_the_scan() -> Differences:
    """Every product of two on every route in every mixer, first and last hertz of the dial, none twice."""
    for kind, *asked in (("single", 2, 20, 8), ("double", 1, 4, 4), ("converter", 1, 4, 4)):
        counted = scanned(kind, *asked)
        assert counted > 10  # the comparison is not an empty one
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
    kept = intermodulation(chains, occupants, Settings(lo_order=2))
    whole = intermodulation(chains, occupants, Settings(lo_order=2, everything=True))

    heard = np.flatnonzero(whole.margin_db >= 0.0)
    assert 60 < len(heard) < len(whole) / 5
    assert laws(kept, np.arange(len(kept))) == laws(whole, heard)
    assert (kept.margin_db >= 0.0).all()


def test_dropping_loses_nothing_in_longer_chains() -> None:
    """The same for random sets of two conversions with front ends, filters and mixers of every family."""
    rng = np.random.default_rng(81)
    heard_in_all = 0
    for _ in range(4):
        made = sets.dressed(rng, sets.receiver(rng, "double", dials=3_000_000, scale=20_000_000))
        receiver = Receiver.from_dict({**made, "range": made["range"][:1]})
        (chains,) = compile_chains([(receiver, receiver.ranges[0])])
        near = [chains.want_b[0, 1], chains.want_b[0, 2], (chains.low_hz[0] + chains.high_hz[0]) // 2]
        lows = np.sort(np.abs(rng.normal(rng.choice(near, 30), 300_000)).astype(np.int64) + 1_000)
        widths = np.where(rng.random(30) < 0.2, rng.integers(1, 50_000, 30), 0)
        stations = sorted(zip(lows.tolist(), (lows + widths).tolist(), strict=True))
        occupants = at_levels(stations, *rng.uniform(-40, 10, 30))
        kept, whole = (
            intermodulation(chains, occupants, Settings(everything=e, lo_order=1)) for e in (False, True)
        )
        heard = np.flatnonzero(whole.margin_db >= 0.0)
        assert laws(kept, np.arange(len(kept))) == laws(whole, heard)
        heard_in_all += len(kept)
    assert heard_in_all > 20


@pytest.mark.parametrize("drop", [True, False])
def test_pairs_are_the_same_in_lots_of_any_size(monkeypatch: pytest.MonkeyPatch, drop: bool) -> None:
    """Ways to a mixer joined together, a few lines at a time, or each way by itself for want of bits."""
    made = sets.receiver(np.random.default_rng(30 + sets.KINDS.index("double")), "double", dials=4, scale=400)
    one = Receiver.from_dict({**made, "range": made["range"][:1]})
    (chains,) = compile_chains([(one, one.ranges[0])])
    top = 2 * max(int(chains.high_hz[0]), int(chains.if_hz[0]))
    carriers = sorted(set(np.random.default_rng(5).integers(1, top, 12).tolist()))
    occupants = at_levels([(f, f + f % 3) for f in carriers], *np.linspace(-30.0, 0.0, len(carriers)))

    def keys() -> set[tuple[int, ...]]:
        found = pairs_of(chains, occupants, -100.0, lo_order=2, drop=drop)
        steps = found.routes.take(found.route)
        columns = [
            found.first[:, None], found.second[:, None], steps.mixer[:, None], steps.product[:, None],
            *(side.reshape(len(steps), -1) for side in (steps.head_1, steps.head_2, steps.behind)),
        ]  # fmt: skip
        return {tuple(row) for row in np.concatenate(columns, axis=1).tolist()}

    whole = keys()
    assert len(whole) > 50
    assert len({key[2] for key in whole}) == 2
    with monkeypatch.context() as small:
        small.setattr(search, "ROUTES_AT_ONCE", 7)
        small.setattr(search, "LINES_AT_ONCE", 5)
        assert keys() == whole
    with monkeypatch.context() as short:
        short.setattr(search, "LARGEST", 1)
        assert keys() == whole


def laws(pairs: Pairs, rows: npt.NDArray[np.int64]) -> set[tuple[int, ...]]:
    """Who makes which product on which settings."""
    some = pairs.take(rows)
    routes = some.routes.take(some.route)
    of_route = [getattr(routes, name) for name in ("c_1", "c_2", "p", "q", "d")]
    columns = [some.first, some.second, some.product, *of_route]
    return set(zip(*(column.tolist() for column in columns), strict=True))


def test_stretches_end_where_the_product_is_no_longer_heard() -> None:
    """On its first and last hertz a product is audible; a hertz further out it is not, or not received."""
    made = plain_set("5 MHz", "9 MHz", if_text="1.6 MHz", iip2=20.0)
    made["range"][0]["front_end"] = [{"circuits": 2, "q": 60}]
    chains = chains_of(made)
    stations: Stations = [(6_000_000, 6_000_000), (7_600_000, 7_600_000)]
    occupants = at_levels(stations, -10.0, -14.0)
    found = intermodulation(chains, occupants, Settings())
    rows = [i for i, at in enumerate(landing(chains, found)) if at == "IF"]
    assert rows

    def heard_at(dial_hz: int) -> bool:
        there = chains.tuned_to(np.array([dial_hz]), np.array([dial_hz]))
        return "IF" in landing(there, intermodulation(there, occupants, Settings()))

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
    chains = chains_of(made)
    found = intermodulation(chains, at_levels(stations, -20.0, -20.0, -20.0), Settings(everything=True))
    level = {(at, int(a), int(b)): float(h) for at, a, b, h in zip(
        landing(chains, found), found.first, found.second, found.heard_dbm, strict=True)}  # fmt: skip
    on_dial, on_if = level["dial", 1, 0], level["IF", 2, 0]
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


def test_a_product_is_as_wide_as_what_is_in_it() -> None:
    """Twice f1's width and once f2's for 2 f1 - f2, once each for f1 + f2 and f1 - f2: the bar of hearing of
    speech is the noise of all that."""
    chains = chains_of(plain_set("6.9 MHz", "7.3 MHz", iip3=-20.0))
    stations = at_levels([(7_050_000, 7_050_000), (7_100_000, 7_100_000)], -20.0, -20.0)
    wide_hz = np.array([10_000, 2_700], dtype=np.int32)
    pairs = intermodulation(chains, stations.replace(width_hz=wide_hz), Settings(everything=True))
    third = pairs.product == 2
    assert {(7_050_000, 7_100_000), (7_100_000, 7_050_000)} <= set(
        zip(pairs.f1_hz[third].tolist(), pairs.f2_hz[third].tolist(), strict=True)
    )
    filled_hz = np.where(third, 2, 1) * wide_hz[pairs.first] + wide_hz[pairs.second]
    over = pairs.bar_dbm - external_dbm_per_hz(chains, pairs.candidate, pairs.loudest_dial_hz)
    np.testing.assert_allclose(over, 10 * np.log10(filled_hz), atol=1e-6)


def test_more_than_a_million_are_refused() -> None:
    """The count is said, and what narrows it."""
    rng = np.random.default_rng(1)
    lows = np.sort(rng.choice(np.arange(7_000_000, 8_000_000, 100), 1_500, replace=False)).tolist()
    occupants = connect.occupants_of([(low, low) for low in lows])
    chains = chains_of(plain_set("7 MHz", "8 MHz"))
    with pytest.raises(Refused, match=r"--intermodulation.*1,000,000 pairs.*--range"):
        intermodulation(chains, occupants, Settings(everything=True))


def crowd(rows: int, low_hz: int, high_hz: int, seed: int = 1) -> Occupants:
    """Strong carriers at random."""
    rng = np.random.default_rng(seed)
    lows = np.sort(rng.choice(np.arange(low_hz, high_hz, 100), rows, replace=False)).tolist()
    occupants = connect.occupants_of([(low, low) for low in lows])
    return occupants.replace(level_dbm=rng.uniform(-50.0, -20.0, rows))


def test_samples_of_the_dial_never_count_more_pairs_than_there_are() -> None:
    """Spread evenly most are found; crowded in one place none for certain."""
    chains = chains_of(plain_set("7 MHz", "8 MHz", iip3=5.0))
    for rows, low_hz, high_hz, found in ((150, 7_000_000, 8_000_000, 0.5), (150, 7_500_000, 7_560_000, 0.0)):
        occupants = crowd(rows, low_hz, high_hz)
        exact = len(intermodulation(chains, occupants, Settings()))
        least = pairs_at_least(chains, occupants, Settings())
        assert found * exact <= least <= exact


def test_too_many_pairs_are_refused_by_samples(monkeypatch: pytest.MonkeyPatch) -> None:
    """Long before all of them are worked out."""
    looked_at = 0

    def counting(*arguments: Any, **options: Any) -> Any:
        nonlocal looked_at
        looked_at += 1
        return look(*arguments, **options)

    look = search._Search.block
    monkeypatch.setattr(search._Search, "block", counting)
    monkeypatch.setattr(search, "MOST_RECORDS", 5_000)
    monkeypatch.setattr(search, "MANY", 1_000)
    chains = chains_of(plain_set("7 MHz", "8 MHz", iip3=5.0))
    occupants = crowd(300, 7_000_000, 8_000_000)
    with pytest.raises(Refused, match=r"more than 5,000 pairs \([0-9,]+ at least, by samples"):
        intermodulation(chains, occupants, Settings())
    early, looked_at = looked_at, 0
    monkeypatch.setattr(search, "MOST_RECORDS", 10**9)
    intermodulation(chains, occupants, Settings())
    # without the samples of the second time
    assert early < looked_at


def strongest_threes(occupants: Occupants, count: int, at: tuple[int, int]) -> set[tuple[int, int, int]]:
    """f1, f2 and f3 of those that land within a passband of a stretch of dial, by plain loops."""
    strong = sorted(range(len(occupants)), key=lambda one: -occupants.level_dbm[one])[:count]
    hz = {one: int(occupants.low_hz[one]) for one in sorted(strong)}
    return {
        (hz[a], hz[b], hz[c])
        for a, b in combinations(sorted(strong), 2)
        for c in hz
        if c not in (a, b) and at[0] - 3_000 <= hz[a] + hz[b] - hz[c] <= at[1] + 3_000
    }


def test_too_many_threes_are_those_of_fewer_stations(monkeypatch: pytest.MonkeyPatch) -> None:
    """Half as many of the strongest, and half of these, until there are not too many; it is told how many."""
    chains = chains_of(plain_set("7.4 MHz", "7.45 MHz", iip3=-20.0))
    occupants = crowd(40, 7_200_000, 7_700_000).replace(level_dbm=np.linspace(-40.0, -20.0, 40))
    whole = three_at_once(chains, occupants, Settings())
    assert whole.strongest == 200
    for most, stations in ((len(whole), 200), (len(whole) - 1, 25)):
        monkeypatch.setattr(triples, "MOST", most)
        some = three_at_once(chains, occupants, Settings())
        assert some.strongest == stations
        found = {
            tuple(int(occupants.low_hz[one]) for one in who)
            for who in zip(some.first.tolist(), some.second.tolist(), some.third.tolist(), strict=True)
        }
        assert found == strongest_threes(occupants, stations, (7_400_000, 7_450_000))
        assert f"of the {stations} strongest" in three_assumed(stations)

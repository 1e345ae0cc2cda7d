"""Ten thousand IFs in one call against one receiver at a time."""

from __future__ import annotations

import time
from pathlib import Path

import numpy as np
import pytest

import spurplan
from spurplan.errors import Refused
from spurplan.occupancy.expand import occupants_of
from spurplan.occupancy.occupants import Occupants
from spurplan.planning.if_change.other_ifs import possible, with_ifs
from spurplan.planning.if_change.scan import finest_step_hz, scanned
from spurplan.planning.if_change.scan_list import best_of
from spurplan.receiver.chain import Chains, compile_chains
from spurplan.receiver.changes import with_intermediate_frequency
from spurplan.receiver.description import Receiver
from spurplan.responses import clear_share
from spurplan.responses.asking import Settings
from spurplan.responses.axis.air import merged, touching
from spurplan.responses.axis.chains import axis_of
from spurplan.responses.axis.cover import air_of, spoilt_hz
from spurplan.responses.axis.edges import heard_stretches, last_heard
from spurplan.responses.axis.union import no_stretches
from spurplan.responses.engine import respond
from spurplan.responses.records import intruding
from tests.oracle import axis as at_random

SET = Path(__file__).parent / "receivers" / "boathouse.toml"
INTS = ("osc_a", "osc_b", "osc_h", "want_a", "want_b", "wanted_steps", "if_hz", "bandwidth_hz")


def one_by_one(chains: Chains, occupants: Occupants, settings: Settings) -> np.ndarray:
    """Return what `ranges` would call lost, by way of every stretch of every occupant. [Hz]"""
    response = intruding(respond(chains, occupants, settings))
    return clear_share.heard_hz(response.chains, clear_share.heard_stretches(response.lines, response.graded))


# --- the candidate axis ----------------------------------------------------------------------


@pytest.mark.parametrize("name", ["boathouse.toml", "ferry_converter.toml", "lockkeeper.toml"])
def test_with_ifs_equals_describing_the_set_anew(name: str) -> None:
    """The arrays of a candidate are those of the edited description, whatever the conversions."""
    receiver = spurplan.read_receiver(SET.parent / name)
    ifs = np.array([100_000, 455_000, 470_123], dtype=np.int64)
    for one in receiver.ranges:
        (chain,) = compile_chains([(receiver, one)])
        made = with_ifs(chain, ifs)
        able = possible(made)
        for number, if_hz in enumerate(ifs.tolist()):
            try:
                changed = with_intermediate_frequency(receiver, if_hz, range_name=one.name)
            except Refused:
                assert not able[number]
                continue
            assert able[number]
            again = next(r for r in changed.ranges if r.name == one.name)
            (wanted,) = compile_chains([(changed, again)])
            for field in INTS:
                np.testing.assert_array_equal(getattr(made, field)[number], getattr(wanted, field)[0], field)


def test_first_if_of_two() -> None:
    """The conversion behind a changed IF follows it."""
    receiver = spurplan.read_receiver(SET)
    chain = {"injection": "high", "if": "10.7 MHz"}
    two = Receiver.from_dict(
        {
            "name": "two",
            "conversion": [
                chain,
                {"injection": "low", "if_hz": 455_000, "filter": receiver.conversions[0].filter},
            ],
            "range": [{"name": "1", "coverage": ["3 MHz", "6 MHz"]}],
        }
    )
    assert receiver.conversions[0].injection == "high"
    (chains,) = compile_chains([(two, two.ranges[0])])
    made = with_ifs(chains, np.array([9_000_000]), 0)
    changed = with_intermediate_frequency(two, 9_000_000, 0)
    (wanted,) = compile_chains([(changed, changed.ranges[0])])
    for field in INTS:
        np.testing.assert_array_equal(getattr(made, field), getattr(wanted, field), field)


# --- exact -----------------------------------------------------------------------------------


def compare(seed: int, number: int = 20) -> tuple[int, int]:
    """Hold one random set against one call each; return (candidates, candidates that differ).

    Where they differ, single dial settings decide, and the axis may miss only what is
    barely heard.
    """
    rng = np.random.default_rng(seed)
    receiver, occupants = at_random.receiver(rng), at_random.occupants(rng)
    settings = Settings(lo_order=int(rng.integers(1, 11)), rf_order=int(rng.integers(1, 4)))
    (chain,) = compile_chains([(receiver, receiver.ranges[0])])
    chains = with_ifs(chain, at_random.ifs(rng, receiver, number))
    assert possible(chains).all()
    axis = axis_of(chains)
    assert axis is not None
    alike = merged(occupants, axis.bandwidth_hz)
    found = spoilt_hz(axis, air_of(occupants, axis.bandwidth_hz), settings)
    plain = one_by_one(chains, alike, settings)
    width = axis.high_hz - axis.low_hz + 1
    # a sampled stretch may hide a peak from either; never more than a sliver of the dial
    np.testing.assert_allclose(found, plain, atol=max(3.0, 2e-3 * width))
    return number, int((found != plain).sum())


def test_equals_one_call_each() -> None:
    """Hertz for hertz, for front ends, mixers, harmonics, sides and air of every kind."""
    counted = [compare(seed) for seed in range(30)]
    candidates, different = (sum(column) for column in zip(*counted, strict=True))
    assert candidates == 600
    assert different <= 2


@pytest.mark.long
def test_equals_one_call_each_many_times() -> None:
    """The same for many more."""
    counted = [compare(seed) for seed in range(1_000, 1_600)]
    candidates, different = (sum(column) for column in zip(*counted, strict=True))
    assert different <= candidates // 200


def test_equals_one_call_each_on_the_shipped_tables() -> None:
    """Hertz for hertz for the set of the demos, on the tables that ship."""
    receiver = spurplan.read_receiver(SET)
    settings = Settings()
    occupants = occupants_of(spurplan.read_bands(None), region=1, antenna_gain_db=receiver.antenna_gain_db)
    ifs = np.sort(np.random.default_rng(6).integers(400_000, 12_000_000, 24))
    for one in receiver.ranges:
        (chain,) = compile_chains([(receiver, one)])
        chains = with_ifs(chain, ifs)
        axis = axis_of(chains)
        assert axis is not None
        found = spoilt_hz(axis, air_of(occupants, 6_000), settings)
        np.testing.assert_array_equal(found, one_by_one(chains, merged(occupants, 6_000), settings))
        # who lies inside a band as loud as himself adds some hundredths of a decibel at most
        unmerged = one_by_one(chains.take(np.arange(4)), occupants, settings)
        assert (unmerged >= found[:4]).all()
        assert (unmerged - found[:4] <= 3_000).all()


def test_merging_changes_no_stretch_that_is_received() -> None:
    """What touches is one interval; what stands a hertz apart is two."""
    low, high = np.array([10, 21, 5, 40, 42]), np.array([20, 30, 12, 40, 50])
    found = touching(low, high)
    assert found.low_hz.tolist() == [5, 40, 42]
    assert found.high_hz.tolist() == [30, 40, 50]


def test_axis_of_unlike_chains() -> None:
    """Candidates that differ in more than their IF are no axis."""
    receiver = spurplan.read_receiver(SET)
    (both,) = compile_chains([(receiver, one) for one in receiver.ranges[:2]])
    assert axis_of(both) is None


def test_last_heard_is_exact() -> None:
    """The last hertz at which a curve is not below zero, either way round, steep, flat or kinked."""
    root = np.array([1_000.5, 2_000.0, 3_333.3, 10.0])

    def margin(which: np.ndarray, dial: np.ndarray) -> np.ndarray:
        away = root[which] - dial
        return np.where(
            which == 0, away, np.where(which == 1, away**3, np.where(which == 2, np.tanh(away), 9.0 * away))
        )

    start, stop = np.array([0, 1, 5, 10]), np.array([100_000, 90_000, 2**30, 11])
    assert last_heard(margin, start, stop, stop / 2.0).tolist() == [1_000, 2_000, 3_333, 10]
    # the other way round the first that is heard is sought
    back = last_heard(lambda which, dial: -margin(which, dial), stop, start, stop / 2.0)
    assert back.tolist() == [1_001, 2_000, 3_334, 11]


def test_stretches_between_points() -> None:
    """A curve that comes up, goes down and comes up again gives two stretches."""
    points = np.array([[0, 10, 20, 30, 40]])

    def margin(which: np.ndarray, dial: np.ndarray) -> np.ndarray:
        return np.sin((dial - 5.5) * np.pi / 15.0)

    seen = margin(np.zeros(5, dtype=int), points[0])[None]
    which, first, last = heard_stretches(margin, points, seen, np.array([20.0]))
    assert which.tolist() == [0, 0]
    assert list(zip(first.tolist(), last.tolist(), strict=True)) == [(6, 20), (36, 40)]


def test_union_of_candidates() -> None:
    """Stretches of neighbours on the axis never run together; wide dials sort as narrow ones do."""
    for high in (99, 20_000_000_000):
        union = no_stretches(0, high).with_more(
            np.array([0, 1, 0, 1]), np.array([90, 0, 5, 7]), np.array([99, 3, 10, 20])
        )
        assert union.total_hz(2).tolist() == [16, 18]
        assert union.covers(np.array([0, 0, 1]), np.array([6, 4, 0]), np.array([9, 9, 3])).tolist() == [
            True, False, True,
        ]  # fmt: skip


# --- the scan --------------------------------------------------------------------------------


def planted(if_hz: int, span: tuple[int, int]) -> Occupants:
    """Return air that leaves one IF of a set for 5.0 to 5.4 MHz alone: image and IF are free there."""
    rng = np.random.default_rng(1)
    base = at_random.occupants(rng, 4)
    image = (5_000_000 + 2 * if_hz, 5_400_000 + 2 * if_hz)
    low = np.array([span[0] - 50_000, if_hz + 2_000, 5_000_000 + 2 * span[0], image[1] + 2_000])
    high = np.array([if_hz - 2_000, span[1] + 50_000, image[0] - 2_000, 5_400_000 + 2 * span[1]])
    order = np.argsort(low)
    return base.replace(
        low_hz=low[order],
        high_hz=high[order],
        level_dbm=np.full(4, -10.0),
        sound=np.zeros(4, dtype=np.int8),
        width_hz=np.full(4, 6_000, dtype=np.int32),
    )


def test_scan_finds_the_planted_optimum() -> None:
    """The one IF whose image and neighbourhood are free is the best, to the step."""
    receiver = Receiver.from_dict(
        {
            "name": "planted",
            "conversion": [{"injection": "high", "if": "465 kHz", "filter": {"bandwidth": "3 kHz"}}],
            "range": [{"name": "1", "coverage": ["5 MHz", "5.4 MHz"]}],
        }
    )
    for if_hz in (733_000, 1_207_000):
        occupants = planted(if_hz, (600_000, 1_600_000))
        occupants = occupants.replace(reach=(1, 30_000_000))
        found = scanned(
            receiver, receiver.ranges, (600_000, 1_600_000), occupants, Settings(lo_order=1, rf_order=1)
        )
        best = best_of(found)[0]
        assert abs(int(found.if_hz[best]) - if_hz) <= 1_000
        assert found.clear_share[best] == 1.0
        assert np.sort(found.clear_share)[len(found.if_hz) // 2] < 0.2


def test_scan_is_never_worse_than_a_coarser_one() -> None:
    """Grids of whole multiples hold each other."""
    receiver = spurplan.read_receiver(SET)
    picked = receiver.ranges[3:]
    occupants = occupants_of(spurplan.read_bands(None), region=1)
    span = (400_000, 3_000_000)
    fine = scanned(receiver, picked, span, occupants, Settings(), step_hz=1_000)
    for step in (2_000, 5_000, 20_000, 100_000):
        coarse = scanned(receiver, picked, span, occupants, Settings(), step_hz=step)
        assert set(coarse.if_hz.tolist()) <= set(fine.if_hz.tolist())
        assert fine.clear_share.max() >= coarse.clear_share.max()


def test_scan_of_two_conversions_equals_one_set_each() -> None:
    """Sets with several conversions go the long way, to the same figures."""
    receiver = Receiver.from_dict(
        {
            "name": "two",
            "conversion": [
                {"injection": "high", "if": "10.7 MHz", "filter": {"bandwidth": "15 kHz"}},
                {"injection": "low", "if": "455 kHz", "filter": {"bandwidth": "6 kHz"}},
            ],
            "range": [{"name": "1", "coverage": ["14 MHz", "14.4 MHz"]}],
        }
    )
    occupants = occupants_of(spurplan.read_bands(None), region=1)
    found = scanned(receiver, receiver.ranges, (450_000, 460_000), occupants, Settings(), step_hz=5_000)
    assert found.if_hz.tolist() == [450_000, 455_000, 460_000]
    for number, if_hz in enumerate(found.if_hz.tolist()):
        changed = with_intermediate_frequency(receiver, if_hz)
        (chains,) = compile_chains([(changed, changed.ranges[0])])
        lost = one_by_one(chains, merged(occupants, 6_000), Settings())
        assert found.lost_hz[number, 0] == lost[0]


def test_scan_divides_each_dial_as_ranges_does(tmp_path: Path) -> None:
    """Heard, unknown and clear of each IF, where the tables end inside the reach of its image."""
    receiver = Receiver.from_dict(
        {
            "name": "edge",
            "conversion": [{"injection": "high", "if": "455 kHz", "filter": {"bandwidth": "6 kHz"}}],
            "range": [{"name": "1", "coverage": ["9 MHz", "11 MHz"]}],
        }
    )
    table = tmp_path / "short.csv"
    rows = "9000,10000,amateur,low\n11000,12000,amateur,high\n"
    table.write_text(f"low_khz,high_khz,service,label\n{rows}", "utf-8")
    occupants = occupants_of(spurplan.read_bands(table), region=1)
    found = scanned(receiver, receiver.ranges, (400_000, 1_600_000), occupants, Settings(), step_hz=200_000)
    for number, if_hz in enumerate(found.if_hz.tolist()):
        (row,) = spurplan.ranges(with_intermediate_frequency(receiver, if_hz), table).ranges.records()
        assert found.clear_share[number] == pytest.approx(row["clear_share"], abs=1e-9)
        assert found.unknown_share[number] == pytest.approx(row["unknown_share"], abs=1e-9)
    assert ((found.unknown_share > 0) & (found.clear_share > 0)).any()


def test_scan_is_ten_times_faster_than_one_call_each() -> None:
    """Times taken in turn in one run; tests.benchmarks.if_scan prints what it is for ten thousand."""
    receiver = spurplan.read_receiver(SET)
    occupants = occupants_of(spurplan.read_bands(None), region=1)
    alike = merged(occupants, 6_000)
    picked = receiver.ranges[2:]
    start = time.process_time()
    found = scanned(receiver, picked, (400_000, 2_400_000), occupants, Settings(), step_hz=1_000)
    together = (time.process_time() - start) / len(found.if_hz)
    start = time.process_time()
    for if_hz in found.if_hz[::400]:
        for one in picked:
            (chain,) = compile_chains([(receiver, one)])
            one_by_one(with_ifs(chain, np.array([if_hz])), alike, Settings())
    each = (time.process_time() - start) / len(found.if_hz[::400])
    assert each > 10 * together


@pytest.mark.parametrize(
    ("span", "step"), [((400_000, 12_000_000), 2_000), ((400_000, 500_000), 100), ((1, 10**9), 100_000)]
)
def test_finest_step(span: tuple[int, int], step: int) -> None:
    """As fine as ten thousand IFs allow, in round numbers."""
    assert finest_step_hz(span) == step
    assert (span[1] - span[0]) / step <= 10_000

"""The join against its own rule: every line, occupant and dial setting tried in exact fractions.

Lines are made up here, of any slope and width, with the points behind their mixers, so
that what the enumeration never makes is joined too.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from typing import Any

import numpy as np
import pytest

from spurplan.responses import join as joining
from spurplan.responses.join import Hits, join
from spurplan.responses.lines import Lines
from tests.oracle import connect

Found = dict[tuple[int, int], tuple[int, int]]
Generator = np.random.Generator


def lines_of(rows: list[dict[str, Any]]) -> Lines:
    """Return lines from rows of "p", "q", "r", "d" (one number a point), "dial", "reach", "tight", "need"."""
    points = {name: np.array([row[name] for row in rows], dtype=np.int64).T for name in "pqrd"}
    low, high = np.array([row["dial"] for row in rows], dtype=np.int64).T
    count = len(rows)
    return Lines(
        candidate=np.zeros(count, dtype=np.int64),
        steps=np.zeros((count, len(points["p"]), 2), dtype=np.int64),
        **points,
        dial_low_hz=low,
        dial_high_hz=high,
        reach_hz=np.array([row["reach"] for row in rows], dtype=np.int64),
        tight=np.array([row.get("tight", True) for row in rows]),
        need_dbm=np.array([row.get("need", -np.inf) for row in rows]),
    )


def found_by(hits: Hits) -> Found:
    """Return the hits by (line, occupant), each of which must stand there once."""
    columns = (hits.line, hits.occupant, hits.dial_low_hz, hits.dial_high_hz)
    rows = list(zip(*(column.tolist() for column in columns), strict=True))
    found = {(line, occupant): (low, high) for line, occupant, low, high in rows}
    assert len(found) == len(rows), "a pair is listed twice"
    return found


def meets(lines: Lines, line: int, dial_hz: int, low_hz: int, high_hz: int) -> bool:
    """Whether some place in the passband brings [low, high] in, every product positive."""
    p, q, r, d = (getattr(lines, name)[:, line].tolist() for name in "pqrd")
    half = Fraction(int(lines.reach_hz[line]), 2)
    least, most, ends_open = -half, half, False
    ends = sorted(Fraction(d[0] * edge - p[0] * dial_hz - q[0], r[0]) for edge in (low_hz, high_hz))
    least, most = max(least, ends[0]), min(most, ends[1])
    edges = [(Fraction(-p[i] * dial_hz - q[i], r[i]), r[i] > 0) for i in range(1, len(p))]
    if not lines.tight[line]:
        edges = []
    for edge, is_lower in edges:
        if is_lower and edge >= least:
            least, ends_open = edge, True
    for edge, is_lower in edges:
        if not is_lower and edge <= most:
            most, ends_open = edge, True
    return least < most or (least == most and not ends_open)


def by_trying(lines: Lines, stations: list[tuple[int, int]]) -> Found:
    """Return what the rule says, by trying every dial setting."""
    found = {}
    for line in range(len(lines)):
        dials = range(int(lines.dial_low_hz[line]), int(lines.dial_high_hz[line]) + 1)
        for number, (low_hz, high_hz) in enumerate(stations):
            at = [dial for dial in dials if meets(lines, line, dial, low_hz, high_hz)]
            if at:
                assert at[-1] - at[0] + 1 == len(at)
                found[line, number] = (at[0], at[-1])
    return found


def random_lines(rng: Generator, count: int, points: int) -> Lines:
    """Return lines of small numbers: slopes of either sign and none, odd and even widths, none too.

    They pass where stations are, and products come near nothing and below it.
    """
    rows = []
    for _ in range(count):
        low = int(rng.integers(1, 60))
        p, d = rng.integers(-4, 5, points), rng.integers(1, 4, points)
        aim = np.append(rng.integers(1, 300, 1), rng.integers(-10, 60, points - 1))
        row: dict[str, Any] = {
            "p": p.tolist(),
            "q": (aim * d - p * (low + 5)).tolist(),
            "r": (rng.integers(1, 4, points) * rng.choice([-1, 1], points)).tolist(),
            "d": d.tolist(),
            "dial": (low, low + int(rng.integers(0, 25))),
            "reach": int(rng.choice([0, 1, 2, 7, 30])),
            "tight": bool(rng.random() < 0.7),
        }
        rows.append(row)
    return lines_of(rows)


def random_stations(rng: Generator, count: int, top: int = 300) -> list[tuple[int, int]]:
    """Return spots, narrow and wide rows."""
    low = rng.integers(1, top, count)
    width = rng.choice([0, 0, 1, 2, 15, 16, 17, 100], count)
    return sorted({(int(a), int(a + w)) for a, w in zip(low, width, strict=True)})


@pytest.mark.parametrize("points", [1, 2, 3])
@pytest.mark.parametrize("seed", range(4))
def test_every_pair_and_every_hertz_of_its_stretch(points: int, seed: int) -> None:
    """Nothing missed, invented or a hertz off; products of lines that are not tight are not asked for."""
    rng = np.random.default_rng(seed)
    lines, stations = random_lines(rng, 40, points), random_stations(rng, 12)
    expected = by_trying(lines, stations)
    assert len(expected) > 30
    assert found_by(join(lines, connect.occupants_of(stations))) == expected


@pytest.mark.parametrize(
    "knobs",
    [
        {"FEW": 0},
        {"FEW": 10**9},
        {"PAIRS_AT_ONCE": 1},
        {"PAIRS_AT_ONCE": 7, "FEW": 0},
        {"CLASS_BITS": 1},
        {"CLASS_BITS": 60},
    ],
)
def test_how_the_work_is_cut_up_changes_nothing(
    knobs: dict[str, int], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Pairs at once, dividing by slope or by pair, classes of width: the same hits."""
    rng = np.random.default_rng(9)
    lines, stations = random_lines(rng, 60, 2), random_stations(rng, 25)
    occupants = connect.occupants_of(stations)
    expected = found_by(join(lines, occupants))
    assert len(expected) > 150
    for name, value in knobs.items():
        monkeypatch.setattr(joining, name, value)
    assert found_by(join(lines, occupants)) == expected


@pytest.mark.parametrize("few", [0, 10**9])
@pytest.mark.parametrize(("reach", "first", "last"), [(6, 462, 468), (5, 463, 467), (0, 465, 465)])
def test_a_level_line_is_received_over_its_whole_dial_or_nowhere(
    few: int, reach: int, first: int, last: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Breakthrough on 465 Hz: whatever touches the passband, its edges too."""
    monkeypatch.setattr(joining, "FEW", few)
    lines = lines_of([{"p": [0], "q": [465], "r": [1], "d": [1], "dial": (100, 200), "reach": reach}])
    inside = [(first - 9, first), (first, first), (first - 9, last + 9), (last, last), (last, last + 9)]
    beside = [(first - 1, first - 1), (first - 9, first - 1), (last + 1, last + 1), (last + 1, last + 9)]
    stations = sorted({*inside, *beside})
    found = found_by(join(lines, connect.occupants_of(stations)))
    assert {stations[number] for _, number in found} == set(inside)
    assert set(found.values()) == {(100, 200)}


def test_a_product_of_nothing_is_no_product() -> None:
    """An intermediate product of exactly 0 Hz does not count, half a hertz does."""
    # received on d = r exactly; the product behind the first mixer is d - 50
    row: dict[str, Any] = {"p": [1, 1], "q": [0, -50], "r": [1, 1], "d": [1, 1], "dial": (40, 60), "reach": 0}
    stations = [(1, 1_000)]
    for tight, expected in ((True, (51, 60)), (False, (40, 60))):
        lines = lines_of([{**row, "tight": tight}])
        assert found_by(join(lines, connect.occupants_of(stations))) == {(0, 0): expected}
    # a passband of 1 Hz reaches half a hertz above zero at d = 50
    lines = lines_of([{**row, "reach": 1}])
    assert found_by(join(lines, connect.occupants_of(stations))) == {(0, 0): (50, 60)}


def test_occupants_below_what_a_line_needs_are_left_out_when_asked() -> None:
    """The level that is just enough is enough; nobody is left out unasked."""
    row: dict[str, Any] = {"p": [1], "q": [0], "r": [1], "d": [1], "dial": (1, 99), "reach": 2}
    lines = lines_of([{**row, "need": -60.0}, {**row, "need": -40.0}])
    occupants = connect.occupants_of([(10, 10), (20, 20), (30, 30)], [-61.0, -60.0, -40.0])
    assert set(found_by(join(lines, occupants, strong_enough=True))) == {(0, 1), (0, 2), (1, 2)}
    assert len(join(lines, occupants)) == 6


def test_nothing_joined_with_anything_is_nothing() -> None:
    """No lines, no occupants, nothing in common."""
    lines = random_lines(np.random.default_rng(1), 3, 1)
    occupants = connect.occupants_of([(100, 200)])
    none = np.zeros(0, dtype=np.int64)
    assert len(join(lines.take(none), occupants)) == 0
    assert len(join(lines, occupants.take(none))) == 0
    assert len(join(lines, connect.occupants_of([(10**9, 10**9)]))) == 0
    assert len(Hits.concat([])) == 0


def test_lots_of_hits_are_put_one_behind_the_other() -> None:
    """In the order given, every column alike."""
    columns = np.arange(20).reshape(5, 4)
    lots = [Hits(*columns[:2].T), Hits(*columns[2:3].T), Hits(*columns[3:].T)]
    whole = Hits.concat(lots)
    assert np.array_equal([whole.line, whole.occupant, whole.dial_low_hz, whole.dial_high_hz], columns.T)
    assert Hits.concat(lots[:1]) is lots[0]
    assert np.array_equal(whole.take(slice(1, 3)).dial_high_hz, columns[1:3, 3])


def test_a_pair_that_can_not_meet_is_hardly_ever_looked_at() -> None:
    """One wide band must not make neighbours of thousands of spots: few pairs are divided in vain."""
    rng = np.random.default_rng(3)
    spots = [(int(hz), int(hz)) for hz in rng.integers(1_000_000, 30_000_000, 4_000)]
    rows = [(hz, hz + 9_999) for hz in range(1_000_000, 30_000_000, 10_000)]
    stations = sorted({*spots, *rows, (1_000_000, 30_000_000)})
    made: list[dict[str, Any]] = []
    for _ in range(30):
        dial = int(rng.integers(2_000_000, 29_000_000))
        p, d = int(rng.choice([-2, -1, 1, 2])), int(rng.integers(1, 4))
        aim = int(rng.integers(2_000_000, 29_000_000))
        made.append(
            {
                "p": [p],
                "q": [aim * d - p * dial],
                "r": [1],
                "d": [d],
                "dial": (dial, dial + 20),
                "reach": 6_000,
            }
        )
    lines, occupants = lines_of(made), connect.occupants_of(stations)
    looked_at = sum(len(line) for line, _ in joining._Finder(lines, occupants).pairs(10**6))
    met = len(join(lines, occupants))
    # the wide band, the one or two rows of 10 kHz and the spots of about 6 kHz: all met but some rows beside
    assert 60 <= met <= looked_at <= met + 4 * len(lines)


@pytest.mark.parametrize("size", [1, 5, 40, 10**6])
def test_pairs_come_in_lots_of_about_the_size_asked_for(size: int) -> None:
    """Sorted by line, each pair once; a lot is larger only where one line alone is."""
    rng = np.random.default_rng(4)
    lines, occupants = random_lines(rng, 30, 1), connect.occupants_of(random_stations(rng, 20))
    finder = joining._Finder(lines, occupants)
    whole = [pair for lot in finder.pairs(10**9) for pair in zip(*(c.tolist() for c in lot), strict=True)]
    lots = [list(zip(*(c.tolist() for c in lot), strict=True)) for lot in finder.pairs(size)]
    assert sorted(pair for lot in lots for pair in lot) == sorted(set(whole))
    assert len(whole) == len(set(whole)) > 60
    for lot in lots:
        assert lot
        assert [line for line, _ in lot] == sorted(line for line, _ in lot)
        assert len(lot) <= size or len({line for line, _ in lot}) == 1


def test_lots_are_no_smaller_than_they_need_be() -> None:
    """Two lots of one class of width that follow each other would not have fitted into one."""
    rng = np.random.default_rng(5)
    lines = random_lines(rng, 50, 1)
    occupants = connect.occupants_of([(hz, hz) for hz in range(1, 300, 3)])
    lots = [lot[0] for lot in joining._Finder(lines, occupants).pairs(40)]
    assert len(lots) > 5
    for one, other in pairwise(lots):
        assert len(one) + np.count_nonzero(other == other[0]) > 40


def test_the_order_of_lines_is_the_callers() -> None:
    """Hits name the lines as they were given, whatever order they are worked in."""
    rng = np.random.default_rng(6)
    lines, occupants = random_lines(rng, 40, 2), connect.occupants_of(random_stations(rng, 12))
    backwards = np.arange(len(lines))[::-1]
    expected = {
        (len(lines) - 1 - line, o): where for (line, o), where in found_by(join(lines, occupants)).items()
    }
    assert found_by(join(lines.take(backwards), occupants)) == expected


def test_a_need_changes_no_stretch() -> None:
    """What is strong enough is received where it would be without asking."""
    rng = np.random.default_rng(8)
    lines, stations = random_lines(rng, 40, 2), random_stations(rng, 15)
    needy = lines.replace(need_dbm=rng.uniform(-60, -40, len(lines)))
    level = rng.uniform(-60, -40, len(stations))
    occupants = connect.occupants_of(stations, level.tolist())
    everything = found_by(join(needy, occupants))
    expected = {
        pair: where for pair, where in everything.items() if level[pair[1]] >= needy.need_dbm[pair[0]]
    }
    assert 0 < len(expected) < len(everything)
    assert found_by(join(needy, occupants, strong_enough=True)) == expected

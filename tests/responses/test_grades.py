"""Grades and tops against every whole hertz of the dial, the margin worked out at each.

What is tried is the search: which hertz is looked at, where a grade changes, where a stretch is
loudest. The levels themselves are held in test_engine_levels.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from spurplan.receiver.chain import compile_chains
from spurplan.receiver.description import Receiver
from spurplan.responses import curves, grades
from spurplan.responses.curves import Curve, look, points_of, with_points
from spurplan.responses.grades import Graded, grade_hits
from spurplan.responses.join import Hits, join
from spurplan.responses.lines import enumerate_lines
from tests.oracle import connect, exact, plain, sets

ORDERS = {1: (3, 3), 2: (2, 2), 3: (1, 1), 4: (1, 1)}
ROUTES = {n: exact.routes(n, *orders) for n, orders in ORDERS.items()}
AUDIBLE_DB, STRONG_DB = -2.0, 7.5
# How far a top, and so a threshold that only just reaches it, may be missed: at the frequencies of real
# sets, and at some kHz, where tops a few hertz wide stand beside each other between the points looked at.
NEAR_DB, NEAR_SMALL_DB = 2e-3, 0.1
Case = tuple[Curve, Hits]


def case(seed: int, widest: int | None = None) -> Case:
    """Return a dressed set's curve and hits: a few thousand hertz of dial, at some MHz or at some kHz.

    With a widest dial, at some MHz and that wide.
    """
    rng = np.random.default_rng(seed)
    scale, dials = ((20_000_000, 4_000), (6_000, 1_500))[seed % 2]
    if widest:
        scale, dials = 20_000_000, widest
    kind = ("single", "double", "converter")[seed % 3]
    made = sets.dressed(rng, sets.receiver(rng, kind, dials=dials, scale=scale))
    made["range"] = made["range"][:1]
    model = Receiver.from_dict(made)
    (chains,) = compile_chains([(model, model.ranges[0])])
    orders = ORDERS[chains.conversions]
    stations = sets.occupants(rng, plain.chains(made), ROUTES, 12)
    loudest = rng.uniform(-60, -10)
    level = rng.uniform(loudest - 50, loudest, len(stations)).tolist()
    occupants = connect.occupants_of(stations, level, (rng.random(len(stations)) < 0.3).tolist())
    lines = enumerate_lines(chains, *orders, span_hz=occupants.reach)
    hits = join(lines, occupants)
    return Curve(chains, lines, occupants), hits.take(rng.permutation(len(hits))[:60])


def graded_by(curve: Curve, hits: Hits, **options: Any) -> Graded:
    thresholds = {"strong_at_db": STRONG_DB, "audible_at_db": AUDIBLE_DB}
    return grade_hits(curve.chains, curve.lines, curve.occupants, hits, **(thresholds | options))


def every_hertz(curve: Curve, hits: Hits, number: int) -> tuple[Any, Any, Any]:
    """Return the dial, the heard level and the margin of one hit at every hertz of its stretch."""
    dial = np.arange(hits.dial_low_hz[number], hits.dial_high_hz[number] + 1)
    line, occupant = (np.full(len(dial), getattr(hits, name)[number]) for name in ("line", "occupant"))
    heard, floor = curve.heard_and_bar(line, occupant, dial)
    return dial, heard, heard - floor


def thresholds_across(rng: np.random.Generator, margin: Any) -> tuple[float, float]:
    """Return two thresholds that a curve crosses, often just below its top; levels met exactly, too."""
    least, span = margin.min(), np.ptp(margin)
    part = np.sort(rng.choice([0.02, 0.3, 0.7, 0.95, 0.999], 2, replace=False))
    audible, strong = (least + part * span).tolist()
    return (audible, strong) if rng.random() < 0.7 else (float(rng.choice(margin)), float(margin.max()))


@pytest.mark.parametrize("seed", range(24))
def test_stretches_of_one_grade_are_those_of_every_hertz(seed: int) -> None:
    """Each hertz stands in one stretch, with its own grade; what is quoted of it is true there."""
    rng = np.random.default_rng(seed)
    curve, hits = case(seed)
    near_db = NEAR_SMALL_DB if seed % 2 else NEAR_DB
    for number in range(min(20, len(hits))):
        dial, heard, margin = every_hertz(curve, hits, number)
        thresholds = thresholds_across(rng, margin)
        one = hits.take(slice(number, number + 1))
        graded = graded_by(curve, one, audible_at_db=thresholds[0], strong_at_db=thresholds[1])
        low, high = graded.dial_low_hz - dial[0], graded.dial_high_hz - dial[0]
        assert (low[0], high[-1]) == (0, len(dial) - 1)
        assert np.array_equal(low[1:], high[:-1] + 1)
        assert (graded.grade[1:] != graded.grade[:-1]).all()
        grade = sum((margin >= threshold).astype(int) for threshold in thresholds)
        off = np.flatnonzero(grade != np.repeat(graded.grade, high - low + 1))
        assert np.abs(margin[off, None] - thresholds).min(axis=1).max(initial=0.0) < near_db
        assert len(off) <= 3
        assert (graded.line == one.line).all()
        assert (graded.occupant == one.occupant).all()
        at = graded.loudest_dial_hz - dial[0]
        assert (low <= at).all()
        assert (at <= high).all()
        assert graded.heard_dbm == pytest.approx(heard[at], abs=1e-9)
        assert graded.margin_db == pytest.approx(margin[at], abs=1e-9)
        assert (graded.antenna_dbm == curve.occupants.level_dbm[one.occupant]).all()
        assert graded.rejection_db == pytest.approx(graded.antenna_dbm - heard[at], abs=1e-9)
        for k in np.flatnonzero(graded.grade):
            inside = heard[low[k] : high[k] + 1]
            assert heard[at[k]] >= inside.max() - near_db
            if np.ptp(inside) == 0:
                assert at[k] == low[k], "of a flat stretch the lowest hertz"


@pytest.mark.parametrize("seed", [1, 9, 14])
def test_many_hits_are_cut_as_each_alone(seed: int) -> None:
    """Their stretches stand in the order of the hits, each as if there were no other."""
    curve, hits = case(seed)
    margins = np.concatenate([every_hertz(curve, hits, number)[2] for number in range(len(hits))])
    audible, strong = np.quantile(margins, [0.4, 0.8]).tolist()
    options = {"audible_at_db": audible, "strong_at_db": strong}
    alone = [graded_by(curve, hits.take(slice(n, n + 1)), **options) for n in range(len(hits))]
    together = graded_by(curve, hits, **options)
    assert len(together) > len(hits)
    for name in Graded.column_names:
        one_by_one = np.concatenate([getattr(graded, name) for graded in alone])
        assert getattr(together, name) == pytest.approx(one_by_one, abs=NEAR_DB)


@pytest.mark.parametrize(
    "knobs",
    [
        {"HITS_AT_ONCE": 1},
        {"HITS_AT_ONCE": 7},
        {"MANY": 0},
        {"PARTS": 3},
        {"PARTS": 40},
    ],
)
def test_how_the_search_is_cut_up_changes_no_stretch(
    knobs: dict[str, int], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Hits at once, parts of a span: the same stretches, the same grades, tops as high."""
    curve, hits = case(16)
    expected = graded_by(curve, hits)
    for name, value in knobs.items():
        monkeypatch.setattr(grades, name, value)
    found = graded_by(curve, hits)
    for name in ("line", "occupant", "dial_low_hz", "dial_high_hz", "grade", "antenna_dbm"):
        assert np.array_equal(getattr(found, name), getattr(expected, name))
    heard = found.grade > 0
    assert found.heard_dbm[heard] == pytest.approx(expected.heard_dbm[heard], abs=NEAR_DB)


def test_buried_stretches_are_kept_or_left_out() -> None:
    """Left out, the others stay as they are, in their order."""
    curve, hits = case(16)
    everything, heard = graded_by(curve, hits), graded_by(curve, hits, keep_buried=False)
    assert (everything.grade == 0).any()
    assert (heard.grade > 0).any()
    above = everything.take(everything.grade > 0)
    for name in Graded.column_names:
        assert np.array_equal(getattr(above, name), getattr(heard, name))


def test_what_is_below_its_lines_need_is_one_buried_stretch() -> None:
    """Not looked into: the whole hit, quoted at the loudest of its points; the need itself is enough."""
    curve, hits = case(4)
    options = {"audible_at_db": -900.0, "strong_at_db": -800.0}
    level = curve.occupants.level_dbm[hits.occupant[0]]
    for need, hopeless in ((level, False), (np.nextafter(level, 0.0), True)):
        lines = curve.lines.replace(need_dbm=np.full(len(curve.lines), need))
        needy, one = replace(curve, lines=lines), hits.take(slice(0, 1))
        graded = graded_by(needy, one, **options)
        assert (graded.grade[0], len(graded)) == (0 if hopeless else 2, 1)
        assert (graded.dial_low_hz[0], graded.dial_high_hz[0]) == (one.dial_low_hz[0], one.dial_high_hz[0])
        assert len(graded_by(needy, one, keep_buried=False, **options)) == (0 if hopeless else 1)


def test_what_may_be_heard_is_looked_at_on_more_points(monkeypatch: pytest.MonkeyPatch) -> None:
    """Few points for what is hopeless by its need; all of them for the others."""
    curve, hits = case(1)
    asked = {}

    def looked_at(curve: Curve, part: Hits, *, few: bool) -> Any:
        asked[few] = asked.get(few, 0) + len(part)
        return points_of(curve, part, few=few)

    monkeypatch.setattr(grades, "points_of", looked_at)
    need = np.where(np.arange(len(curve.lines)) % 2, np.inf, -np.inf)
    graded_by(replace(curve, lines=curve.lines.replace(need_dbm=need)), hits)
    hopeless = int((hits.line % 2).sum())
    assert 0 < hopeless < len(hits)
    assert asked == {True: hopeless, False: len(hits) - hopeless}
    assert len(points_of(curve, hits, few=False)) > 1.2 * len(points_of(curve, hits, few=True))


def test_strong_from_10_db_and_audible_from_0_db_unless_asked_otherwise() -> None:
    """And buried stretches are kept."""
    curve, hits = case(16)
    plainly = grade_hits(curve.chains, curve.lines, curve.occupants, hits)
    said = graded_by(curve, hits, strong_at_db=10.0, audible_at_db=0.0, keep_buried=True)
    assert np.array_equal(plainly.grade, said.grade)
    margin = np.where(plainly.grade > 0, plainly.margin_db, np.nan)
    assert (plainly.grade[margin >= 10.0] == 2).all()
    # the loudest of this set, of first order in the signal, brought to either side of the threshold
    best = int(np.nanargmax(margin))
    line, occupant = plainly.line[best], plainly.occupant[best]
    assert np.abs(curve.lines.steps[line, :, 1]).prod() == 1
    one = hits.take(np.flatnonzero((hits.line == line) & (hits.occupant == occupant)))
    for at_db, grade in ((9.99, 1), (10.01, 2), (0.01, 1), (-0.01, 0)):
        level = curve.occupants.level_dbm + (at_db - margin[best])
        occupants = curve.occupants.replace(level_dbm=level)
        assert grade_hits(curve.chains, curve.lines, occupants, one).grade.max() == grade


class Hills:
    """A curve of straight slopes, 6 millidecibels a hertz, up to some tops; -3 dB between them."""

    def __init__(self, tops: dict[int, float]) -> None:
        self.tops = tops

    def heard(self, line: Any, occupant: Any, dial_hz: Any) -> Any:
        hills = [level - 0.006 * np.abs(dial_hz - top) for top, level in self.tops.items()]
        return np.maximum(-3.0, np.max(hills, axis=0))


@pytest.mark.parametrize("many", [grades.MANY, 0], ids=["by ninths", "by thirds"])
@pytest.mark.parametrize("first", [0, 2])
@pytest.mark.parametrize(
    ("tops", "loudest"),
    [
        # the highest point looked at stands on the lower of two hills
        *(({300: 0.0, hz: 0.2}, hz) for hz in range(630, 671, 5)),
        *(({700: 0.0, hz: 0.2}, hz) for hz in range(330, 371, 5)),
        ({300: 0.0, 500: 0.0, 650: 0.2}, 650),
        # between the first two points, between the last two, on either end
        *(({hz: 0.0}, hz) for hz in (0, 1, 2, 47, 50, 53, 98, 947, 950, 953, 998, 999, 1_000)),
    ],
)
def test_the_loudest_hertz_is_found_between_the_points_looked_at(
    tops: dict[int, float], loudest: int, first: int, many: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """To the hertz, wherever the hill stands, with other hits before and behind."""
    monkeypatch.setattr(grades, "MANY", many)
    curve: Any = Hills(tops)
    dial = np.tile(np.arange(0, 1_001, 100), 3)
    hit = np.repeat(np.arange(3), 11)
    heard = curve.heard(hit, hit, dial)
    heard[hit != first] -= 20.0
    seen = curves.Samples(hit, dial, heard, np.zeros(len(hit)))
    zero = np.zeros(1, dtype=np.int64)
    one = Hits(zero, zero, zero, zero + 1_000)
    found = grades._loudest(curve, one, seen, *grades._highest(seen, 3), np.array([first]))
    assert found.tolist() == [loudest]


def test_no_hits_have_no_stretches() -> None:
    """Nothing to cut, and answers put together in their order."""
    curve, hits = case(5)
    assert len(graded_by(curve, hits.take(slice(0, 0)))) == 0
    assert {name: getattr(Graded.concat([]), name).shape for name in Graded.column_names} == dict.fromkeys(
        Graded.column_names, (0,)
    )
    none = hits.take(slice(0, 0))
    nothing = look(curve, none, points_of(curve, none, few=True))
    assert [found.shape for found in grades._highest(nothing, 0)] == [(0,), (0,)]
    graded = graded_by(curve, hits)
    lots = [graded.take(slice(0, 3)), graded.take(slice(3, 5)), graded.take(slice(5, None))]
    whole = Graded.concat(lots)
    assert Graded.concat(lots[:1]) is lots[0]
    for name in Graded.column_names:
        assert np.array_equal(getattr(whole, name), getattr(graded, name))


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("few", [True, False])
def test_points_looked_at_are_of_the_stretch_once_and_in_order(seed: int, few: bool) -> None:
    """Both ends, the middle where there is one; few where few are asked for."""
    curve, hits = case(seed)
    key = points_of(curve, hits, few=few)
    assert (np.diff(key) > 0).all()
    hit, dial = key >> curves.DIAL_BITS, key & curves.DIAL_MASK
    assert np.array_equal(np.unique(hit), np.arange(len(hits)))
    assert (dial >= hits.dial_low_hz[hit]).all()
    assert (dial <= hits.dial_high_hz[hit]).all()
    low, high = hits.dial_low_hz, hits.dial_high_hz
    for ends in (low, high, low + (high - low) // 2):
        assert np.isin(curves.key_of(np.arange(len(hits)), ends), key).all()


def bends_of(curve: Curve, hits: Hits, number: int, dial: Any) -> list[Any]:
    """Return what is zero where the curve of a hit may bend, each at every hertz of its stretch."""
    chains, lines = curve.chains, curve.lines
    line = np.full(len(dial), hits.line[number])
    candidate = lines.candidate[line]
    edges = [float(getattr(curve.occupants, name)[hits.occupant[number]]) for name in ("low_hz", "high_hz")]
    out, walked = [], [np.full(len(dial), edge) for edge in edges]
    for point in range(chains.conversions):
        wanted = chains.wanted_hz(point, candidate, dial).astype(float)
        p, q, d = (getattr(lines, name)[point][line] for name in "pqd")
        centre = (p * dial + q) / d
        if point == 0:
            out += [centre - edge for edge in edges]
        for selectivity in chains.selectivity[point]:
            for x in (centre, *walked):
                out += [x - u * wanted for u in selectivity.corners_ratio()]
                out += [x - place for place in selectivity.corners_x()]
                out += [x - wanted - offset for offset in selectivity.corners_offset()]
            out += [wanted - place for place in selectivity.corners_wanted()]
        lo, rf = lines.steps[hits.line[number], point]
        walked = [lo * chains.oscillator_hz(point, candidate, dial) + rf * x for x in walked]
    out += [dial - float(place) for floor in chains.floor for place in floor.corners()]
    return out


@pytest.mark.parametrize("seed", range(12))
def test_every_bend_is_looked_at(seed: int) -> None:
    """Wherever signal, station or wanted frequency pass what bends a curve, a hertz beside is looked at."""
    curve, hits = case(seed, widest=6_000_000)
    passed = 0
    for number in range(len(hits)):
        dial = np.unique(np.linspace(hits.dial_low_hz[number], hits.dial_high_hz[number], 4_001).astype(int))
        key = points_of(curve, hits.take(slice(number, number + 1)), few=True) & curves.DIAL_MASK
        for bend in bends_of(curve, hits, number, dial):
            at = np.flatnonzero((bend[:-1] > 0) != (bend[1:] > 0))
            between = np.searchsorted(key, dial[at + 1], side="right") - np.searchsorted(key, dial[at])
            assert (between > 0).all()
            passed += len(at)
    assert passed > 5


@pytest.mark.long
def test_both_hertz_beside_a_bend_are_looked_at() -> None:
    """The last one before it and the first one behind it, wherever both are of the stretch."""
    passed = 0
    for seed in range(24):
        curve, hits = case(seed)
        for number in range(len(hits)):
            dial = np.arange(hits.dial_low_hz[number], hits.dial_high_hz[number] + 1)
            key = points_of(curve, hits.take(slice(number, number + 1)), few=True) & curves.DIAL_MASK
            for bend in bends_of(curve, hits, number, dial):
                clear = (np.abs(bend[:-1]) > 1e-4) & (np.abs(bend[1:]) > 1e-4)
                at = np.flatnonzero(((bend[:-1] > 0) != (bend[1:] > 0)) & clear)
                assert np.isin(dial[[at, at + 1]], key).all()
                passed += len(at)
    assert passed > 50


def test_where_a_q_list_bends_behind_a_crystal_is_looked_at() -> None:
    """Dial less 48 MHz is tuned behind the first mixer: Q given for 2.5 and 3.5 MHz bends there."""
    behind = {"selectivity": [{"circuits": 1, "q": [(2_500_000, 60.0), (3_500_000, 80.0)]}]}
    model = Receiver.from_dict({
        "name": "Tunable IF",
        "conversions": [
            {"crystal_hz": 48_000_000, "mixer": {"family": "jfet"}, **behind},
            {"injection": "high", "if_hz": 455_000, "filter": {"bandwidth_hz": 6_000}},
        ],
        "ranges": [{"name": "1", "low_hz": 50_000_000, "high_hz": 52_000_000}],
    })  # fmt: skip
    (chains,) = compile_chains([(model, model.ranges[0])])
    occupants = connect.occupants_of([(44_000_000, 54_000_000)], [-50.0], [False])
    lines = enumerate_lines(chains, 1, 1, span_hz=occupants.reach)
    hits = join(lines, occupants)
    points = points_of(Curve(chains, lines, occupants), hits, few=True)
    for number in np.flatnonzero(hits.dial_high_hz - hits.dial_low_hz > 1_900_000).tolist():
        own = set((points[points >> curves.DIAL_BITS == number] & curves.DIAL_MASK).tolist())
        assert {50_500_000, 51_500_000} <= own


def test_a_wide_stretch_is_looked_at_on_more_even_points_than_a_narrow_one() -> None:
    """Wide is more than so many widths of what is received; the even points are there whatever bends."""
    seen = {True: 0, False: 0}
    for seed in range(8):
        curve, hits = case(seed, widest=400_000)
        points = points_of(curve, hits, few=False)
        span = hits.dial_high_hz - hits.dial_low_hz
        narrow = span <= curves.NARROW_STRETCH * curve.lines.reach_hz[hits.line]
        for number in range(len(hits)):
            own = set((points[points >> curves.DIAL_BITS == number] & curves.DIAL_MASK).tolist())
            parts = (curves.FEW_POINTS if narrow[number] else curves.EVEN_POINTS) - 1
            low, wide = int(hits.dial_low_hz[number]), int(span[number])
            assert {low + wide * k // parts for k in range(parts + 1)} <= own
            seen[bool(narrow[number])] += wide > 1_000
    assert min(seen.values()) > 10, "both kinds were met"


def test_points_there_already_are_not_looked_at_again() -> None:
    """The samples stay in their order, each point once, the new ones in their places."""
    curve, hits = case(3)
    key = points_of(curve, hits, few=False)
    some = look(curve, hits, key[::2])
    whole = with_points(curve, hits, some, np.concatenate([key[::-1], key]))
    expected = look(curve, hits, key)
    for name in expected.column_names:
        assert np.array_equal(getattr(whole, name), getattr(expected, name))
    assert with_points(curve, hits, whole, key[3:9]) is whole

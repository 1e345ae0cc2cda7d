"""The enumeration of lines, in exact fractions: which products, which points, which are dropped, and when.

Chains come from small sets at random (tests/oracle/sets.py) or are made up of numbers at
the end of what 62 bits hold. What a budget may drop is asked of budgets made up here.
"""

from __future__ import annotations

import itertools
from collections import Counter
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from spurplan.errors import Refused
from spurplan.receiver.chain import Chains, compile_chains
from spurplan.receiver.description import Receiver
from spurplan.receiver.file.reading import read_receiver
from spurplan.responses import lines as enumeration
from spurplan.responses.lines import (
    Lines,
    check_size,
    clip_positive,
    enumerate_lines,
    lines_of_routes,
    product_steps,
)
from tests.oracle import exact, plain, sets

ORDERS = {1: (4, 3), 2: (3, 2), 3: (2, 1), 4: (1, 1)}
HIGHEST_HZ = 30_000_000_000
LARGEST = 2**62
Row = tuple[Any, ...]


def compiled(made: dict[str, Any]) -> list[Chains]:
    """Return the chains of all ranges of a receiver file's contents."""
    model = Receiver.from_dict(made)
    return list(compile_chains([(model, position) for position in model.ranges]))


def rows_of(lines: Lines) -> Counter[Row]:
    """Return the lines as rows that compare, in no order."""
    columns = [np.moveaxis(getattr(lines, name), 1, 0) if name in "pqrd" else getattr(lines, name)
               for name in lines.column_names]  # fmt: skip
    return Counter(
        tuple(str(np.asarray(value).tolist()) for value in row) for row in zip(*columns, strict=True)
    )


def routes_of(lines: Lines) -> list[exact.Route]:
    return [tuple((lo, rf) for lo, rf in steps) for steps in lines.steps.tolist()]


@pytest.mark.parametrize(("lo_order", "rf_order"), [(0, 1), (1, 1), (3, 2), (10, 3)])
def test_products_that_can_be_positive_simplest_first(lo_order: int, rf_order: int) -> None:
    """Every one once; by |lo| + |rf|, then lo, then rf."""
    found = [(lo, rf) for lo, rf in product_steps(lo_order, rf_order).tolist()]
    expected = exact.steps(lo_order, rf_order)
    assert found == sorted(expected, key=lambda step: (abs(step[0]) + abs(step[1]), *step))


@pytest.mark.parametrize("kind", sets.KINDS)
def test_a_line_is_what_its_route_makes_of_a_frequency(kind: str) -> None:
    """At each point, the frequency there is the line's, worked through the mixers in fractions."""
    rng = np.random.default_rng(1)
    made = sets.receiver(rng, kind)
    for chains in compiled(made):
        ranges = {chain.name: chain for chain in plain.chains(made)}
        lines = enumerate_lines(chains, *ORDERS[chains.conversions])
        for line in rng.integers(0, len(lines), 60).tolist():
            chain = ranges[chains.names[chains.name_code[lines.candidate[line]]]]
            dial = int(rng.integers(chain.low_hz, chain.high_hz + 1))
            delta = Fraction(int(rng.integers(-9, 10)), 2)
            p, q, r, d = (getattr(lines, name)[:, line].tolist() for name in "pqrd")
            assert min(d) > 0
            at = [(p[i] * dial + q[i] + r[i] * delta) / Fraction(d[i]) for i in range(len(p))]
            behind = exact.walk(chain, dial, routes_of(lines)[line], at[0])
            assert at[1:] == behind[:-1]
            assert behind[-1] == chain.if_hz + delta
            assert lines.at_hz(np.array([dial]))[line] == pytest.approx(
                float((p[0] * dial + q[0]) / Fraction(d[0]))
            )
            for point in range(len(p)):
                width = Fraction(abs(r[point]) * chain.bandwidth_hz, 2 * d[point])
                assert lines.slack_hz(point)[line] == pytest.approx(float(width), rel=1e-15)
                centre = (p[point] * dial + q[point]) / Fraction(d[point])
                assert lines.at_hz(np.array([dial]), point)[line] == pytest.approx(float(centre), rel=1e-15)


def test_doubtful_lines_are_marked() -> None:
    """Tight where some product is not positive over its whole passband at an end of the dial."""
    marked = Counter[bool]()
    for kind, seed in itertools.product(sets.KINDS, range(12)):
        for chains in compiled(sets.receiver(np.random.default_rng(seed), kind, dials=400)):
            lines = enumerate_lines(chains, *ORDERS[chains.conversions])
            for line in range(len(lines)):
                p, q, r = (getattr(lines, name)[1:, line].tolist() for name in "pqr")
                reach = int(lines.reach_hz[line])
                ends = (int(lines.dial_low_hz[line]), int(lines.dial_high_hz[line]))
                products = itertools.product(range(len(p)), ends)
                least = min((2 * (p[i] * d + q[i]) - abs(r[i]) * reach for i, d in products), default=1)
                # a line once marked may have had its dial narrowed afterwards: then it is marked in vain
                if least <= 0:
                    assert lines.tight[line]
                marked[bool(lines.tight[line])] += 1
    assert min(marked[True], marked[False]) > 10


@pytest.mark.parametrize(("oscillator_hz", "top"), [(1_002, 1.5), (1_003, 0.5), (1_004, -0.5)])
def test_half_a_hertz_of_a_product_is_a_product(oscillator_hz: int, top: float) -> None:
    """A passband of 7 Hz on 1000 Hz behind an oscillator: the product ahead is as far as it is above zero."""
    chains = compiled(sets.receiver(np.random.default_rng(0), "double"))[-1].take(np.zeros(1, dtype=np.int64))
    chains = chains.replace(
        osc_a=np.array([[1, 0]]),
        osc_b=np.array([[50_000, oscillator_hz]]),
        osc_h=np.ones((1, 2), dtype=np.int64),
        if_hz=np.array([1_000]),
        bandwidth_hz=np.array([7]),
    )
    lines = enumerate_lines(chains, 2, 2)
    through = (lines.steps[:, 1] == [1, 1]).all(axis=1)
    assert through.any() == (top > 0)
    assert lines.tight[through].all()
    assert (lines.at_hz(chains.low_hz, 1)[through] + lines.slack_hz(1)[through] == top).all()


def test_a_product_that_just_reaches_zero_is_doubtful() -> None:
    """6 Hz around 3 Hz: nothing at the lower edge of the passband, which is no product."""
    chains = compiled(sets.receiver(np.random.default_rng(0), "double"))[-1].take(np.zeros(1, dtype=np.int64))
    ones = np.ones((1, 2), dtype=np.int64)
    chains = chains.replace(
        osc_a=ones * [1, 0], osc_b=ones * [50_000, 997], osc_h=ones, if_hz=np.array([1_000])
    )
    for bandwidth_hz, doubtful in ((6, True), (5, False)):
        lines = enumerate_lines(chains.replace(bandwidth_hz=np.array([bandwidth_hz])), 2, 2)
        through = (lines.steps[:, 1] == [1, 1]).all(axis=1)
        assert through.any()
        assert (lines.tight[through] == doubtful).all()


@pytest.mark.parametrize("span_hz", [(40_000, 41_000), (1, 9), (100_000, 150_000)])
def test_a_line_is_there_where_its_sweep_meets_the_span(span_hz: tuple[int, int]) -> None:
    """Swept over a wide dial, a line is kept when some place of it lies in the span, the edges too."""
    (chains,) = compiled(sets.receiver(np.random.default_rng(2), "single"))
    chains = chains.take(np.zeros(1, dtype=np.int64))
    ends = (np.full(1, 100), np.full(1, 100_000))
    swept = chains.tuned_to(*ends)
    every = lines_of_routes(swept.take(np.zeros(len(exact.steps(4, 3)), dtype=np.int64)),
                            np.array(exact.steps(4, 3))[:, None])  # fmt: skip
    at = np.sort(np.stack([every.at_hz(end) for end in ends]), axis=0)
    low, high = at[0] - every.slack_hz(), at[1] + every.slack_hz()
    expected = every.take((high > 0) & (high >= span_hz[0]) & (low <= span_hz[1]))
    found = enumerate_lines(swept, 4, 3, span_hz=span_hz)
    assert sorted(routes_of(found)) == sorted(routes_of(expected))
    assert 0 < len(found) < len(every)


def test_a_line_that_touches_the_span_with_its_edge_is_kept() -> None:
    """The edge of the passband at the end of its sweep belongs to the line."""
    (chains,) = compiled(sets.receiver(np.random.default_rng(2), "single"))
    chains = chains.take(np.zeros(1, dtype=np.int64)).replace(bandwidth_hz=np.array([6]))
    lines = enumerate_lines(chains, 4, 1)
    ends = np.stack([lines.at_hz(lines.dial_low_hz), lines.at_hz(lines.dial_high_hz)])
    low = (ends.min(axis=0) - lines.slack_hz()).tolist()
    high = (ends.max(axis=0) + lines.slack_hz()).tolist()
    touched = 0
    for route, least, most in zip(routes_of(lines), low, high, strict=True):
        for edge, span_hz in ((least, (1, int(least))), (most, (int(most), HIGHEST_HZ))):
            if edge == int(edge) and edge >= 1:
                assert route in routes_of(enumerate_lines(chains, 4, 1, span_hz=span_hz))
                touched += 1
    assert touched > 5


def test_a_budget_is_told_where_on_the_air_a_line_is() -> None:
    """From the lowest to the highest frequency that it sweeps, passband and all."""

    class Told(Gate):
        places: list[Any]

        def on_the_air(self, need_dbm: Any, low_hz: Any, high_hz: Any) -> Any:
            self.places += zip(low_hz.tolist(), high_hz.tolist(), strict=True)
            return super().on_the_air(need_dbm, low_hz, high_hz)

    (chains,) = compiled(sets.receiver(np.random.default_rng(2), "single"))
    budget = Told()
    budget.places = []
    lines = enumerate_lines(chains, 3, 3, budget=budget)
    at = np.sort(np.stack([lines.at_hz(lines.dial_low_hz), lines.at_hz(lines.dial_high_hz)]), axis=0)
    slack = lines.slack_hz()
    assert (at[0] < at[1]).any()
    assert sorted(budget.places) == sorted(zip(at[0] - slack, at[1] + slack, strict=True))


def test_no_line_of_a_single_conversion_is_doubtful() -> None:
    """There is no product but the IF."""
    (chains,) = compiled(sets.receiver(np.random.default_rng(2), "single"))
    assert not enumerate_lines(chains, 4, 3).tight.any()


@pytest.mark.parametrize("chunk", [1, 30, 80, 1_000])
def test_how_the_work_is_cut_up_changes_nothing(chunk: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Many candidates in few pieces or many: the same lines, candidates of the wanted width each."""
    for chains in compiled(sets.receiver(np.random.default_rng(5), "converter")):
        many = chains.take(np.zeros(7, dtype=np.int64)).tuned_to(np.arange(700, 707), np.arange(705, 712))
        reach = np.arange(1, 8, dtype=np.int64)
        monkeypatch.setattr(enumeration, "CHUNK", 10**9)
        whole = enumerate_lines(many, 2, 2, reach_hz=reach)
        monkeypatch.setattr(enumeration, "CHUNK", chunk)
        assert rows_of(enumerate_lines(many, 2, 2, reach_hz=reach)) == rows_of(whole)
        assert np.array_equal(whole.reach_hz, reach[whole.candidate])


def test_what_is_asked_for_unless_something_else_is() -> None:
    """Oscillator harmonics to the 10th, signal harmonics to the 3rd, from 1 Hz to 30 GHz, in the passband."""
    (chains,) = compiled(sets.receiver(np.random.default_rng(2), "single"))
    at_1_hz = chains.tuned_to(np.ones(1, dtype=np.int64), np.ones(1, dtype=np.int64))
    for some in (chains, at_1_hz):
        said = enumerate_lines(some, 10, 3, span_hz=(1, HIGHEST_HZ), reach_hz=some.bandwidth_hz)
        assert rows_of(enumerate_lines(some)) == rows_of(said)
    assert enumerate_lines(at_1_hz).is_wanted(at_1_hz).any()


def test_a_line_is_wanted_where_every_step_is() -> None:
    """One line a candidate, the steps of its plan."""
    for chains in compiled(sets.receiver(np.random.default_rng(6), "double")):
        lines = enumerate_lines(chains, 3, 2)
        wanted = lines.is_wanted(chains)
        assert wanted.sum() == len(chains)
        assert np.array_equal(lines.steps[wanted], chains.wanted_steps[lines.candidate[wanted]])


def test_lines_of_given_routes_are_those_of_the_enumeration() -> None:
    """The same points for the same steps, over the whole dial and always asked for positivity."""
    for chains in compiled(sets.receiver(np.random.default_rng(7), "converter double")):
        lines = enumerate_lines(chains, 1, 1)
        again = lines_of_routes(chains.take(lines.candidate), lines.steps)
        for name in "pqrd":
            assert np.array_equal(getattr(again, name), getattr(lines, name))
        assert np.array_equal(again.candidate, np.arange(len(lines)))
        assert np.array_equal(again.dial_low_hz, chains.low_hz[lines.candidate])
        assert np.array_equal(again.dial_high_hz, chains.high_hz[lines.candidate])
        assert np.array_equal(again.reach_hz, chains.bandwidth_hz[lines.candidate])
        assert again.tight.all()
        assert np.array_equal(again.need_dbm, np.full(len(lines), -np.inf))


def test_no_candidates_have_no_lines() -> None:
    """Of the right shapes, so that what follows need not ask."""
    (chains,) = compiled(sets.receiver(np.random.default_rng(8), "single"))[:1]
    lines = enumerate_lines(chains.take(np.zeros(0, dtype=np.int64)), 3, 2)
    assert len(lines) == 0
    assert lines.steps.shape == (0, chains.conversions, 2)
    assert lines.p.shape == (chains.conversions, 0)
    assert lines.reach_hz.shape == lines.tight.shape == lines.need_dbm.shape == (0,)


@pytest.mark.parametrize("strict", [True, False])
def test_clipping_to_the_positive_leaves_just_what_is(strict: bool) -> None:
    """Every small slope, offset and stretch tried."""
    stretches = [(low, high) for low in range(-3, 4) for high in range(low - 1, 4)]
    cases = np.array(
        [(s, o, *ends) for s, o, ends in itertools.product(range(-4, 5), range(-13, 14), stretches)],
        dtype=np.int64,
    )
    for (slope, offset, low, high), got in zip(
        cases.tolist(), np.stack(clip_positive(*cases.T, strict=strict), axis=1).tolist(), strict=True
    ):
        left = [d for d in range(low, high + 1) if slope * d + offset > (0 if strict else -1)]
        if left:
            assert got == [left[0], left[-1]], (slope, offset, low, high)
        else:
            assert got[0] > got[1], (slope, offset, low, high)


class Gate:
    """A budget that lets everything pass, in which single questions can be answered otherwise."""

    def __init__(self) -> None:
        self.calls: Counter[str] = Counter()

    def at_detector(self, candidate: Any) -> Any:
        return np.full(len(candidate), -100.0)

    def worth_asking(self, conversion: int, candidate: Any, need_dbm: Any, steps: Any) -> Any:
        self.calls[f"worth {conversion}"] += 1
        return np.ones(len(steps), dtype=bool)

    def through_mixer(self, conversion: int, candidate: Any, need_dbm: Any, steps: Any) -> Any:
        # what each product costs is told apart by its steps
        return need_dbm[:, None] + 10.0 ** (-3 * conversion) * (20 * steps[:, 0] + steps[:, 1])[None]

    def through_selectivity(self, point: int, lines: Lines) -> Any:
        self.calls[f"selectivity {point}"] += 1
        assert len(lines.p) == 1 or point < len(lines.p)
        return lines.need_dbm + 1e-9 * 10.0**point

    def possible_into_mixer(self, conversion: int, candidate: Any, need_dbm: Any, steps: Any) -> Any:
        return np.ones(need_dbm.shape, dtype=bool)

    def may_be_on_the_air(self, lines: Lines) -> Any:
        return np.ones(len(lines), dtype=bool)

    def possible_at(self, point: int, candidate: Any, need_dbm: Any) -> Any:
        return np.ones(len(need_dbm), dtype=bool)

    def on_the_air(self, need_dbm: Any, low_hz: Any, high_hz: Any) -> Any:
        return np.ones(len(need_dbm), dtype=bool)


def gate_cases() -> list[Chains]:
    return [c for seed in range(3) for c in compiled(sets.receiver(np.random.default_rng(seed), "double"))]


def test_a_budget_that_drops_nothing_leaves_every_line_with_what_it_needs() -> None:
    """The need at the aerial is worked through every mixer and every selectivity of the route."""
    for chains in gate_cases():
        n = chains.conversions
        plainly, budgeted = enumerate_lines(chains, 2, 2), enumerate_lines(chains, 2, 2, budget=Gate())
        assert rows_of(budgeted.replace(need_dbm=plainly.need_dbm * 1.0)) == rows_of(plainly)
        assert np.array_equal(plainly.need_dbm, np.full(len(plainly), -np.inf))
        place = 10.0 ** (-3 * np.arange(n))
        need = -100.0 + (place * (20 * budgeted.steps[:, :, 0] + budgeted.steps[:, :, 1])).sum(axis=1)
        need += 1e-9 * sum(10.0**point for point in range(n + 1))
        assert budgeted.need_dbm == pytest.approx(need, abs=1e-10)


@pytest.mark.parametrize(
    "question", ["worth_asking", "possible_into_mixer", "possible_at", "may_be_on_the_air", "on_the_air"]
)
def test_a_budget_drops_the_lines_it_says_and_no_others(question: str) -> None:
    """Each question of a budget is asked where it stands, and its answer is final."""

    class Strict(Gate):
        def worth_asking(self, conversion: int, candidate: Any, need_dbm: Any, steps: Any) -> Any:
            return (
                steps[:, 0] >= 0
                if question == "worth_asking" and conversion == 1
                else super().worth_asking(conversion, candidate, need_dbm, steps)
            )

        def possible_into_mixer(self, conversion: int, candidate: Any, need_dbm: Any, steps: Any) -> Any:
            every = super().possible_into_mixer(conversion, candidate, need_dbm, steps)
            if question == "possible_into_mixer" and conversion == 0:
                every = every & (steps[:, 1] > 0)[None]
            return every

        def possible_at(self, point: int, candidate: Any, need_dbm: Any) -> Any:
            assert point > 0
            return (
                need_dbm < -100.0
                if question == "possible_at"
                else super().possible_at(point, candidate, need_dbm)
            )

        def may_be_on_the_air(self, lines: Lines) -> Any:
            return lines.d[0] == 1 if question == "may_be_on_the_air" else super().may_be_on_the_air(lines)

        def on_the_air(self, need_dbm: Any, low_hz: Any, high_hz: Any) -> Any:
            assert (low_hz <= high_hz).all()
            return (
                high_hz >= 2_000
                if question == "on_the_air"
                else super().on_the_air(need_dbm, low_hz, high_hz)
            )

    dropped = 0
    for chains in gate_cases():
        if chains.conversions < 2:
            continue
        everything = enumerate_lines(chains, 2, 2, budget=Gate())
        first, last = everything.steps[:, 0], everything.steps[:, 1]
        ends = (everything.at_hz(everything.dial_low_hz), everything.at_hz(everything.dial_high_hz))
        after_last = 1e-9 * 110 + 1e-3 * (20 * last[:, 0] + last[:, 1])
        stays = {
            "worth_asking": last[:, 0] >= 0,
            "possible_into_mixer": first[:, 1] > 0,
            "possible_at": after_last < 0,
            "may_be_on_the_air": everything.d[0] == 1,
            "on_the_air": np.maximum(*ends) + everything.slack_hz() >= 2_000,
        }[question]
        left = enumerate_lines(chains, 2, 2, budget=Strict())
        assert rows_of(left) == rows_of(everything.take(stays))
        dropped += int((~stays).sum())
    assert dropped > 50


def at_the_end_of_62_bits(conversions: int, dial_hz: int = HIGHEST_HZ) -> Chains:
    """Return a chain of the largest frequencies there are, and oscillators that run away from the dial."""
    (small,) = [
        c
        for c in compiled(
            sets.receiver(np.random.default_rng(1), {1: "single", 2: "double", 3: "triple"}[conversions])
        )
        if c.conversions == conversions
    ][:1]
    one = small.take(np.zeros(1, dtype=np.int64))
    return one.replace(
        osc_b=np.full_like(one.osc_b, HIGHEST_HZ),
        osc_a=np.full_like(one.osc_a, {1: 1_000_000, 2: 10_000, 3: 100}[conversions]),
        osc_h=np.full_like(one.osc_h, 3),
        if_hz=np.array([HIGHEST_HZ // 2]),
        bandwidth_hz=np.array([30_000]),
        low_hz=np.array([dial_hz - 100]),
        high_hz=np.array([dial_hz]),
    )


@pytest.mark.parametrize("conversions", [1, 2, 3])
def test_chains_beyond_62_bits_are_refused_with_orders_that_fit(conversions: int) -> None:
    """What the remedy names is taken, one more is not; nothing taken leaves 62 bits anywhere."""
    chains = at_the_end_of_62_bits(conversions)
    rf_order = 2
    lo_order = 400
    with pytest.raises(Refused) as refused:
        check_size(chains, lo_order, rf_order)
    (fault,) = refused.value.faults
    assert fault.value == str(lo_order)
    assert f"and {rf_order} give numbers beyond 62 bits" in fault.rule
    fits = int(fault.remedy.split("--lo-order ")[1].split()[0])
    check_size(chains, fits, rf_order)
    with pytest.raises(Refused):
        check_size(chains, fits + 1, rf_order)
    worst = largest_met(chains, fits, rf_order)
    assert worst < LARGEST
    # nor refused long before it must be
    assert largest_met(chains, 8 * (fits + 1), rf_order) > LARGEST


def largest_met(chains: Chains, lo_order: int, rf_order: int) -> int:
    """Return the largest number that enumeration and join meet on the outermost routes."""
    reach, worst = int(chains.bandwidth_hz[0]), 0
    outermost = [(lo, rf) for lo in (-lo_order, lo_order) for rf in (-rf_order, rf_order)]
    for route in itertools.product(outermost, repeat=chains.conversions):
        p, q, r, d = 0, int(chains.if_hz[0]), 1, 1
        conditions = [(1, reach)]
        for i in range(chains.conversions - 1, -1, -1):
            lo, rf = route[i]
            a, b, h = (int(getattr(chains, name)[0, i]) for name in ("osc_a", "osc_b", "osc_h"))
            sign = 1 if rf > 0 else -1
            p, q = sign * (h * p - lo * d * a), sign * (h * q - lo * d * b)
            r, d = sign * h * r, d * h * abs(rf)
            at = 2 * max(abs(p * int(dial) + q) for dial in (chains.low_hz[0], chains.high_hz[0]))
            if i:
                conditions.append((abs(r), at))
        at += 2 * d * HIGHEST_HZ
        worst = max(worst, at + abs(r) * reach)
        if chains.conversions > 1:
            conditions.append((abs(r), at))
            worst = max(
                r_i * k_j + r_j * k_i for (r_i, k_i), (r_j, k_j) in itertools.combinations(conditions, 2)
            )
    return worst


def order_that_fits(chains: Chains, rf_order: int = 1, reach_hz: int | list[int] = 30_000) -> int:
    """Return the highest oscillator order that is not refused."""
    with pytest.raises(Refused) as refused:
        check_size(chains, 200, rf_order, np.broadcast_to(reach_hz, len(chains)))
    return int(refused.value.faults[0].remedy.split("--lo-order ")[1].split()[0])


def test_the_width_received_counts() -> None:
    """With skirts as wide as the IF is high the numbers are larger, and still within 62 bits."""
    chains = at_the_end_of_62_bits(1).replace(osc_h=np.array([[10_000_000]]))
    narrow, wide = (order_that_fits(chains, reach_hz=hz) for hz in (30_000, 30_000_000_000))
    assert wide < narrow
    two = chains.take(np.zeros(2, dtype=np.int64))
    for widths in ([30_000, 30_000_000_000], [30_000_000_000, 30_000]):
        assert order_that_fits(two, reach_hz=widths) == wide
    skirted = chains.replace(bandwidth_hz=np.array([30_000_000_000]))
    assert largest_met(skirted, wide, 1) < LARGEST < largest_met(skirted, 2 * narrow, 1)
    with pytest.raises(Refused):
        check_size(skirted, wide + 1, 1)
    with pytest.raises(Refused):
        enumerate_lines(chains, narrow, 1, reach_hz=np.array([30_000_000_000]))


@pytest.mark.parametrize("field", ["if_hz", "high_hz", "osc_a", "osc_b", "osc_h"])
@pytest.mark.parametrize("order", [(0, 1), (1, 0)])
def test_the_largest_of_many_candidates_decides(field: str, order: tuple[int, int]) -> None:
    """A small candidate beside it changes nothing, whichever comes first."""
    large = at_the_end_of_62_bits(1)
    # so that each of them weighs
    large = large.replace(osc_h=np.array([[3_000_000]]), osc_b=np.array([[10**16]]))
    both = large.take(np.zeros(2, dtype=np.int64))
    values = getattr(both, field).copy()
    values[1] = 1
    mixed = both.replace(**{field: values})
    assert order_that_fits(mixed.take(np.array(order))) == order_that_fits(large)
    check_size(mixed.take(np.array([1])), order_that_fits(large) + 1, 1)


def test_a_signal_order_alone_can_be_too_much() -> None:
    """Then no oscillator order helps, and the remedy says so."""
    with pytest.raises(Refused) as refused:
        check_size(at_the_end_of_62_bits(3), 1, 100_000)
    (fault,) = refused.value.faults
    assert fault.remedy == "use a lower --rf-order or a lower oscillator_harmonic"


def test_oscillators_of_high_frequency_count_behind_every_mixer() -> None:
    """Far above what there is, so that nothing else weighs: what is taken stays within 62 bits."""
    chains = at_the_end_of_62_bits(2)
    chains = chains.replace(osc_a=np.ones_like(chains.osc_a), osc_b=np.full_like(chains.osc_b, 10**14))
    fits = order_that_fits(chains, rf_order=2)
    assert largest_met(chains, fits, 2) < LARGEST < largest_met(chains, 8 * (fits + 1), 2)


def test_no_order_below_nothing_is_proposed() -> None:
    """Where the signal's order is too much by itself, a negative one of the oscillator would seem to fit."""
    chains = at_the_end_of_62_bits(1).replace(osc_b=np.array([[10**18]]))
    with pytest.raises(Refused) as refused:
        check_size(chains, 1, 30_000_000)
    assert refused.value.faults[0].remedy.startswith("use a lower --rf-order")


def test_no_chain_is_never_too_large() -> None:
    """Nothing to enumerate, nothing to refuse."""
    check_size(at_the_end_of_62_bits(1).take(np.zeros(0, dtype=np.int64)), 10**9, 10**9)


def dial_of(chain: exact.PlainChain, route: exact.Route, span_hz: tuple[int, int]) -> tuple[int, int] | None:
    """Return the dial settings where each point by itself can be positive, somewhere in its passband.

    None where there is none, or no place of the line lies in the span.
    """
    half = Fraction(chain.bandwidth_hz, 2)
    total = 1
    for _, rf in route:
        total *= rf
    kept, seen = [], False
    for dial in range(chain.low_hz, chain.high_hz + 1):
        zero = exact.walk(chain, dial, route, 0)[-1]
        centre = (chain.if_hz - zero) / total
        ends = [centre - half / abs(total), centre + half / abs(total)]
        places = [exact.walk(chain, dial, route, end)[:-1] for end in ends]
        if all(max(pair) > 0 for pair in zip(*places, strict=True)):
            kept.append((dial, ends))
    if not kept:
        return None
    edges = [end for _, ends in (kept[0], kept[-1]) for end in ends]
    seen = max(edges) > 0 and min(edges) <= span_hz[1] and max(edges) >= span_hz[0]
    return (kept[0][0], kept[-1][0]) if seen else None


@pytest.mark.parametrize("kind", sets.KINDS)
@pytest.mark.parametrize("span_hz", [(1, HIGHEST_HZ), (900, 4_000)])
def test_every_route_with_a_place_on_the_dial_is_a_line(kind: str, span_hz: tuple[int, int]) -> None:
    """All of them, once, each with the part of the dial where its products can be positive."""
    dials = {"single": 400, "double": 60, "converter": 60}.get(kind, 16)
    made = sets.receiver(np.random.default_rng(3), kind, dials=dials)
    ranges = {chain.name: chain for chain in plain.chains(made)}
    for chains in compiled(made):
        orders = ORDERS[chains.conversions]
        lines = enumerate_lines(chains, *orders, span_hz=span_hz)
        found = {}
        for line, route in enumerate(routes_of(lines)):
            name = chains.names[chains.name_code[lines.candidate[line]]]
            ends = (int(lines.dial_low_hz[line]), int(lines.dial_high_hz[line]))
            assert (name, route) not in found
            found[name, route] = ends
        expected = {}
        for name in {chains.names[code] for code in chains.name_code}:
            for route in exact.routes(chains.conversions, *orders):
                where = dial_of(ranges[name], route, span_hz)
                if where is not None:
                    expected[name, route] = where
        assert found == expected


def test_more_routes_than_memory_is_worth_are_refused_before_they_are_made(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Three conversions at high orders: refused with what narrows it; one route less is taken."""
    receiver = read_receiver(Path(__file__).parents[1] / "receivers" / "lockkeeper.toml")
    [chains] = compile_chains([(receiver, receiver.ranges[0])])
    made = enumeration.enumerate_lines(chains, 6, 3)
    monkeypatch.setattr(enumeration, "MOST_ROUTES", len(made) // 2)
    with pytest.raises(
        Refused, match=r"more than [0-9,]+ routes through the mixers; ask for lower --lo-order"
    ):
        enumeration.enumerate_lines(chains, 6, 3)
    monkeypatch.setattr(enumeration, "MOST_ROUTES", 10 * len(made))
    assert len(enumeration.enumerate_lines(chains, 6, 3)) == len(made)

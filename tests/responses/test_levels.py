"""What the air holds and what it takes to be heard: bounds that are never passed, and how near they are.

The levels themselves stand in test_engine_levels; here are the bounds by which routes are dropped, and
what is quoted of noise and of a station's place.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from spurplan.emissions import CARRIER, VOICE
from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import Chains, compile_chains
from spurplan.receiver.description import Receiver
from spurplan.responses.levels import (
    AirBudget,
    StrongestOnAir,
    bar_dbm,
    external_dbm_per_hz,
    floor_dbm,
    heard_dbm,
    nearest_hz,
)
from spurplan.responses.lines import Lines, enumerate_lines, product_steps
from tests.oracle import connect, sets

AUDIBLE_AT_DB = 4.0
ORDERS = {1: (4, 3), 2: (2, 2), 3: (1, 1)}
KINDS = ("single", "double", "converter", "converter double")


def compiled(made: dict[str, Any]) -> Chains:
    """Return the chain of the first range of a receiver file's contents."""
    model = Receiver.from_dict(made)
    (chains,) = compile_chains([(model, model.ranges[0])])
    return chains


def random_air(rng: np.random.Generator, count: int, top: int) -> Occupants:
    """Return spots and rows of all widths with levels of their own."""
    low = rng.integers(1, top, count)
    width = (rng.random(count) ** 6 * (top - low)).astype(np.int64) * (rng.random(count) < 0.7)
    stations = sorted(zip(low.tolist(), (low + width).tolist(), strict=True))
    return connect.occupants_of(stations, rng.uniform(-90, -10, count).tolist())


@pytest.mark.parametrize("top", [40, 16_383, 16_384, 1_000_000, 30_000_000_000])
@pytest.mark.parametrize("count", [1, 2, 9, 200])
def test_the_strongest_on_the_air_is_never_missed_and_little_overstated(top: int, count: int) -> None:
    """Not below the strongest of an interval, not above that of 1/16384 of the spectrum more."""
    rng = np.random.default_rng(count)
    occupants = random_air(rng, count, top)
    air = StrongestOnAir(occupants)
    highest = int(occupants.high_hz.max())
    beside = highest / 16_384 + 1.0
    low = np.concatenate([rng.uniform(-beside, 1.2 * highest, 400), occupants.low_hz, occupants.high_hz])
    span = rng.random(len(low)) ** 4 * highest * (rng.random(len(low)) < 0.8)
    high = np.minimum(low + span, 3e10)
    low = np.minimum(low, high)
    found = air.between(low, high)

    def strongest(first: Any, last: Any) -> Any:
        meets = (occupants.low_hz <= last[:, None]) & (occupants.high_hz >= first[:, None])
        return np.where(meets, occupants.level_dbm, -np.inf).max(axis=1)

    assert (found >= strongest(low, high)).all()
    assert (found <= strongest(low - beside, high + beside)).all()


def test_nothing_is_strongest_where_nothing_is() -> None:
    """An empty air holds nothing anywhere; nor does the spectrum below zero or above the highest occupant."""
    nobody = connect.occupants_of([(5, 5)]).take(np.zeros(0, dtype=np.int64))
    ends = np.array([-5.0, 1.0, 1e6]), np.array([-1.0, 1.0, 3e10])
    assert (StrongestOnAir(nobody).between(*ends) == -np.inf).all()
    one = StrongestOnAir(connect.occupants_of([(1_000, 2_000)], -20.0))
    ends = np.array([-5.0, 1_500.0, 2_002.0]), np.array([-1.0, 1_500.0, 3e10])
    assert one.between(*ends).tolist() == [-np.inf, -20.0, -np.inf]


def test_the_lowest_on_the_air_is_found() -> None:
    """A station in the first bin alone, asked for by that one and by several."""
    strongest = StrongestOnAir(connect.occupants_of([(5, 5), (30_000_000, 30_000_000)], [-40.0, -20.0]))
    assert strongest.bin_hz > 10
    far = 3.5 * strongest.bin_hz
    assert strongest.between(np.array([1.0, 1.0]), np.array([9.0, far])).tolist() == [-40.0, -40.0]


def test_a_carrier_is_heard_far_under_the_noise_of_the_if() -> None:
    """With an AM listener from 22 dB-Hz, 15.8 dB below the noise of a 6 kHz IF; speech from its own band."""
    chains = compiled(dressed(np.random.default_rng(1), "single", bandwidth="6000 Hz"))
    zero, dial = np.zeros(2, dtype=np.int64), np.full(2, int(chains.low_hz[0]))
    sound, width = np.array([CARRIER, VOICE], dtype=np.int8), np.array([6_000, 2_700], dtype=np.int32)
    outside = external_dbm_per_hz(chains, zero, dial)
    carrier, voice = bar_dbm(chains, zero, dial, sound, width) - outside
    assert carrier == pytest.approx(22.0)
    assert 10 * np.log10(6_000) - carrier == pytest.approx(15.8, abs=0.05)
    assert voice == pytest.approx(10 * np.log10(2_700))


def test_the_noise_of_the_set_itself_hides_no_intruder() -> None:
    """The bar of hearing is the same whatever the noise figure, which moves the floor."""
    made = dressed(np.random.default_rng(1), "single", bandwidth="6000 Hz")
    quiet, deaf = (compiled({**made, "noise_figure": figure}) for figure in ("3 dB", "60 dB"))
    zero, dial = np.zeros(1, dtype=np.int64), quiet.low_hz
    voice = np.array([VOICE], dtype=np.int8), np.array([2_700], dtype=np.int32)
    assert bar_dbm(quiet, zero, dial, *voice) == bar_dbm(deaf, zero, dial, *voice)
    assert floor_dbm(deaf, zero, dial) > floor_dbm(quiet, zero, dial) + 3


def dressed(rng: np.random.Generator, kind: str, bandwidth: str = "1 Hz") -> dict[str, Any]:
    """Return a set of one range, with all that makes levels and a last filter of a width."""
    made = sets.dressed(rng, sets.receiver(rng, kind, dials=2_000_000, scale=20_000_000))
    made["range"] = made["range"][:1]
    made["conversion"][-1]["filter"]["bandwidth"] = bandwidth
    return made


def at_one_setting(rng: np.random.Generator, kind: str) -> Chains:
    """Return a chain tuned to one hertz, its passband a hertz wide: there bounds have no room."""
    chains = compiled(dressed(rng, kind))
    dial = rng.integers(chains.low_hz, chains.high_hz + 1)
    return chains.tuned_to(dial, dial)


def budget_of(chains: Chains, occupants: Occupants, drop: bool = True) -> AirBudget:
    return AirBudget(chains, occupants, AUDIBLE_AT_DB, drop, product_steps(*ORDERS[chains.conversions]))


def margin_db(chains: Chains, lines: Lines, level_dbm: Any, dial_hz: Any, carrier: bool) -> Any:
    """Return the margin of signals on the centres of their lines."""
    every = np.arange(len(lines))
    rf = (lines.p[0] * dial_hz + lines.q[0]) / lines.d[0]
    heard = heard_dbm(chains, lines, every, rf, level_dbm, dial_hz)
    sound = np.full(len(lines), CARRIER if carrier else VOICE, dtype=np.int8)
    return heard - bar_dbm(chains, lines.candidate, dial_hz, sound, np.full(len(lines), 2_700, np.int32))


@pytest.mark.parametrize("seed", range(16))
@pytest.mark.parametrize("carrier", [False, True])
def test_what_a_line_needs_is_just_enough(seed: int, carrier: bool) -> None:
    """At one dial setting, a hertz wide: a station at the need is just heard, to a hundredth of a decibel."""
    rng = np.random.default_rng(seed)
    chains = at_one_setting(rng, KINDS[seed % len(KINDS)])
    occupants = connect.occupants_of([(1, 3 * 10**10)], 60.0, carrier)
    budget = budget_of(chains, occupants, drop=False)
    lines = enumerate_lines(chains, *ORDERS[chains.conversions], budget=budget)
    centre = lines.at_hz(lines.dial_low_hz)
    lines = lines.take(np.flatnonzero((centre > 1_000) & ~lines.tight))
    margin = margin_db(chains, lines, lines.need_dbm, lines.dial_low_hz, carrier) - AUDIBLE_AT_DB
    assert len(lines) > 3
    assert margin.max() <= 1e-9
    # off the centre by half a hertz the signal may be a little stronger, on a steep skirt
    assert np.median(margin) > -0.01
    assert np.count_nonzero(margin < -0.1) <= len(lines) // 10


@pytest.mark.parametrize("seed", range(16))
def test_nothing_weaker_than_the_need_is_heard_anywhere(seed: int) -> None:
    """On a whole dial, anywhere in the passband."""
    rng = np.random.default_rng(seed)
    made = sets.dressed(rng, sets.receiver(rng, KINDS[seed % len(KINDS)], dials=2_000_000, scale=20_000_000))
    made["range"] = made["range"][:1]
    chains = compiled(made)
    occupants = connect.occupants_of([(1, 3 * 10**10)], 60.0)
    lines = enumerate_lines(
        chains, *ORDERS[chains.conversions], budget=budget_of(chains, occupants, drop=False)
    )
    for part in (0.0, 1.0, *rng.random(6)):
        dial = lines.dial_low_hz + ((lines.dial_high_hz - lines.dial_low_hz) * part).astype(np.int64)
        off = rng.uniform(-1, 1, len(lines)) * lines.slack_hz()
        rf = np.maximum(lines.at_hz(dial) + off, 1e-3)
        heard = heard_dbm(chains, lines, np.arange(len(lines)), rf, lines.need_dbm, dial)
        voice = np.full(len(lines), VOICE, dtype=np.int8), np.full(len(lines), 2_700, dtype=np.int32)
        bar = bar_dbm(chains, lines.candidate, dial, *voice)
        positive = np.ones(len(lines), dtype=bool)
        for i in range(1, chains.conversions):
            slope = lines.r[i] * lines.d[0] / (lines.d[i] * lines.r[0])
            positive &= lines.at_hz(dial, i) + slope * off > 0
        assert (heard - bar - AUDIBLE_AT_DB)[positive].max() <= 1e-9


@pytest.mark.parametrize("seed", range(12))
def test_what_may_be_is_dropped_only_where_it_can_not_be(seed: int) -> None:
    """The lines left are those that need no more than the strongest occupant on them has."""
    rng = np.random.default_rng(seed)
    chains = at_one_setting(rng, KINDS[seed % len(KINDS)])
    every = enumerate_lines(
        chains,
        *ORDERS[chains.conversions],
        budget=budget_of(chains, connect.occupants_of([(1, 3 * 10**10)]), drop=False),
    )
    # planted on some lines, some too weak by 3 dB and some strong enough by 3 dB
    centre = every.at_hz(every.dial_low_hz)
    planted = rng.permutation(np.flatnonzero((centre > 1e5) & (every.need_dbm < 40.0)))[:20]
    ahead = rng.choice([-3.0, 3.0], len(planted))
    rows = sorted(
        (round(float(centre[i])), float(every.need_dbm[i] + by)) for i, by in zip(planted, ahead, strict=True)
    )
    occupants = connect.occupants_of([(hz, hz) for hz, _ in rows], [dbm for _, dbm in rows])
    span = occupants.reach
    measured = enumerate_lines(
        chains, *ORDERS[chains.conversions], span_hz=span, budget=budget_of(chains, occupants, drop=False)
    )
    kept = enumerate_lines(
        chains, *ORDERS[chains.conversions], span_hz=span, budget=budget_of(chains, occupants)
    )
    slack = measured.slack_hz()
    at = measured.at_hz(measured.dial_low_hz)
    strongest = StrongestOnAir(occupants).between(at - slack, at + slack)
    expected = measured.take(measured.need_dbm <= strongest)
    assert sorted(map(str, kept.steps.tolist())) == sorted(map(str, expected.steps.tolist()))
    assert 0 < len(kept) < len(measured)


@pytest.mark.parametrize("seed", range(8))
def test_a_budget_that_drops_nothing_says_yes_to_everything(seed: int) -> None:
    """Whatever is asked of it, of the shapes that are asked for."""
    rng = np.random.default_rng(seed)
    chains = at_one_setting(rng, KINDS[seed % len(KINDS)])
    steps = product_steps(*ORDERS[chains.conversions])
    occupants = connect.occupants_of([(10**6, 10**6)], -300.0)
    lenient, strict = (budget_of(chains, occupants, drop=drop) for drop in (False, True))
    lines = enumerate_lines(chains, *ORDERS[chains.conversions])
    need = np.full(len(lines), 500.0)
    needy = lines.replace(need_dbm=need)
    for budget, says in ((lenient, True), (strict, False)):
        answers = [
            budget.may_be_on_the_air(needy),
            budget.possible_at(1, lines.candidate, need),
            budget.on_the_air(need, lines.at_hz(lines.dial_low_hz), lines.at_hz(lines.dial_high_hz)),
        ]
        assert all(a.shape == (len(lines),) and (a == says).all() for a in answers)
        many = np.full((len(lines), len(steps)), 500.0)
        into = budget.possible_into_mixer(0, lines.candidate, many, steps)
        worth = budget.worth_asking(0, lines.candidate, need, steps)
        assert into.shape == many.shape
        assert worth.shape == (len(steps),)
        # what goes round a mixer by lead and chassis is not the mixer's to say
        past = (steps[:, 0] == 0) & (np.abs(steps[:, 1]) == 1) & np.isfinite(chains.pickup_db[:, 0]).any()
        assert np.array_equal(worth, past | says)
        assert np.array_equal(into, np.broadcast_to(past | says, many.shape))


def test_the_most_that_can_come_out_is_what_a_straight_set_gives() -> None:
    """No selectivity to bend it: the strongest station, its gains, the product that comes out best."""
    made = {
        "name": "open to everything",
        "conversion": [
            {"injection": "high", "if": "9 MHz", "gain": "7 dB", "mixer": {"family": "diode_ring"}},
            {"injection": "high", "if": "1 MHz", "gain": "3 dB", "filter": {"bandwidth": "6 kHz"}},
        ],
        "range": [{"name": "1", "coverage": ["20 MHz", "21 MHz"], "front_end": [], "rf_gain": "11 dB"}],
    }
    chains = compiled(made)
    budget = budget_of(chains, connect.occupants_of([(10**6, 10**6), (10**7, 10**7)], [-80.0, -70.0]))
    zero = np.zeros(1, dtype=np.int64)

    def limit(possible: Any) -> float:
        """The greatest level that is still possible, by bisection."""
        low, high = -1_000.0, 1_000.0
        for _ in range(60):
            middle = (low + high) / 2
            low, high = (middle, high) if possible(np.array([middle])) else (low, middle)
        return low

    steps = np.array([[1, 1]])
    best = [
        max(-float(mixer.least_db(abs(lo), abs(rf))) for lo, rf in product_steps(*ORDERS[2]).tolist())
        for (mixer,) in chains.mixer
    ]
    level = -70.0 + 11.0
    into = limit(lambda need: budget.possible_into_mixer(0, zero, need[:, None], steps)[0, 0])
    assert into == pytest.approx(level)
    out = limit(lambda need: budget.possible_at(1, zero, need)[0])
    assert out == pytest.approx(level + best[0])
    into = limit(lambda need: budget.possible_into_mixer(1, zero, need[:, None], steps)[0, 0])
    assert into == pytest.approx(level + best[0] + 7.0)
    out = limit(lambda need: budget.possible_at(2, zero, need)[0])
    assert out == pytest.approx(level + best[0] + 7.0 + best[1])


def open_set(front_end: list[dict[str, Any]], pickup: str | None = None) -> dict[str, Any]:
    """Return a converter of 11 dB gain with a front end, all that bends the way to its first mixer."""
    first: dict[str, Any] = {"crystal": "10 MHz", "mixer": {"family": "diode_ring"}}
    if pickup:
        first["pickup"] = pickup
    return {
        "name": "one box",
        "conversion": [first, {"injection": "high", "if": "1 MHz", "filter": {"bandwidth": "6 kHz"}}],
        "range": [
            {"name": "1", "coverage": ["20 MHz", "30 MHz"], "front_end": front_end, "rf_gain": "11 dB"}
        ],
    }


@pytest.mark.parametrize(
    "element",
    [
        {"coupled_pair": 2.5, "q": 40},
        {"passband": ["26 MHz", "40 MHz"], "order": 4},
        {"passband": ["10 MHz", "24 MHz"], "order": 4},
        {"trap": "20 MHz", "depth": "30 dB", "q": 30},
        {"trap": "30 MHz", "depth": "30 dB", "q": 30},
    ],
)
def test_what_may_come_in_counts_what_a_front_end_favours(element: dict[str, Any]) -> None:
    """Where the wanted signal is weakened most, another is the stronger for it: that level is possible."""
    chains = compiled(open_set([element]))
    budget = budget_of(chains, connect.occupants_of([(10**6, 10**9)], -70.0))
    x = np.geomspace(1e6, 1e9, 20_001)
    ends = (2e7, 3e7)
    least = min(float(chains.selectivity[0][0].loss_db(x, wanted).min()) for wanted in ends)
    assert least < -0.1
    need = np.array([[-70.0 + 11.0 - least - 1e-6]])
    assert budget.possible_into_mixer(0, np.zeros(1, dtype=np.int64), need, np.array([[1, 1]])).all()
    lines = enumerate_lines(chains, 1, 1)
    lines = lines.replace(need_dbm=np.full(len(lines), need[0, 0]))
    assert budget.may_be_on_the_air(lines)[lines.is_wanted(chains)].all()


def test_what_may_come_past_a_mixer_counts_its_gain_and_its_pickup() -> None:
    """-70 dBm, 11 dB of gain, 2 dB lost by lead and chassis: -61 dBm behind the mixer, none through it."""
    chains = compiled(open_set([{"trap": "200 MHz", "depth": "1 dB", "q": 10}], pickup="2 dB"))
    deaf = chains.replace(mixer=((_Deaf(),), chains.mixer[1]))  # type: ignore[arg-type]
    budget = budget_of(deaf, connect.occupants_of([(10**6, 10**9)], -70.0))
    zero = np.zeros(1, dtype=np.int64)
    assert budget.possible_at(1, zero, np.array([-61.0 - 1e-9])).all()
    assert not budget.possible_at(1, zero, np.array([-61.0 + 1e-9])).any()


class _Deaf:
    """A mixer that lets nothing through."""

    def least_db(self, m: Any, n: Any) -> Any:
        return np.full(np.shape(m), 500.0)


def test_a_line_needs_less_where_carriers_are_about() -> None:
    """One among the stations lowers what is needed, from the noise of speech to a tone in noise."""
    chains = compiled(open_set([]))
    zero = np.zeros(1, dtype=np.int64)
    voice, carrier, mixed = (
        float(
            budget_of(chains, connect.occupants_of([(10**6, 10**6), (10**7, 10**7)], -70.0, n)).at_detector(
                zero
            )[0]
        )
        for n in (False, True, [False, True])
    )
    assert voice - carrier == pytest.approx(10 * np.log10(2_700) - 22.0)
    assert mixed == carrier


def test_the_line_that_needs_least_says_what_is_worth_asking() -> None:
    """One easy line among hopeless ones is enough, wherever it stands."""
    chains = compiled(open_set([]))
    steps = product_steps(2, 2)
    budget = budget_of(chains, connect.occupants_of([(10**6, 10**9)], -30.0))
    for needs in ([-150.0, 500.0, 500.0], [500.0, -150.0, 500.0]):
        worth = budget.worth_asking(0, np.zeros(3, dtype=np.int64), np.array(needs), steps)
        alone = budget.worth_asking(0, np.zeros(1, dtype=np.int64), np.array([-150.0]), steps)
        assert np.array_equal(worth, alone)
        assert worth.any()


@pytest.mark.parametrize("order", [[0, 1], [1, 0]])
def test_the_candidate_that_brings_most_says_what_is_worth_asking(order: list[int]) -> None:
    """One set of gain beside one without any: what could be heard on the one is asked for."""
    one = compiled(open_set([]))
    gains = one.gain_db.repeat(2, axis=0)
    gains[1, 0] = -80.0
    both = one.take(np.zeros(2, dtype=np.int64)).replace(gain_db=gains).take(np.array(order))
    occupants = connect.occupants_of([(10**6, 10**9)], -30.0)
    steps, needs = product_steps(2, 2), np.array([-60.0, -60.0])
    worth = budget_of(both, occupants).worth_asking(0, np.arange(2), needs, steps)
    strong, weak = (
        budget_of(alone, occupants).worth_asking(0, np.zeros(1, dtype=np.int64), needs[:1], steps)
        for alone in (one, both.take(np.array([order.index(1)])))
    )
    assert not weak.any()
    assert strong.any()
    assert np.array_equal(worth, strong)


def test_a_station_anywhere_on_a_line_may_be_heard() -> None:
    """At either end of what it sweeps, on the edge of its passband, with just the level needed."""
    chains = compiled(open_set([]))
    lines = enumerate_lines(chains, 2, 2)
    ends = np.stack([lines.at_hz(lines.dial_low_hz), lines.at_hz(lines.dial_high_hz)])
    low, high = ends.min(axis=0) - lines.slack_hz(), ends.max(axis=0) + lines.slack_hz()
    sweeps = np.flatnonzero((low > 1e5) & (high - low > 1e6))
    assert len(sweeps) > 5
    for line in sweeps.tolist():
        for place in (np.ceil(low[line]), np.floor(high[line]), (low[line] + high[line]) // 2):
            occupants = connect.occupants_of([(int(place), int(place))], -60.0)
            budget = budget_of(chains, occupants)
            one = lines.take(np.array([line])).replace(need_dbm=np.array([-60.0]))
            assert budget.may_be_on_the_air(one.replace(need_dbm=one.need_dbm + 11.0)).all()
            assert budget.on_the_air(one.need_dbm, low[[line]], high[[line]]).all()


@pytest.mark.parametrize("order", [[0, 1], [1, 0]])
def test_candidates_with_and_without_a_way_past_the_mixer_do_not_mix(order: list[int]) -> None:
    """Lines, needs and levels of each are what they are alone: straight past the mixer or not at all."""
    occupants = connect.occupants_of([(10_000_000, 20_500_000)], -60.0)
    described = open_set([{"circuits": 1}], pickup="35 dB")
    # a mixer that keeps the tunable IF out, were it not for lead and chassis
    described["conversion"][0]["mixer"]["isolation"] = 90.0
    one = compiled(described)
    both = one.take(np.zeros(2, dtype=np.int64)).replace(
        pickup_db=np.array([[35.0, np.inf], [np.inf, np.inf]])
    )
    mixed = both.take(np.array(order))
    together = enumerate_lines(mixed, 2, 2, budget=budget_of(mixed, occupants))
    for number, which in enumerate(order):
        alone = both.take(np.array([which]))
        lines = enumerate_lines(alone, 2, 2, budget=budget_of(alone, occupants))
        here = together.take(np.flatnonzero(together.candidate == number))
        rows = [
            sorted(zip(map(str, x.steps.tolist()), x.need_dbm.tolist(), strict=True)) for x in (here, lines)
        ]
        assert [r for r, _ in rows[0]] == [r for r, _ in rows[1]]
        assert (here.steps[:, 0] == [0, 1]).all(axis=1).any() == (which == 0)
        assert [n for _, n in rows[0]] == pytest.approx([n for _, n in rows[1]])
        dial = here.dial_low_hz
        level = np.full(len(here), -60.0)
        rf = here.at_hz(dial)
        mixed_dbm = heard_dbm(mixed, here, np.arange(len(here)), rf, level, dial)
        own = here.replace(candidate=np.zeros(len(here), dtype=np.int64))
        assert np.array_equal(mixed_dbm, heard_dbm(alone, own, np.arange(len(here)), rf, level, dial))


def test_a_station_stands_where_it_is_nearest_to_the_line() -> None:
    """On the line where it reaches that far, else on its edge."""
    chains = compiled(dressed(np.random.default_rng(3), "single"))
    lines = enumerate_lines(chains, 1, 1)
    line = np.flatnonzero(lines.is_wanted(chains)).repeat(3)
    dial = np.full(3, int(chains.low_hz[0]))
    hz = int(chains.low_hz[0])
    occupants = connect.occupants_of([(hz - 20, hz - 10), (hz - 5, hz + 5), (hz + 7, hz + 9)])
    near = nearest_hz(lines, occupants, line, np.arange(3), dial)
    assert near.tolist() == [hz - 10, hz, hz + 7]
    # a second harmonic of the signal is met at half the frequency
    every = enumerate_lines(chains, 2, 2)
    halved = np.flatnonzero(every.d[0] == 2)[:1]
    middle = float((every.p[0] * hz + every.q[0])[halved[0]]) / 2
    wide = connect.occupants_of([(1, 10**10)])
    assert nearest_hz(every, wide, halved, np.zeros(1, dtype=np.int64), dial[:1])[0] == middle

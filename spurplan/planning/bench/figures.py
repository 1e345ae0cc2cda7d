"""The figures of a set that readings at its terminals can decide: read from it, put into it."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from spurplan.planning.bench.expected import expected
from spurplan.planning.bench.laws import LEAST_Q, MOST_Q, Course, mean_log_q, tuned
from spurplan.receiver.changes.edits import front_end_of
from spurplan.receiver.description import Conversion, Mixer, Range, Receiver
from spurplan.receiver.families import figures_of
from spurplan.receiver.selectivity import known_of
from spurplan.responses.listening.worlds import shipped_spreads
from spurplan.units import s9_dbm

Key = tuple[str | int, ...]

# Owner of the conversions that ranges share.
SHARED = ""
# Steps that matter: a third of a Q costs 2.5 dB a circuit, 6 dB is one S unit.
STEP_LOG_Q, STEP_DB, STEP_E1 = 0.3, 6.0, 0.3


@dataclass(frozen=True)
class Figure:
    """One number to be found.

    Attributes
    ----------
    key : what it is: kind, then whose.
    name : str. What people call it.
    range : str or None. The range it belongs to; None for what ranges share.
    unit : str.
    described : float. What the description says, in the unit.
    step : float. A step that matters, in the coordinate of the fit.
    low, high : float. Sensible limits of the coordinate.
    spread : float. How far off the description may be, one standard deviation of the coordinate; of
        the Q of a front end `prior` says it.
    log : bool. Whether the coordinate is the logarithm of the value.
    """

    key: Key
    name: str
    range: str | None
    unit: str
    described: float
    step: float
    low: float
    high: float
    spread: float
    log: bool = False

    @property
    def full_name(self) -> str:
        """Its name, with its range."""
        return self.name if self.range is None else f"range {self.range}, {self.name}"

    @property
    def short(self) -> str:
        """What the sheet calls it, where the range stands beside it."""
        if self.key[0] in ("q", "ceiling"):
            return "loaded Q" if self.key[0] == "q" else "ceiling"
        name = self.name.split(",")[0]
        only = name.removeprefix("mixer ")
        return name if only[:1].isdigit() else only

    @property
    def start(self) -> float:
        """The coordinate of what the description says, inside the limits."""
        at = math.log(max(self.described, 1e-6)) if self.log else self.described
        return min(max(at, self.low), self.high)

    def value(self, at: float) -> float:
        """Return the figure at a coordinate."""
        return math.exp(at) if self.log else at


def owner_of(range_: Range) -> str:
    """Return whose conversions a range uses: its own, or those that ranges share."""
    return SHARED if range_.conversions is None else range_.name


def figures_for(
    receiver: Receiver, ranges: Sequence[Range], courses: Mapping[str, Course], metered: Collection[str] = ()
) -> tuple[Figure, ...]:
    """Return the figures of some ranges, each once.

    Parameters
    ----------
    receiver : Receiver.
    ranges : those in play.
    courses : how Q goes with frequency, by name of the range, of those with tuned circuits.
    metered : names of the ranges on which an S meter was read.
    """
    figures: dict[Key, Figure] = {}
    for range_ in ranges:
        for figure in _of_front_end(range_, courses.get(range_.name)):
            figures[figure.key] = figure
    for range_ in ranges:
        for figure in _of_conversions(receiver, range_):
            figures.setdefault(figure.key, figure)
    for figure in _of_meter([range_ for range_ in ranges if range_.name in metered]):
        figures[figure.key] = figure
    return tuple(figures.values())


def _of_meter(ranges: Sequence[Range]) -> Iterator[Figure]:
    """Yield what an S meter takes for S9 on each range it was read on, and for an S unit."""
    known = expected()
    for range_ in ranges:
        s9 = s9_dbm(math.sqrt(range_.low_hz * range_.high_hz))
        yield Figure(
            ("s9", range_.name), "S meter, level it calls S9", range_.name, "dBm", s9, STEP_DB, -150.0, 50.0,
            known.s9_spread_db,
        )  # fmt: skip
    if ranges:
        yield Figure(
            ("s_unit", SHARED), "S meter, size of an S unit", None, "dB", known.s_unit_db, STEP_LOG_Q,
            0.0, math.log(20.0), known.s_unit_spread, log=True,
        )  # fmt: skip


def _of_front_end(range_: Range, course: Course | None) -> Iterator[Figure]:
    if course is not None:
        several = len(course.at_hz) > 1
        for number, (hz, log_q) in enumerate(zip(course.at_hz, course.described.tolist(), strict=True)):
            where = f" at {_mhz(hz)}" if several else ""
            yield _q(("q", range_.name, number), f"loaded Q{where}", range_.name, log_q)
    if front_end_of(range_):
        measured = known_of(range_).ceiling_db
        spread = shipped_spreads().ceiling_db if measured is None else measured
        yield _db(
            ("ceiling", range_.name), "front-end ceiling", range_.name, range_.front_end_ceiling_db, spread
        )


def _mhz(hz: int) -> str:
    return f"{float(f'{hz / 1e6:.4g}'):.10g} MHz"


def _of_conversions(receiver: Receiver, range_: Range) -> Iterator[Figure]:
    conversions, owner = receiver.conversions_of(range_), owner_of(range_)
    whose = None if owner == SHARED else range_.name
    plans = receiver.plans_of(range_)
    for stage, conversion in enumerate(conversions):
        place = f" {stage + 1}" if len(conversions) > 1 else ""
        for figure in _of_mixer(conversion.mixer, (owner, stage), f"mixer{place}", whose):
            if stage == 0 or figure.key[-1] == "isolation":
                yield figure
        yield from _behind(conversion, (owner, stage), place, whose, stage + 1 == len(conversions))
        if conversion.selectivity and tuned(conversion.selectivity):
            ends = [plans[stage].want_a * d + plans[stage].want_b for d in (range_.low_hz, range_.high_hz)]
            mean = float(mean_log_q(conversion.selectivity, math.sqrt(ends[0] * ends[1])))
            yield _q(("selectivity_q", owner, stage), f"loaded Q behind mixer{place}", whose, mean)


def _of_mixer(mixer: Mixer, at: Key, place: str, whose: str | None) -> Iterator[Figure]:
    figures, spread = figures_of(mixer), shipped_spreads().mixer_db
    db_figures: list[tuple[str, str, float]] = [("isolation", "isolation", figures.isolation)]
    yield Figure(
        ("mixer", *at, "e1"), f"{place} e1, slope of oscillator harmonics", whose, "", figures.e1, STEP_E1,
        0.0, 10.0, spread / (20.0 * math.log10(3.0)),
    )  # fmt: skip
    if figures.balance_lo > 0:
        db_figures.append(("balance_lo", "balance_lo, even oscillator harmonics", figures.balance_lo))
    if figures.balance_rf > 0:
        # the intercept and the balance stand in one sum; the balance is the one nobody knows
        db_figures.append(("balance_rf", "balance_rf, even orders of the signal", figures.balance_rf))
    elif mixer.v0 is not None:
        yield Figure(
            ("mixer", *at, "v0"), f"{place} v0, characteristic voltage", whose, "V", mixer.v0, 0.7,
            math.log(0.001), math.log(100.0), spread * math.log(10.0) / 20.0, log=True,
        )  # fmt: skip
    else:
        h2 = figures.intercept_dbm(2)
        yield Figure(
            ("mixer", *at, "h2"), f"{place} h2, second-order intercept", whose, "dBm", h2, STEP_DB,
            -100.0, 150.0, spread,
        )  # fmt: skip
    for name, words, db in db_figures:
        yield _db(("mixer", *at, name), f"{place} {words}", whose, db, spread, low=-60.0)


def _behind(conversion: Conversion, at: Key, place: str, whose: str | None, last: bool) -> Iterator[Figure]:
    spread = shipped_spreads().ceiling_db
    if conversion.pickup_db is not None:
        yield _db(("pickup", *at), f"pickup past mixer{place}", whose, conversion.pickup_db, spread)
    if conversion.filter is not None and not last:
        name = f"ultimate rejection of filter{place}"
        yield _db(("ultimate", *at), name, whose, conversion.filter.ultimate_db, spread)
    if conversion.selectivity:
        name = f"ceiling behind mixer{place}"
        yield _db(("selectivity_ceiling", *at), name, whose, conversion.selectivity_ceiling_db, spread)


def _q(key: Key, name: str, whose: str | None, log_q: float) -> Figure:
    limits = math.log(LEAST_Q), math.log(MOST_Q)
    return Figure(key, name, whose, "", math.exp(log_q), STEP_LOG_Q, *limits, shipped_spreads().q, log=True)


def _db(key: Key, name: str, whose: str | None, db: float, spread: float, low: float = 0.0) -> Figure:
    return Figure(key, name, whose, "dB", db, STEP_DB, low, 200.0, spread)


def mixer_values(values: Mapping[Key, float], owner: str, stage: int) -> dict[str, Any]:
    """Return the figures of one mixer among some values, under the names of `Mixer`."""
    return {
        str(key[3]): value
        for key, value in values.items()
        if key[0] == "mixer" and key[1] == owner and key[2] == stage
    }

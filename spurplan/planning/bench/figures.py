"""The figures of a set that readings at its terminals can decide: read from it, put into it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from spurplan.planning.bench.laws import LEAST_Q, MOST_Q, Law, mean_log_q, tuned
from spurplan.receiver.changes.edits import front_end_of
from spurplan.receiver.description import Conversion, Mixer, Range, Receiver
from spurplan.receiver.families import figures_of

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
    log: bool = False

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


def owner_of(one: Range) -> str:
    """Return whose conversions a range uses: its own, or those that ranges share."""
    return SHARED if one.conversions is None else one.name


def figures_for(
    receiver: Receiver, ranges: Sequence[Range], laws: Mapping[str, Law], at_hz: Mapping[str, Sequence[int]]
) -> tuple[Figure, ...]:
    """Return the figures of some ranges, each once.

    Parameters
    ----------
    receiver : Receiver.
    ranges : those in play.
    laws : how Q goes with frequency, by name of the range.
    at_hz : lowest and highest dial setting read, by name of the range. [Hz]
    """
    found: dict[Key, Figure] = {}
    for one in ranges:
        for figure in _of_front_end(one, laws[one.name], at_hz[one.name]):
            found[figure.key] = figure
    for one in ranges:
        for figure in _of_conversions(receiver, one):
            found.setdefault(figure.key, figure)
    return tuple(found.values())


def _of_front_end(one: Range, law: Law, at_hz: Sequence[int]) -> Iterator[Figure]:
    elements = front_end_of(one)
    if tuned(elements):
        for number in range(law.points):
            where = "" if law.points == 1 else f" at {_mhz(at_hz[number])}"
            hz = math.sqrt(at_hz[0] * at_hz[-1]) if law.points == 1 else at_hz[number]
            yield _q(("q", one.name, number), f"loaded Q{where}", one.name, float(mean_log_q(elements, hz)))
    if elements:
        yield _db(("ceiling", one.name), "front-end ceiling", one.name, one.front_end_ceiling_db)


def _mhz(hz: int) -> str:
    return f"{hz / 1e6:.10g} MHz"


def _of_conversions(receiver: Receiver, one: Range) -> Iterator[Figure]:
    conversions, owner = receiver.conversions_of(one), owner_of(one)
    whose = None if owner == SHARED else one.name
    plans = receiver.plans_of(one)
    for stage, conversion in enumerate(conversions):
        place = f" {stage + 1}" if len(conversions) > 1 else ""
        for figure in _of_mixer(conversion.mixer, (owner, stage), f"mixer{place}", whose):
            if stage == 0 or figure.key[-1] == "isolation":
                yield figure
        yield from _behind(conversion, (owner, stage), place, whose, stage + 1 == len(conversions))
        if conversion.selectivity and tuned(conversion.selectivity):
            ends = [plans[stage].want_a * d + plans[stage].want_b for d in (one.low_hz, one.high_hz)]
            mean = float(mean_log_q(conversion.selectivity, math.sqrt(ends[0] * ends[1])))
            yield _q(("selectivity_q", owner, stage), f"loaded Q behind mixer{place}", whose, mean)


def _of_mixer(mixer: Mixer, at: Key, place: str, whose: str | None) -> Iterator[Figure]:
    figures = figures_of(mixer)
    told: list[tuple[str, str, float]] = [("isolation", "isolation", figures.isolation)]
    yield Figure(
        ("mixer", *at, "e1"), f"{place} e1, slope of oscillator harmonics", whose, "", figures.e1, STEP_E1,
        0.0, 10.0,
    )  # fmt: skip
    if figures.balance_lo > 0:
        told.append(("balance_lo", "balance_lo, even oscillator harmonics", figures.balance_lo))
    if figures.balance_rf > 0:
        # the intercept and the balance stand in one sum; the balance is the one nobody knows
        told.append(("balance_rf", "balance_rf, even orders of the signal", figures.balance_rf))
    elif mixer.v0 is not None:
        yield Figure(
            ("mixer", *at, "v0"), f"{place} v0, characteristic voltage", whose, "V", mixer.v0, 0.7,
            math.log(0.001), math.log(100.0), log=True,
        )  # fmt: skip
    else:
        h2 = figures.intercept_dbm(2)
        yield Figure(
            ("mixer", *at, "h2"), f"{place} h2, second-order intercept", whose, "dBm", h2, STEP_DB,
            -100.0, 150.0,
        )  # fmt: skip
    for name, words, db in told:
        yield _db(("mixer", *at, name), f"{place} {words}", whose, db, low=-60.0)


def _behind(conversion: Conversion, at: Key, place: str, whose: str | None, last: bool) -> Iterator[Figure]:
    if conversion.pickup_db is not None:
        yield _db(("pickup", *at), f"pickup past mixer{place}", whose, conversion.pickup_db)
    if conversion.filter is not None and not last:
        name = f"ultimate rejection of filter{place}"
        yield _db(("ultimate", *at), name, whose, conversion.filter.ultimate_db)
    if conversion.selectivity:
        name = f"ceiling behind mixer{place}"
        yield _db(("selectivity_ceiling", *at), name, whose, conversion.selectivity_ceiling_db)


def _q(key: Key, name: str, whose: str | None, log_q: float) -> Figure:
    limits = math.log(LEAST_Q), math.log(MOST_Q)
    return Figure(key, name, whose, "", math.exp(log_q), STEP_LOG_Q, *limits, log=True)


def _db(key: Key, name: str, whose: str | None, db: float, low: float = 0.0) -> Figure:
    return Figure(key, name, whose, "dB", db, STEP_DB, low, 200.0)


def mixer_values(values: Mapping[Key, float], owner: str, stage: int) -> dict[str, Any]:
    """Return the figures of one mixer among some values, under the names of `Mixer`."""
    return {
        str(key[3]): value
        for key, value in values.items()
        if key[0] == "mixer" and key[1] == owner and key[2] == stage
    }

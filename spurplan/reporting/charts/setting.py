"""One dial setting as data: what is wanted, who comes in by which way, and where that really is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from spurplan.columns import Answer, Table
from spurplan.emissions import CARRIER
from spurplan.receiver.chain import compile_chains
from spurplan.receiver.description import Range, Receiver
from spurplan.receiver.plan import StagePlan
from spurplan.receiver.sentence import range_text
from spurplan.reporting.charts.dial_row import HEAD_PT, NAME_PT
from spurplan.reporting.charts.frame import LEFT_PT, MARGIN_PT, range_head
from spurplan.reporting.charts.marks import s_units
from spurplan.reporting.charts.ranges import LONGEST_NAME_PT, place_text, pointer_text, route_text
from spurplan.reporting.charts.scale import Scale
from spurplan.reporting.charts.sheet import cut, shown, text_width
from spurplan.reporting.plain import counted
from spurplan.responses.counting import counts_of
from spurplan.responses.levels import bar_dbm, floor_dbm, selectivity_db
from spurplan.responses.routes import Steps
from spurplan.units import hz_text

MOST_TIES = 14
# places along each scale at which the circuits are asked
FRONT_POINTS = 241
BREAK_PT = 14.0
# empty stretches of so many times the distance of the oscillator are cut out
CUT_AT = 4.0


@dataclass(frozen=True)
class Tie:
    """One way in, with the loudest that comes by it.

    Attributes
    ----------
    low_hz, high_hz : int. Where it really is: the part that is received. [Hz]
    s_units : float. Heard level above S0.
    grade, label, route, equation : str. The label says how many more come this way.
    harmonic : int. Of the first oscillator, 0 for none.
    aerial_dbm : float or None. Level of the loudest of them at the aerial; None for nobody. [dBm]
    """

    low_hz: int
    high_hz: int
    s_units: float
    grade: str
    label: str
    route: str
    equation: str
    harmonic: int
    aerial_dbm: float | None = None

    @property
    def hz(self) -> int:
        """The middle of it. [Hz]"""
        return (self.low_hz + self.high_hz) // 2


@dataclass(frozen=True)
class Setting:
    """One dial setting on one range.

    Attributes
    ----------
    head, summary, way : str.
    wanted : Tie. What is on frequency; its s_units are 0 where nothing is.
    ties : tuple of Tie, loudest first.
    oscillator : tuple of (harmonic, frequency in Hz) that bring them in.
    scales : tuple of Scale, low to high, all with as many points a hertz.
    front : for each scale frequencies [Hz], and what a station there needs at the aerial to get past the
        circuits as they are tuned and stand as high as the noise [dBm].
    noise_s : float. The noise of the passband. [S units]
    bars_s : tuple of float. From where on a single tone is audible, and strong. [S units]
    """

    head: str
    summary: str
    way: str
    wanted: Tie
    ties: tuple[Tie, ...]
    oscillator: tuple[tuple[int, int], ...]
    scales: tuple[Scale, ...]
    front: tuple[tuple[tuple[float, float], ...], ...]
    noise_s: float
    bars_s: tuple[float, ...]

    def at(self, hz: float) -> float:
        """Return where a frequency stands on the scale it lies on. [pt]"""
        on = next((s for s in self.scales if s.low_hz <= hz <= s.high_hz), self.scales[-1])
        return on.at(hz)


def settings(answer: Answer, receiver: Receiver, width: float) -> list[Setting]:
    """Return what is drawn: one entry for each range that holds the dial setting."""
    hz = answer.settings["frequency_hz"]
    range_name = answer.settings.get("range")
    holding = [
        range_
        for range_ in receiver.ranges
        if range_.low_hz <= hz <= range_.high_hz and (range_name is None or range_.name == range_name)
    ]
    return [_setting(answer, receiver, range_, hz, width) for range_ in holding]


def _setting(answer: Answer, receiver: Receiver, range_: Range, hz: int, width: float) -> Setting:
    table = answer.first
    plans = receiver.plans_of(range_)
    here = table.take(np.flatnonzero(table["range"] == range_.name))
    wanted_steps = tuple((plan.lo, plan.rf) for plan in plans)
    ways = _ways(here)
    ties = tuple(_tie_of(here, rows, wanted_steps) for rows in ways[:MOST_TIES])
    left_out = len(ways) - len(ties)
    heard = counted(int(counts_of(here).sum()), "intrusion")
    summary = f"{heard} by {counted(len(ways), 'way')}" if ways else "no intrusions"
    if left_out:
        summary += f", the {left_out:,} quietest ways not drawn"
    wanted = _wanted(answer, range_, hz)
    oscillator = _oscillator(plans[0], hz, ties)
    distance = max(abs(_oscillator_hz(plans[0], hz) - hz), 1_000)
    points = [wanted.low_hz, wanted.high_hz, *(f for _, f in oscillator)]
    points += [f for tie in ties for f in (tie.low_hz, tie.high_hz)]
    scales = cut_scales(points, distance, LEFT_PT, width - MARGIN_PT)
    front, noise, bars = _levels(answer, receiver, range_, hz, scales)
    return Setting(
        head=range_head(range_.name, range_.low_hz, range_.high_hz, HEAD_PT, width - LEFT_PT - MARGIN_PT),
        summary=summary,
        way=range_text(receiver, range_) + pointer_text(range_),
        wanted=wanted,
        ties=ties,
        oscillator=oscillator,
        scales=scales,
        front=front,
        noise_s=noise,
        bars_s=bars,
    )


def _levels(
    answer: Answer, receiver: Receiver, range_: Range, hz: int, scales: Sequence[Scale]
) -> tuple[tuple[tuple[tuple[float, float], ...], ...], float, tuple[float, ...]]:
    """Return the curve of the front end, the noise, and where a tone is audible and strong."""
    (chains,) = compile_chains([(receiver, range_)])
    here, dial = np.zeros(1, dtype=np.int64), np.array([hz], dtype=np.int64)
    noise = floor_dbm(chains, here, dial)
    front = []
    for scale in scales:
        x = np.maximum(np.linspace(scale.low_hz, scale.high_hz, FRONT_POINTS), 1.0)
        every = np.zeros(len(x), dtype=np.int64)
        lost = selectivity_db(chains, 0, every, x, np.full(len(x), hz, dtype=np.int64))
        front.append(tuple(zip(x.tolist(), (float(noise[0]) + lost).tolist(), strict=True)))
    carrier = np.full(1, CARRIER, dtype=np.int8), np.ones(1, dtype=np.int32)
    tone = bar_dbm(chains, here, dial, *carrier)
    thresholds = answer.settings
    bars = [tone + thresholds.get(name, least) for name, least in (("audible_at", 0.0), ("strong_at", 10.0))]
    heights = [float(s_units(level, dial)[0]) for level in (noise, *bars)]
    return tuple(front), heights[0], tuple(heights[1:])


def _oscillator_hz(plan: StagePlan, hz: int) -> int:
    return round((plan.osc_a * hz + plan.osc_b) / plan.osc_h)


def _oscillator(plan: StagePlan, hz: int, ties: Sequence[Tie]) -> tuple[tuple[int, int], ...]:
    """Return the first oscillator and those of its harmonics that bring something in."""
    harmonics = {tie.harmonic for tie in ties} - {0}
    base = (plan.osc_a * hz + plan.osc_b, plan.osc_h)
    return tuple((m, round(m * base[0] / base[1])) for m in sorted(harmonics | {plan.osc_h}))


def _wanted(answer: Answer, range_: Range, hz: int) -> Tie:
    off = answer.settings.get("dial_error_hz") or 0
    table = answer.tables["on_frequency"]
    here = table.take(np.flatnonzero(table["range"] == range_.name))
    height, label, aerial = 0.0, "nobody in the tables", None
    if len(here):
        height = float(s_units(here["heard_dbm"], here["loudest_dial_hz"])[0])
        label = _more(str(here["label"][0] or here["service"][0]), len(here) - 1)
        aerial = float(here["antenna_dbm"][0])
    return Tie(hz - off, hz + off, height, "own", label, f"on the dial, {hz_text(hz)}", "", 0, aerial)


def _ways(here: Table) -> list[list[int]]:
    """Return the rows that come by each route, the route of the loudest first."""
    ways: dict[str, list[int]] = {}
    for row, steps in enumerate(here["steps"]):
        ways.setdefault(str(steps), []).append(row)
    return list(ways.values())


def _tie_of(here: Table, rows: list[int], wanted: Steps) -> Tie:
    """Return the tie of the rows that come by one route, loudest first."""
    ours = here.take(np.array(rows, dtype=np.int64))
    loudest = ours.records(1)[0]
    low, high = int(ours["rf_low_hz"].min()), int(ours["rf_high_hz"].max())
    return Tie(
        low_hz=low,
        high_hz=high,
        s_units=float(s_units(ours["heard_dbm"][:1], ours["loudest_dial_hz"][:1])[0]),
        grade=loudest["grade"],
        label=_more(loudest["label"] or loudest["service"], len(rows) - 1),
        route=f"{loudest['heard_s']}, {place_text(low, high)}",
        equation=route_text(loudest["response"], loudest["steps"], wanted),
        harmonic=abs(loudest["steps"][0][0]),
        aerial_dbm=loudest["antenna_dbm"],
    )


def _more(label: str, more: int) -> str:
    rest = f" and {more} more" if more else ""
    return cut(shown(label), NAME_PT, LONGEST_NAME_PT - text_width(rest, NAME_PT)) + rest


def cut_scales(points: Sequence[int], distance_hz: int, left: float, right: float) -> tuple[Scale, ...]:
    """Return a straight scale that holds some frequencies, cut where nothing is.

    Parameters
    ----------
    points : frequencies to show. [Hz]
    distance_hz : int. Of the oscillator from the dial: emptier stretches than
        some of these are cut out, and half of one is left round what is shown. [Hz]
    left, right : float. Its ends. [pt]
    """
    pad = max(distance_hz // 2, 1)
    stretches: list[list[int]] = []
    for hz in sorted(points):
        if stretches and hz - stretches[-1][1] <= CUT_AT * distance_hz:
            stretches[-1][1] = hz
        else:
            stretches.append([hz, hz])
    padded = [(max(low - pad, 0), high + pad) for low, high in stretches]
    room = right - left - BREAK_PT * (len(padded) - 1)
    per_hz = room / sum(high - low for low, high in padded)
    scales, x = [], left
    for low, high in padded:
        scales.append(Scale(low, high, x, x + (high - low) * per_hz))
        x = scales[-1].right + BREAK_PT
    return tuple(scales)

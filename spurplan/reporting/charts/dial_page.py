"""The turning dial: what the page needs to say of any setting what the program would.

Routes are straight lines, so four whole numbers of each say where it is received
at any setting: on (P d + Q) / D at the aerial, |R| / D hertz there to one in the
last IF. Stretches, their ends and their grades are the program's; the page finds
which of them hold the setting, and decides nothing.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from spurplan.emissions import CARRIER
from spurplan.errors import Fault, Refused
from spurplan.occupancy.bands import Bands
from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import Chains
from spurplan.receiver.description import Receiver
from spurplan.reporting.plain import harmless
from spurplan.responses.asking import Settings
from spurplan.responses.image_rejection import flipped
from spurplan.responses.levels import bar_dbm, floor_dbm, heard_dbm, selectivity_db
from spurplan.responses.lines import Lines, lines_of_routes
from spurplan.responses.listening.dial_words import WORDS, range_word
from spurplan.responses.routes import equation, pad_db_per_db, response_name, steps_of, wanted_of
from spurplan.responses.turning import TurnedRange, turned_ranges
from spurplan.units import DB_PER_S, S9_DBM, S9_HIGH_DBM, S_CHANGE_HZ

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

VERSION = 1
# what a page may carry of it, as JSON [bytes]
MOST_BYTES = 300_000
# a page's numbers are exact up to here
EXACT = 2**53
# levels in tenths of a decibel; a curve is straight between its points to so much
TENTHS, STRAIGHT_DB = 10.0, 0.15
CURVE_POINTS, CURVE_ROUNDS = 17, 10
# places in the passband, from edge to edge, at which what a filter takes off is looked up
PLACES = np.linspace(-1.0, 1.0, 17)
FLOOR_POINTS, GATE_POINTS = 33, 33
# closest round the dial, where circuits are steep
FRONT_DIALS, FRONT_OCTAVES = 9, np.geomspace(0.01, 3.3, 36)
FRONT_RATIOS = np.round(2.0 ** np.concatenate([-FRONT_OCTAVES[::-1], [0.0], FRONT_OCTAVES]), 4)
# what a station at the aerial can be at most and at least [dBm]
LOUDEST_DBM, FAINTEST_DBM, GATE_HALVINGS = 20.0, -180.0, 16


@dataclass(frozen=True)
class Levels:
    """A curve over the dial: straight lines between points. Hertz, and tenths of a decibel."""

    hz: Ints
    tenths: Ints

    def plain(self) -> list[list[int]]:
        """Return it as lists, frequencies as differences."""
        return [_differences(self.hz), self.tenths.tolist()]


def dial_page(
    receiver: Receiver, bands: Bands, settings: Settings, turned: Sequence[TurnedRange] = ()
) -> dict[str, Any]:
    """Return what the turning dial of a set needs, as plain values.

    Parameters
    ----------
    receiver, bands, settings : what is asked.
    turned : the ranges as they are turned through, where they are at hand.

    Returns
    -------
    dict. Keys ``v``, ``set``, ``strong``, ``audible`` (margins, dB), ``s`` (S9 below and above its
    change, the change, dB a unit), ``words``, ``occupants`` and ``states``; each state has a name, the
    reach of the tables and its ranges.

    Raises
    ------
    Refused  as `ranges`, and where a number is too large for a page to hold exactly.
    """
    as_it_is = turned or turned_ranges(receiver, bands, settings)
    return encoded(receiver.name, [("as it is", as_it_is)], settings)


def encoded(
    name: str, states: Sequence[tuple[str, Sequence[TurnedRange]]], settings: Settings
) -> dict[str, Any]:
    """Return several states of one set, asked about the same occupants, as plain values.

    Parameters
    ----------
    name : str. The set.
    states : (name, ranges) of each.
    """
    occupants = states[0][1][0].response.occupants
    used = np.unique(
        np.concatenate([turned_range.response.graded.occupant for _, some in states for turned_range in some])
    )
    # what is on the air is drawn and said even where nothing of it gets in
    kept = np.arange(len(occupants)) if len(occupants) <= 4_000 else used
    place = np.zeros(len(occupants), dtype=np.int64)
    place[kept] = np.arange(len(kept))
    return {
        "v": VERSION,
        "set": harmless(name),
        "strong": settings.strong_at,
        "audible": settings.audible_at,
        "s": [S9_DBM, S9_HIGH_DBM, S_CHANGE_HZ, DB_PER_S],
        "words": list(WORDS),
        "places": PLACES.tolist(),
        "occupants": _occupants(occupants.take(kept)),
        "states": [
            {
                "name": harmless(state),
                "reach": list(occupants.reach),
                "ranges": [_range(turned_range, place) for turned_range in some],
            }
            for state, some in states
        ],
    }


def dial_json(data: Mapping[str, Any], most_bytes: int = MOST_BYTES) -> str | None:
    """Return it as JSON that can stand inside a page; None where it is more than so many bytes."""
    text = json.dumps(data, separators=(",", ":"), ensure_ascii=False, allow_nan=False)
    text = text.replace("<", "\\u003c")
    return text if len(text.encode("utf-8")) <= most_bytes else None


def _differences(values: Ints) -> list[int]:
    differences: list[int] = np.diff(values, prepend=0).tolist()
    return differences


def _tenths(levels: Floats) -> Ints:
    return np.rint(np.clip(levels, -9_999.0, 9_999.0) * TENTHS).astype(np.int64)


def _occupants(some: Occupants) -> dict[str, Any]:
    levels, level = np.unique(some.level_dbm, return_inverse=True)
    labels, label = np.unique(some.label, return_inverse=True)
    kinds, kind = np.unique(np.stack([some.sound, some.width_hz]), axis=1, return_inverse=True)
    return {
        "low": _differences(some.low_hz),
        "width": (some.high_hz - some.low_hz).tolist(),
        "level": level.tolist(),
        "levels": np.round(levels, 2).tolist(),
        "label": label.tolist(),
        "labels": [harmless(some.labels[code]) for code in labels.tolist()],
        "service": some.service.tolist(),
        "services": [harmless(text) for text in some.services],
        "kind": kind.reshape(-1).tolist(),
        "kinds": kinds.T.tolist(),
    }


def _range(turned_range: TurnedRange, place: Ints) -> dict[str, Any]:
    response, v = turned_range.response, turned_range.candidate
    chains, lines, graded = response.chains, response.lines, response.graded
    here = np.flatnonzero(lines.candidate[graded.line] == v)
    here = here[np.argsort(graded.dial_low_hz[here], kind="stable")]
    used, line = np.unique(graded.line[here], return_inverse=True)
    level = response.occupants.level_dbm[graded.occupant[here]]
    shown = np.array([v])
    dials = np.linspace(turned_range.low_hz, turned_range.high_hz, FLOOR_POINTS).astype(np.int64)
    candidate = np.full(len(dials), v)
    carrier = np.full(len(dials), CARRIER, dtype=np.int8), np.ones(len(dials), dtype=np.int32)
    beyond = turned_range.beyond
    unknown = np.flatnonzero(beyond.candidate == v)
    return {
        "name": harmless(turned_range.name),
        "low": turned_range.low_hz,
        "high": turned_range.high_hz,
        "bw": int(chains.bandwidth_hz[v]),
        "off": int(chains.set_dial_hz(shown, np.array([turned_range.low_hz]))[0]) - turned_range.low_hz,
        "word": range_word(turned_range.busy),
        "said": harmless(turned_range.busy.sentence),
        "osc": _oscillators(chains, v),
        "if": int(chains.if_hz[v]),
        "floor": Levels(dials, _tenths(floor_dbm(chains, candidate, dials))).plain(),
        "tone": Levels(dials, _tenths(bar_dbm(chains, candidate, dials, *carrier))).plain(),
        "front": _front(chains, v, turned_range),
        "lines": [
            _line(chains, lines, v, int(number), turned_range, level[line == k])
            for k, number in enumerate(used.tolist())
        ],
        "image": _image(chains, v),
        "stretches": {
            "low": _differences(graded.dial_low_hz[here]),
            "width": (graded.dial_high_hz[here] - graded.dial_low_hz[here]).tolist(),
            "line": line.tolist(),
            "who": place[graded.occupant[here]].tolist(),
            "grade": graded.grade[here].tolist(),
        },
        "unknown": [
            [low, high]
            for low, high in zip(
                beyond.dial_low_hz[unknown].tolist(), beyond.dial_high_hz[unknown].tolist(), strict=True
            )
        ],
        "words": [_differences(turned_range.words.low_hz), turned_range.words.word.tolist()],
    }


def _oscillators(chains: Chains, v: int) -> list[list[int]]:
    return [
        [int(chains.osc_a[v, i]), int(chains.osc_b[v, i]), int(chains.osc_h[v, i])]
        for i in range(chains.conversions)
    ]


def _image(chains: Chains, v: int) -> list[int]:
    """Return P, Q, R, D of the first mixer's image, shown even where nobody comes in by it."""
    lines = lines_of_routes(chains, flipped(chains, 0))
    return _exact([int(getattr(lines, name)[0][v]) for name in ("p", "q", "r", "d")])


def _exact(numbers: list[int]) -> list[int]:
    if max(map(abs, numbers)) >= EXACT:
        rule = "needs larger numbers than a page holds exactly"
        raise Refused(Fault("report", rule, str(max(numbers, key=abs)), "ask with a lower --lo-order"))
    return numbers


def _front(chains: Chains, v: int, turned_range: TurnedRange) -> list[Any]:
    """Return what the circuits ahead of the first mixer take off, by frequency over dial, at some dials."""
    dials = np.linspace(turned_range.low_hz, turned_range.high_hz, FRONT_DIALS).astype(np.int64)
    rows = []
    for dial in dials.tolist():
        x = FRONT_RATIOS * dial
        candidate = np.full(len(x), v)
        lost = selectivity_db(chains, 0, candidate, x, np.full(len(x), dial, dtype=np.int64))
        rows.append(_tenths(lost).tolist())
    return [FRONT_RATIOS.tolist(), dials.tolist(), rows]


def _line(
    chains: Chains, lines: Lines, v: int, number: int, turned_range: TurnedRange, levels_dbm: Floats
) -> dict[str, Any]:
    graded = turned_range.response.graded
    mine = graded.line == number
    low, high = int(graded.dial_low_hz[mine].min()), int(graded.dial_high_hz[mine].max())
    steps = steps_of(lines, number)
    p, q, r, d = _exact([int(getattr(lines, name)[0][number]) for name in ("p", "q", "r", "d")])
    # what the page works out of them, doubled so that odd widths stay whole
    _exact([2 * (abs(p) * turned_range.high_hz + abs(q)) + abs(r) * int(lines.reach_hz[number])])
    way = _Way(chains, lines, number)
    return {
        "pqrd": [p, q, r, d],
        "reach": int(lines.reach_hz[number]),
        "name": response_name(steps, wanted_of(chains, v)),
        "eq": equation(steps),
        "steps": [list(step) for step in steps],
        "pad": int(pad_db_per_db(lines, np.array([number]))[0]),
        "gate": way.gate(low, high).plain(),
        "curves": [
            [round(level, 2), *way.curve(level, low, high).plain()]
            for level in np.unique(levels_dbm).tolist()
        ],
        "roll": way.roll((low + high) // 2).tolist(),
    }


@dataclass(frozen=True)
class _Way:
    """One line, and how loud stations in its middle are heard."""

    chains: Chains
    lines: Lines
    number: int

    def heard(self, level_dbm: float | Floats, dial_hz: Ints, rf_hz: Floats | None = None) -> Floats:
        line = np.full(len(dial_hz), self.number)
        centre = np.maximum(
            (self.lines.p[0][line] * dial_hz + self.lines.q[0][line]) / self.lines.d[0][line], 1.0
        )
        level = np.broadcast_to(np.asarray(level_dbm, dtype=np.float64), dial_hz.shape).copy()
        return heard_dbm(self.chains, self.lines, line, centre if rf_hz is None else rf_hz, level, dial_hz)

    def curve(self, level_dbm: float, low_hz: int, high_hz: int) -> Levels:
        """Return the level at which stations of one aerial level are heard, straight between its points."""
        dial = np.unique(np.linspace(low_hz, high_hz, CURVE_POINTS).astype(np.int64))
        heard = self.heard(level_dbm, dial)
        for _ in range(CURVE_ROUNDS):
            middle = (dial[1:] + dial[:-1]) // 2
            there = self.heard(level_dbm, middle)
            off = np.abs(there - np.interp(middle, dial, heard))
            bent = (off > STRAIGHT_DB) & (middle > dial[:-1])
            if not bent.any():
                break
            dial, heard = np.append(dial, middle[bent]), np.append(heard, there[bent])
            order = np.argsort(dial)
            dial, heard = dial[order], heard[order]
        return Levels(dial, _tenths(heard))

    def roll(self, dial_hz: int) -> Ints:
        """Return what is lost off the middle of the passband, in tenths of a decibel, by `PLACES`."""
        lines, number = self.lines, self.number
        p, q, r, d = (int(getattr(lines, name)[0][number]) for name in ("p", "q", "r", "d"))
        centre = (p * dial_hz + q) / d
        rf = np.maximum(centre + PLACES * abs(r) * int(lines.reach_hz[number]) / (2 * d), 1.0)
        dial = np.full(len(PLACES), dial_hz, dtype=np.int64)
        return _tenths(self.heard(-60.0, dial) - self.heard(-60.0, dial, rf))

    def gate(self, low_hz: int, high_hz: int) -> Levels:
        """Return the least level at the aerial of a carrier that is heard."""
        dial = np.unique(np.linspace(low_hz, high_hz, GATE_POINTS).astype(np.int64))
        candidate = self.lines.candidate[np.full(len(dial), self.number)]
        sound = np.full(len(dial), CARRIER, dtype=np.int8)
        bar = bar_dbm(self.chains, candidate, dial, sound, np.ones(len(dial), dtype=np.int32))
        least, most = np.full(len(dial), FAINTEST_DBM), np.full(len(dial), LOUDEST_DBM)
        for _ in range(GATE_HALVINGS):
            middle = 0.5 * (least + most)
            heard = self.heard(middle, dial) >= bar
            least, most = np.where(heard, least, middle), np.where(heard, middle, most)
        return Levels(dial, _tenths(most))

"""How much of a dial is spoilt, exactly, for ten thousand IFs in the time of a few.

Nothing is said of who it is: occupants of one level that touch are one interval. A
cell of dial where even the worst place of the passband makes a level audible needs
nothing but the meeting of lines and intervals, in integers. Where the answer lies
between, the crossing is looked for to the hertz, and only where no other route has
spoilt the place already.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from spurplan.columns import distinct
from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.listener import Listener
from spurplan.responses.asking import Settings
from spurplan.responses.axis.air import Family, Intervals, families
from spurplan.responses.axis.cells import Cells, cells_of
from spurplan.responses.axis.chains import Axis
from spurplan.responses.axis.edges import heard_stretches
from spurplan.responses.axis.lines import AxisLines, axis_lines
from spurplan.responses.axis.meet import fringes, meet
from spurplan.responses.axis.union import no_stretches
from spurplan.responses.levels import StrongestOnAir

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

# Candidates worked on together: enough to make the arrays worth while, few enough for memory.
AT_ONCE = 16_384
# Bounds and margins are summed in different orders. [dB]
SPARE_DB = 1e-6
FILTER_POINTS = 129
# Into how many parts a stretch is cut where its curve may turn.
TURN_PARTS = 8
PEAK_PARTS = 12


@dataclass(frozen=True)
class Air:
    """Occupants made ready for any number of axes with one final passband.

    Attributes
    ----------
    families : tuple of Family. Occupants of one kind together.
    strongest : StrongestOnAir. The strongest between any two frequencies.
    """

    families: tuple[Family, ...]
    strongest: StrongestOnAir


def air_of(occupants: Occupants, listener: Listener) -> Air:
    """Return occupants made ready for a listener."""
    return Air(families(occupants, listener), StrongestOnAir(occupants))


def spoilt_hz(axis: Axis, air: Air, settings: Settings) -> Ints:
    """Return how many whole hertz of dial each candidate loses, shape (V,). [Hz]

    Parameters
    ----------
    axis : Axis, V candidates.
    air : Air for its passband.
    settings : Settings. Orders and the threshold of what is audible.

    Notes
    -----
    Lost is where an intruder is audible, and what lies within a bandwidth of the IF
    itself. The same, hertz for hertz, as `clear_share` of what `respond` finds with
    the occupants `air.merged`.
    """
    none = np.zeros(0, dtype=np.int64)
    return spoilt_and_unknown_hz(axis, air, settings, (none, none, none))[0]


def spoilt_and_unknown_hz(
    axis: Axis, air: Air, settings: Settings, beyond: tuple[Ints, Ints, Ints]
) -> tuple[Ints, Ints]:
    """Return how much dial each candidate loses, and how much more nobody can know of, shape (V,) each. [Hz]

    Parameters
    ----------
    axis, air, settings : as in `spoilt_hz`.
    beyond : candidate, first and last dial of the stretches on which a strong station beyond the
        tables would be heard. [Hz]
    """
    spoilt, unknown = np.zeros((2, len(axis)), dtype=np.int64)
    candidate, low, high = beyond
    for start in range(0, len(axis), AT_ONCE):
        part = slice(start, start + AT_ONCE)
        here = (candidate >= start) & (candidate < start + AT_ONCE)
        found = _Cover(axis.take(part), air, settings)
        spoilt[part] = found.spoilt_hz()
        unknown[part] = found.also_hz(candidate[here] - start, low[here], high[here])
    return spoilt, unknown


@dataclass
class _Pieces:
    """Cells in which one level may be heard of one line."""

    lines: AxisLines
    low_hz: Ints
    high_hz: Ints
    level: Ints

    def by_level(self, levels: int) -> Iterator[tuple[int, Ints]]:
        """Yield (level, rows) for each level that has any."""
        order = np.argsort(self.level, kind="stable")
        ends = np.searchsorted(self.level[order], np.arange(levels + 1))
        for level in range(levels):
            if ends[level] < ends[level + 1]:
                yield level, order[ends[level] : ends[level + 1]]


@dataclass
class _Curves:
    """Margins along parts of lines, each of one level.

    Attributes
    ----------
    lines, low_hz, high_hz : the lines, and the part of the dial each has.
    level_dbm, need_dbhz : float64. The level, and from where over the noise it is heard.
    at_0, least, order : float64. The law of the mixer for its product.
    number : int64. Which lot a curve came with.
    """

    lines: AxisLines
    low_hz: Ints
    high_hz: Ints
    level_dbm: Floats
    need_dbhz: Floats
    at_0: Floats
    least: Floats
    order: Floats
    number: Ints


class _Cover:
    """One part of an axis, worked through."""

    def __init__(self, axis: Axis, air: Air, settings: Settings) -> None:
        self.axis, self.air, self.audible = axis, air, settings.audible_at
        self.orders = (settings.lo_order, settings.rf_order)
        self.union = no_stretches(axis.low_hz, axis.high_hz)

    def spoilt_hz(self) -> Ints:
        axis = self.axis
        low = np.maximum(axis.if_hz - axis.bandwidth_hz, axis.low_hz)
        high = np.minimum(axis.if_hz + axis.bandwidth_hz, axis.high_hz)
        own = np.flatnonzero(low <= high)
        found = [(own, low[own], high[own])]
        doubtful: list[tuple[Family, _Pieces]] = []
        edges: list[tuple[Family, _Pieces]] = []
        if self.air.families:
            least = min(
                float(axis.floor.least_external_dbm_per_hz(float(axis.low_hz), float(axis.high_hz)))
                + family.need_dbhz
                for family in self.air.families
            )
            lines = axis_lines(axis, self.air.strongest, least, self.audible, *self.orders)
            for cells in cells_of(axis, lines):
                for family in self.air.families:
                    full, inside, maybe = self._counts(cells, family)
                    found += self._sure(cells, family, full, inside)
                    doubtful.append((family, _expanded(cells, inside, maybe)))
                    edges.append((family, _expanded(cells, full, maybe)))
        self._add(found)
        self._add(list(self._crossing(doubtful)))
        self._add(self._on_the_fringe(edges))
        return self.union.total_hz(len(axis))

    def also_hz(self, candidate: Ints, low_hz: Ints, high_hz: Ints) -> Ints:
        """Return how much of some stretches is not spoilt. [Hz]"""
        count = len(self.axis)
        return self.union.with_more(candidate, low_hz, high_hz).total_hz(count) - self.union.total_hz(count)

    def _add(self, found: list[tuple[Ints, Ints, Ints]]) -> None:
        if found:
            self.union = self.union.with_more(*(np.concatenate(part) for part in zip(*found, strict=True)))

    def _counts(self, cells: Cells, family: Family) -> tuple[Ints, Ints, Ints]:
        """Return how many levels, from the highest, are heard in a whole cell wherever they are
        received; wherever the middle of the passband meets them; and may be heard at all, shape (L, C)."""
        axis = self.axis
        level = axis.floor.external_dbm_per_hz(cells.dial) + family.need_dbhz + self.audible + axis.gain_db
        most, least = np.maximum(level[:, :-1], level[:, 1:]), np.minimum(level[:, :-1], level[:, 1:])
        m, n = cells.lines.m[:, None], cells.lines.n[:, None]
        gain = axis.gain_db
        some = cells.low_hz <= cells.high_hz

        def count(needed: Floats) -> Ints:
            out = np.zeros(needed.shape, dtype=np.int8 if len(family.level_dbm) < 127 else np.int64)
            for one in family.level_dbm.tolist():
                out += needed <= one
            return out if some.all() else out * some

        at_0, clip = axis.mixer.law(m, n)
        linear = bool((n == 1).all())

        def need(out: Floats, spare: float) -> Floats:
            # as `CompiledMixer.need_dbm`
            out = out + (spare - gain)
            return out + at_0 if linear else np.maximum((out + gain + at_0) / n - gain, out + clip)

        full = count(cells.most_db + need(most + axis.edge_db, SPARE_DB))
        inside = count(cells.most_db + need(most, SPARE_DB))
        maybe = count(cells.least_db + need(least, -SPARE_DB))
        return full, inside, maybe

    def _sure(
        self, cells: Cells, family: Family, full: Ints, inside: Ints
    ) -> Iterator[tuple[Ints, Ints, Ints]]:
        """Yield (candidate, first, last) of what is heard without a doubt."""
        for count, reach in ((full, self.axis.bandwidth_hz), (np.where(inside > full, inside, 0), 0)):
            pieces = _runs(cells, count)
            for level, rows in pieces.by_level(len(family.level_dbm)):
                lines = pieces.lines.take(rows)
                line, _, low, high = meet(
                    lines, pieces.low_hz[rows], pieces.high_hz[rows], family.nested[level], reach
                )
                yield lines.candidate[line], low, high

    # --- cells in which the margin crosses the threshold ---------------------------------------

    def _crossing(self, doubtful: list[tuple[Family, _Pieces]]) -> Iterator[tuple[Ints, Ints, Ints]]:
        """Yield what is heard in cells where a level is heard in a part only."""
        kept: list[_Curves] = []
        own: list[Intervals] = []
        for family, pieces in doubtful:
            for level, rows in pieces.by_level(len(family.level_dbm)):
                lines, low, high = pieces.lines.take(rows), pieces.low_hz[rows], pieces.high_hz[rows]
                line, _, first, last = meet(lines, low, high, family.own[level], self.axis.bandwidth_hz)
                some = distinct(line[~self.union.covers(lines.candidate[line], first, last)])
                if len(some):
                    kept.append(
                        self._curves(lines.take(some), low[some], high[some], family, level, len(own))
                    )
                    own.append(family.own[level])
        if not kept:
            return
        curves = _together(kept)
        which, low, high = self._heard_parts(curves)
        number = curves.number[which]
        for at, intervals in enumerate(own):
            rows = np.flatnonzero(number == at)
            lines = curves.lines.take(which[rows])
            line, _, first, last = meet(lines, low[rows], high[rows], intervals, 0)
            yield lines.candidate[line], first, last

    def _heard_parts(self, curves: _Curves) -> tuple[Ints, Ints, Ints]:
        """Return (which, first, last) of where a level in the middle of the passband is heard."""
        slope, offset = curves.lines.slope, curves.lines.offset

        def margin(which: Ints, dial_hz: Ints) -> Floats:
            dial = dial_hz.astype(np.float64)
            return self._margin(curves, which, dial, slope[which] * dial + offset[which], 0.0)

        low, high = curves.low_hz, curves.high_hz
        every = np.arange(len(low))
        parts = TURN_PARTS if self.axis.front.may_turn else 2
        points = np.stack([low + (high - low) * k // parts for k in range(parts + 1)], axis=1)
        seen = np.stack([margin(every, point) for point in points.T], axis=1)
        # floor and losses are straight lines on log paper, nearly
        share = _share(seen[:, 0], seen[:, -1])
        guess = np.exp(np.log(low) * (1.0 - share) + np.log(high) * share)
        return heard_stretches(margin, points, seen, guess)

    def _curves(
        self, lines: AxisLines, low_hz: Ints, high_hz: Ints, family: Family, level: int, number: int = 0
    ) -> _Curves:
        at_0, least = self.axis.mixer.law(lines.m, lines.n)
        count = len(lines)
        return _Curves(
            lines, low_hz, high_hz, np.full(count, family.level_dbm[level]),
            np.full(count, family.need_dbhz), at_0, least, lines.n.astype(np.float64),
            np.full(count, number),
        )  # fmt: skip

    def _margin(
        self, curves: _Curves, which: Ints, dial: Floats, rf: Floats, filter_db: Floats | float
    ) -> Floats:
        """Return how far each level at the terminals is above the one just audible, shape (n,). [dB]"""
        axis = self.axis
        out = axis.floor.external_dbm_per_hz(dial) + curves.need_dbhz[which]
        out += self.audible + axis.gain_db
        out += filter_db
        # least input of a mixer whose product reaches a level, as `CompiledMixer.need_dbm`
        need = np.maximum((out + curves.at_0[which]) / curves.order[which], out + curves.least[which])
        margin: Floats = curves.level_dbm[which] + axis.gain_db - need
        margin -= axis.front.loss_db(np.maximum(rf, 1.0), dial)
        return margin

    # --- edges of intervals --------------------------------------------------------------------

    def _on_the_fringe(self, edges: list[tuple[Family, _Pieces]]) -> list[tuple[Ints, Ints, Ints]]:
        """Return what is heard of intervals beside the middle of the passband."""
        found: list[_Curves] = []
        places: list[Ints] = []
        for family, pieces in edges:
            for level, rows in pieces.by_level(len(family.level_dbm)):
                lines, low, high = pieces.lines.take(rows), pieces.low_hz[rows], pieces.high_hz[rows]
                for side, edge in ((-1, family.own[level].low_hz), (1, family.own[level].high_hz)):
                    line, at, first, last = fringes(lines, low, high, edge, self.axis.bandwidth_hz, side)
                    some = np.flatnonzero(~self.union.covers(lines.candidate[line], first, last))
                    if len(some):
                        found.append(
                            self._curves(lines.take(line[some]), first[some], last[some], family, level)
                        )
                        places.append(edge[at[some]])
        if not found:
            return []
        return self._heard_fringes(_together(found), np.concatenate(places).astype(np.float64))

    def _heard_fringes(self, curves: _Curves, edge: Floats) -> list[tuple[Ints, Ints, Ints]]:
        lines, low, high = curves.lines, curves.low_hz, curves.high_hz
        centre = float(self.axis.if_hz[0])
        # hertz in the IF to one at the antenna
        scale = lines.d / lines.r

        def margin(which: Ints, dial_hz: Ints) -> Floats:
            dial, rf = dial_hz.astype(np.float64), edge[which]
            off = np.abs(rf - (lines.slope[which] * dial + lines.offset[which])) * scale[which]
            return self._margin(curves, which, dial, rf, self.axis.filter.loss_db(centre + off, centre))

        every = np.arange(len(lines))
        ends = np.stack([low, high], axis=1)
        seen = np.stack([margin(every, low), margin(every, high)], axis=1)
        headroom = seen.max(axis=1)
        parts = []
        # on a slope of the front end the loudest place may lie a little beside the edge: not
        # louder than the better of the ends would be without the filter
        off = np.abs(edge[:, None] - (lines.slope[:, None] * ends + lines.offset[:, None])) * scale[:, None]
        bare = seen + self.axis.filter.loss_db(centre + off, centre)
        peaked = np.flatnonzero((headroom < 0) & (bare.max(axis=1) >= 0))
        if len(peaked):
            span = (high - low)[peaked]
            points = np.stack([low[peaked] + span * k // PEAK_PARTS for k in range(PEAK_PARTS + 1)], axis=1)
            values = np.stack([margin(peaked, point) for point in points.T], axis=1)
            which, first, last = heard_stretches(
                lambda which, dial: margin(peaked[which], dial), points, values, (low + high)[peaked] / 2.0
            )
            parts.append((lines.candidate[peaked[which]], first, last))
        plain = np.flatnonzero(headroom >= 0)
        guess = self._fringe_guess(lines, edge, scale, headroom, low, high)[plain]
        which, first, last = heard_stretches(
            lambda which, dial: margin(plain[which], dial), ends[plain], seen[plain], guess
        )
        return [*parts, (lines.candidate[plain[which]], first, last)]

    def _fringe_guess(
        self, lines: AxisLines, edge: Floats, scale: Floats, headroom: Floats, low: Ints, high: Ints
    ) -> Floats:
        """Return where the filter has taken what the level is above the threshold on the edge. [Hz]"""
        centre = float(self.axis.if_hz[0])
        offset = np.linspace(0.0, self.axis.bandwidth_hz / 2.0, FILTER_POINTS)
        lost = self.axis.filter.loss_db(centre + offset, centre)
        off = np.interp(headroom * lines.n, lost, offset) / scale
        middle = (low + high) / 2.0
        with np.errstate(divide="ignore", invalid="ignore"):
            crosses = (edge - lines.offset) / lines.slope
            guess = crosses + np.sign(middle - crosses) * np.abs(off / lines.slope)
        return np.where(np.isfinite(guess), guess, middle)


def _share(at_low: Floats, at_high: Floats) -> Floats:
    """Return how far on the way from the low end two margins cross zero, 0 to 1."""
    fall = at_low - at_high
    return np.where(fall == 0, 0.5, np.clip(at_low / np.where(fall == 0, 1.0, fall), 0.0, 1.0))


def _runs(cells: Cells, count: Ints) -> _Pieces:
    """Return neighbouring cells with the same number of levels together, those with none left out."""
    new = np.ones(count.shape, dtype=bool)
    np.not_equal(count[:, 1:], count[:, :-1], out=new[:, 1:])
    last = np.ones(count.shape, dtype=bool)
    last[:, :-1] = new[:, 1:]
    some = count > 0
    row, first = np.nonzero(new & some)
    _, stop = np.nonzero(last & some)
    shared = cells.low_hz.shape[0] == 1
    at = 0 if shared else row
    return _Pieces(
        cells.lines.take(row), cells.low_hz[at, first], cells.high_hz[at, stop], count[row, first] - 1
    )


def _expanded(cells: Cells, first: Ints, last: Ints) -> _Pieces:
    """Return one piece for each cell and each level from number `first` up to `last`."""
    row, cell = np.nonzero(last > first)
    start = first[row, cell].astype(np.int64)
    count = last[row, cell] - start
    piece = np.repeat(np.arange(len(row)), count)
    level = np.arange(len(piece)) + np.repeat(start - (np.cumsum(count) - count), count)
    row, cell = row[piece], cell[piece]
    at = 0 if cells.low_hz.shape[0] == 1 else row
    return _Pieces(cells.lines.take(row), cells.low_hz[at, cell], cells.high_hz[at, cell], level)


def _together(parts: list[_Curves]) -> _Curves:
    """Return several lots of curves as one."""
    names = [name for name in _Curves.__dataclass_fields__ if name != "lines"]
    lines = AxisLines.concat([part.lines for part in parts])
    return _Curves(lines, **{name: np.concatenate([getattr(part, name) for part in parts]) for name in names})

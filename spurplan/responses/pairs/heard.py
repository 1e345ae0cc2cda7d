"""Pairs of stations that can be heard where neither of them is, with level and grade."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from spurplan.errors import Fault, Refused
from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import Chains
from spurplan.responses.asking import Settings
from spurplan.responses.engine import MOST_RECORDS
from spurplan.responses.grades import AUDIBLE, BURIED, STRONG
from spurplan.responses.levels import bar_dbm
from spurplan.responses.pairs.intermodulation import PRODUCTS, Meeting, meetings, pairs_of, received_on
from spurplan.responses.pairs.tones import Tones
from spurplan.rows import Rows, floats, ints

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

EVEN_POINTS = 9
# Pairs of single frequencies, and pairs with a band in them, looked at together.
SPOTS_AT_ONCE, BANDS_AT_ONCE = 200_000, 10_000


class Pairs(Rows):
    """G stretches of dial on which a product of two stations is heard.

    Attributes
    ----------
    candidate, first, second : int64, shape (G,). The chain; the occupants with f1 and f2.
    product, target : int64, shape (G,). Index into `intermodulation.PRODUCTS`; what it
        lands on, 0 the dial frequency, i the i-th IF.
    dial_low_hz, dial_high_hz : int64, shape (G,). First and last whole hertz. [Hz]
    loudest_dial_hz : int64, shape (G,). Where the figures are quoted. [Hz]
    f1_hz, f2_hz : int64, shape (G,). The two frequencies there; of a band, those that
        make it loudest. [Hz]
    heard_dbm, bar_dbm : float64, shape (G,). Level there, and the bar of hearing. [dBm]
    """

    candidate: Ints = ints()
    first: Ints = ints()
    second: Ints = ints()
    product: Ints = ints()
    target: Ints = ints()
    dial_low_hz: Ints = ints()
    dial_high_hz: Ints = ints()
    loudest_dial_hz: Ints = ints()
    f1_hz: Ints = ints()
    f2_hz: Ints = ints()
    heard_dbm: Floats = floats()
    bar_dbm: Floats = floats()

    @property
    def margin_db(self) -> Floats:
        """Heard level above the bar of hearing, shape (G,). [dB]"""
        margin: Floats = self.heard_dbm - self.bar_dbm
        return margin

    def grade(self, strong_at_db: float, audible_at_db: float) -> Ints:
        """Return the grade where each is loudest, shape (G,); index into `grades.GRADES`."""
        margin = self.margin_db
        heard = np.where(margin >= audible_at_db, AUDIBLE, BURIED)
        return np.where(margin >= strong_at_db, STRONG, heard).astype(np.int64)


def intermodulation(chains: Chains, occupants: Occupants, settings: Settings) -> Pairs:
    """Return what pairs of stations make heard on some chains.

    Parameters
    ----------
    chains : Chains, V candidates, one worked through after the other.
    occupants : Occupants.
    settings : Settings. Thresholds, and whether buried ones are kept.

    Returns
    -------
    Pairs in no order. A stretch is where the product is heard at the audible threshold or
    above it (``everything``: where it is received at all); its figures stand where it is loudest.

    Raises
    ------
    Refused  when there are more than a million.

    Notes
    -----
    Two carriers no more than half the final bandwidth apart are not taken for a pair; where
    a band is in it, two stations less than that bandwidth apart.
    """
    pieces: list[Pairs] = []
    count = 0
    narrow = occupants.low_hz == occupants.high_hz
    for v in range(len(chains)):
        one = chains.take(np.array([v]))
        for meeting in meetings(chains.conversions):
            first, second = pairs_of(
                one, occupants, meeting, settings.audible_at, drop=not settings.everything
            )
            # with everything each pair is a record: no need to work them out to count them
            _check_count(count + len(first) * settings.everything)
            bench = _Bench(one, occupants, meeting, settings)
            spot = narrow[first] & narrow[second]
            for which, size in ((spot, SPOTS_AT_ONCE), (~spot, BANDS_AT_ONCE)):
                rows = np.flatnonzero(which)
                for start in range(0, len(rows), size):
                    part = rows[start : start + size]
                    found = bench.heard(first[part], second[part])
                    pieces.append(found.replace(candidate=found.candidate + v))
                    count += len(found)
                    _check_count(count)
    return Pairs.concat(pieces)


def _check_count(count: int) -> None:
    if count > MOST_RECORDS:
        raise Refused(
            Fault(
                "--intermodulation",
                f"would give more than {MOST_RECORDS:,} pairs ({count:,} so far)",
                remedy="narrow it with --range, --region, --utc or --audible-at, or leave --everything out",
            )
        )


class _Bench:
    """Pairs of one product on one target of one candidate, tried at any dial setting."""

    def __init__(self, chains: Chains, occupants: Occupants, meeting: Meeting, settings: Settings) -> None:
        self.chains, self.occupants, self.meeting, self.settings = chains, occupants, meeting, settings
        self.product = PRODUCTS[meeting.product]
        self.spot = occupants.low_hz == occupants.high_hz
        # Carriers nearer to each other are one to the set, and nearer to the dial what it is set to;
        # stations of a band are put a channel apart, and what stands in a row is not known better.
        self.apart_hz = int(chains.bandwidth_hz[0])
        self.half_hz = self.apart_hz // 2 + 1
        self.made_in = [Tones(chains, i, occupants) for i in meeting.made_in(chains.conversions)]

    def heard(self, first: Ints, second: Ints) -> Pairs:
        """Return the stretches on which some pairs are heard."""
        low, high = received_on(self.chains, self.occupants, self.meeting, first, second)
        there = np.flatnonzero(low <= high)
        first, second, low, high = first[there], second[there], low[there], high[there]
        spots = self.spot[first].all() and self.spot[second].all()
        if spots and self.chains.want_a[0, self.meeting.target] != 0:
            # a passband wide: one look in its middle says it
            rows, dial = np.arange(len(first)), self._in_the_middle(first, second, low, high)
        else:
            rows, low, high, dial = self._cut(first, second, low, high)
        first, second = first[rows], second[rows]
        level, bar, f1, f2 = self._look(first, second, dial)
        whole = np.zeros(len(first), dtype=np.int64)
        found = Pairs(
            candidate=whole, first=first, second=second, product=whole + self.meeting.product,
            target=whole + self.meeting.target, dial_low_hz=low, dial_high_hz=high, loudest_dial_hz=dial,
            f1_hz=np.rint(f1).astype(np.int64), f2_hz=np.rint(f2).astype(np.int64),
            heard_dbm=level, bar_dbm=bar,
        )  # fmt: skip
        least = -np.inf if self.settings.everything else self.settings.audible_at
        return found.take(np.flatnonzero((found.margin_db >= least) & np.isfinite(found.heard_dbm)))

    def _in_the_middle(self, first: Ints, second: Ints, low: Ints, high: Ints) -> Ints:
        lands = (
            self.product.k1 * self.occupants.low_hz[first] + self.product.k2 * self.occupants.low_hz[second]
        )
        a, b = (int(getattr(self.chains, n)[0, self.meeting.target]) for n in ("want_a", "want_b"))
        middle: Ints = np.clip(a * (lands - b), low, high)
        return middle

    def _cut(self, first: Ints, second: Ints, low: Ints, high: Ints) -> tuple[Ints, Ints, Ints, Ints]:
        """Return (row, first and last dial, loudest dial) of the stretches that can be heard."""
        dial = self._points(first, second, low, high)
        count, points = dial.shape
        row = np.repeat(np.arange(count), points)
        margin = self._margin(first[row], second[row], dial.ravel()).reshape(dial.shape)
        rows = np.arange(count)
        if self.settings.everything:
            return rows, low, high, dial[rows, np.argmax(margin, axis=1)]
        above = margin >= self.settings.audible_at
        begins = above & np.insert(~above[:, :-1], 0, True, axis=1)
        ends = above & np.append(~above[:, 1:], np.ones((count, 1), dtype=bool), axis=1)
        hit, start = np.nonzero(begins)
        _, stop = np.nonzero(ends)
        from_hz = self._edge(first[hit], second[hit], dial[hit, np.maximum(start - 1, 0)], dial[hit, start])
        past = dial[hit, np.minimum(stop + 1, points - 1)]
        to_hz = self._edge(first[hit], second[hit], past, dial[hit, stop])
        inside = (np.arange(points)[None] >= start[:, None]) & (np.arange(points)[None] <= stop[:, None])
        best = np.argmax(np.where(inside, margin[hit], -np.inf), axis=1)
        return hit, from_hz, to_hz, dial[hit, best]

    def _edge(self, first: Ints, second: Ints, out_hz: Ints, in_hz: Ints) -> Ints:
        """Return the last hertz that is heard on the way from one that is to one that may not be."""
        out_hz, in_hz = out_hz.copy(), in_hz.copy()
        while len(open_ := np.flatnonzero(np.abs(out_hz - in_hz) > 1)):
            middle = (out_hz[open_] + in_hz[open_]) // 2
            margin = self._margin(first[open_], second[open_], middle)
            heard = margin >= self.settings.audible_at
            in_hz[open_] = np.where(heard, middle, in_hz[open_])
            out_hz[open_] = np.where(heard, out_hz[open_], middle)
        return in_hz

    def _points(self, first: Ints, second: Ints, low: Ints, high: Ints) -> Ints:
        """Return dial settings to look at, ascending: even ones, and those nearest to the two stations."""
        span = high - low
        points = [low + span * k // (EVEN_POINTS - 1) for k in range(EVEN_POINTS)]
        edges = [
            getattr(self.occupants, name)[who] for name in ("low_hz", "high_hz") for who in (first, second)
        ]
        points += [np.clip(edge, low, high) for edge in edges]
        points.append(np.clip((edges[0] + edges[1]) // 2, low, high))
        dial = np.stack(points, axis=1)
        dial.sort(axis=1)
        return dial

    def _margin(self, first: Ints, second: Ints, dial_hz: Ints) -> Floats:
        level, bar, _, _ = self._look(first, second, dial_hz)
        return level - bar

    def _look(self, first: Ints, second: Ints, dial_hz: Ints) -> tuple[Floats, Floats, Floats, Floats]:
        """Return (heard level, bar of hearing, f1, f2) of pairs at dial settings, shape (n,) each."""
        best = np.full(len(first), -np.inf)
        at_1, at_2 = np.zeros(len(first)), np.zeros(len(first))
        spots = self.spot[first] & self.spot[second]
        for f1, f2, off in self._frequencies(first, second, dial_hz):
            level = self._level(first, second, f1, f2, off, dial_hz)
            louder = (level > best) & (np.abs(f1 - f2) >= np.where(spots, self.half_hz, self.apart_hz))
            best = np.where(louder, level, best)
            at_1, at_2 = np.where(louder, f1, at_1), np.where(louder, f2, at_2)
        bar = bar_dbm(
            self.chains, np.zeros(len(first), dtype=np.int64), dial_hz, *self._emission(first, second)
        )
        return best, bar, at_1, at_2

    def _emission(self, first: Ints, second: Ints) -> tuple[npt.NDArray[np.int8], npt.NDArray[np.int32]]:
        """Return sound and width of the products: as wide as both together, a carrier where both are."""
        occupants, k1, k2 = self.occupants, self.product.k1, abs(self.product.k2)
        sound = np.maximum(occupants.sound[first], occupants.sound[second])
        width = k1 * occupants.width_hz[first] + k2 * occupants.width_hz[second]
        return sound, width.astype(np.int32)

    def _level(
        self, first: Ints, second: Ints, f1: Floats, f2: Floats, off_hz: Floats, dial_hz: Ints
    ) -> Floats:
        k1, k2 = self.product.k1, abs(self.product.k2)
        loudest = np.full(len(first), -np.inf)
        for tones in self.made_in:
            one = tones.level_dbm(f1, self.occupants.level_dbm[first], dial_hz)
            two = tones.level_dbm(f2, self.occupants.level_dbm[second], dial_hz)
            made = tones.heard_dbm(
                self.product.order, self.product.more_db, self.meeting.target, k1 * one + k2 * two,
                off_hz, dial_hz,
            )  # fmt: skip
            loudest = np.maximum(loudest, made)
        return loudest

    def _frequencies(self, first: Ints, second: Ints, dial_hz: Ints) -> list[tuple[Floats, Floats, Floats]]:
        """Return lots of (f1, f2, how far off the target their product is) worth trying.

        Notes
        -----
        Of two single frequencies there is nothing to choose. Where a band is in it, the
        loudest is with one of the two at an end of what goes, or as near the dial as can
        be: at 2 f1 - f2 on the dial a passband off it, for there both are equally far apart.
        """
        occupants, k1, k2 = self.occupants, self.product.k1, self.product.k2
        low_1, high_1, low_2, high_2 = (
            ends[who].astype(np.float64)
            for who in (first, second)
            for ends in (occupants.low_hz, occupants.high_hz)
        )
        target = self.meeting.target
        lands = (self.chains.want_a[0, target] * dial_hz + self.chains.want_b[0, target]).astype(np.float64)
        if (low_1 == high_1).all() and (low_2 == high_2).all():
            return [(low_1, low_2, k1 * low_1 + k2 * low_2 - lands)]
        ends_1 = ((lands - k2 * low_2) / k1, (lands - k2 * high_2) / k1)
        least = np.clip(np.minimum(*ends_1), low_1, high_1)
        most = np.clip(np.maximum(*ends_1), low_1, high_1)
        dial = dial_hz.astype(np.float64)
        near = [dial, (lands - k2 * dial) / k1]
        if self.product.order == 3:
            near = [dial - self.apart_hz, dial + self.apart_hz]
        lots = []
        for f1 in (least, most, *(np.clip(f, least, most) for f in near)):
            f2 = np.clip((lands - k1 * f1) / k2, low_2, high_2)
            lots.append((f1, f2, k1 * f1 + k2 * f2 - lands))
        return lots

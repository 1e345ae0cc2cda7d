"""Why a crystal stands where it stands, in words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from enum import StrEnum

from spurplan.columns import NULL_INT
from spurplan.occupancy.occupants import Occupants
from spurplan.planning.converter.candidates import ABOVE, BELOW, OFFSET, SIDES, SLOPE, SUM, Candidates, Cover
from spurplan.planning.converter.figures import Birdies, Figures
from spurplan.planning.converter.ranking import NONE, Ranking, lost_place
from spurplan.planning.reason import Reason
from spurplan.planning.tally import NOBODY
from spurplan.receiver.description import Range
from spurplan.receiver.mixers import CompiledMixer
from spurplan.responses.grades import AUDIBLE, GRADES
from spurplan.responses.routes import equation
from spurplan.units import decimal_text, hz_text, percent_text, s_text, share_text

# Below this an image is likely to be heard: said of every candidate that has it.
POOR_IMAGE_DB = 40.0
# A fold weaker than this is below what any front end keeps out elsewhere. [dB]
FOLD_DB = 60.0
_WEAK_DBM = -100.0
# How many birdies are named one by one.
NAMED = 3


class Why(StrEnum):
    """What a reason is about."""

    place = "its place on the list"
    lost = "the part of the cover that is lost"
    tune = "where on the set the cover is tuned"
    own_if = "an IF of the set"
    intruders = "who is heard"
    unknown = "what lies beyond the tables"
    image = "an image that is not kept out"
    fold = "the cover folded onto itself"
    birdie = "the crystal heard"
    whistle = "stations that beat with themselves"
    backwards = "how the dial is read"


class Reasons:
    """The words for all candidates of a question; made when they are asked for.

    Parameters
    ----------
    chosen, figures, ranking : the candidates in their order, their figures, and why it is theirs.
    covers, ranges, occupants : what they refer to.
    mixer, lo_order : of the converter, and how far its harmonics are looked at.
    tune : where on the set the whole cover is to be tuned, or None. [Hz]
    """

    def __init__(
        self,
        chosen: Candidates,
        figures: Figures,
        ranking: Ranking,
        covers: Sequence[Cover],
        ranges: Sequence[Range],
        occupants: Occupants,
        mixer: CompiledMixer,
        lo_order: int,
        tune: Cover | None = None,
    ) -> None:
        self.chosen, self.figures, self.ranking = chosen, figures, ranking
        self.covers, self.ranges, self.occupants = covers, ranges, occupants
        self.mixer, self.lo_order, self.tune = mixer, lo_order, tune

    def of(self, number: int) -> list[Reason]:
        """Return the reasons of one candidate, that for its place first."""
        if not self.chosen.placed[number]:
            return [Reason(Why.place, self._no_place(number))]
        return [Reason(Why.place, self._place(number)), *self._against(number)]

    def _place(self, number: int) -> str:
        """Return why it has its rank and not the next better one, or why it comes first."""
        place = int(self.ranking.rank[number])
        if self.ranking.same_as[number] != NONE:
            ahead = int(self.ranking.same_as[number])
            lost = self._lost_place(number, ahead)
            return f"injects the same as number {self.ranking.rank[ahead]}: {lost}"
        if not self.ranking.possible[number]:
            return "behind the rest: does not do all that is asked"
        if place > 1:
            return f"behind number {place - 1}: {self._lost_place(number, number - 1)}"
        behind = number + 1
        if behind == len(self.chosen) or self.chosen.cover[behind] != self.chosen.cover[number]:
            return "the only one"
        if not self.chosen.placed[behind] or not self.ranking.possible[behind]:
            return "the only one that does all that is asked"
        return f"first; number 2 is behind it: {self._lost_place(behind, number)}"

    def _lost_place(self, lower: int, upper: int) -> str:
        return lost_place(self.ranking, self.figures, self.chosen, lower, upper)

    def _against(self, number: int) -> Iterator[Reason]:
        chosen, figures = self.chosen, self.figures
        if chosen.lost_hz[number]:
            yield Reason(Why.lost, self._lost(number))
        elif not self.ranking.in_tune[number] and not chosen.alone[number]:
            yield Reason(Why.tune, self._elsewhere(number))
        if figures.everywhere[number]:
            text = "a harmonic of the crystal falls into an IF of the set: heard at every setting"
            yield Reason(Why.own_if, text)
        if figures.dead_hz[number]:
            text = f"the set is deaf on {hz_text(int(figures.dead_hz[number]))} of the dial: its own IF"
            yield Reason(Why.own_if, text)
        yield from self._intruders(number)
        yield from (Reason(Why.image, text) for text in self._images(number))
        yield from (Reason(Why.fold, text) for text in self._folds(number))
        count = int(figures.birdies[number])
        if count > 0:
            named = birdie_words(figures.heard_birdies.of(number))[:NAMED]
            yield from (Reason(Why.birdie, text) for text in named)
        if count > NAMED:
            more = count - NAMED
            yield Reason(Why.birdie, f"and {more} more birdie{'' if more == 1 else 's'}")
        if figures.whistles[number]:
            text = f"stations beat with themselves on {_places(int(figures.whistles[number]))}"
            yield Reason(Why.whistle, text)
        if chosen.side[number] == ABOVE:
            yield Reason(Why.backwards, "the dial runs backwards and sidebands come out inverted")

    def _intruders(self, number: int) -> Iterator[Reason]:
        figures, who = self.figures, self.occupants
        dial = int(figures.worst_dial_hz[number])
        if figures.worst[number] != NOBODY:
            label = who.label_of(int(figures.worst[number]))
            by = equation(figures.worst_steps[number])
            yield Reason(
                Why.intruders,
                f"nothing heard on {share_text(float(figures.unheard_share[number]))}; worst is {label}, "
                f"{GRADES[figures.worst_grade[number]]} on {hz_text(round(dial, -3))} by {by}",
            )
        else:
            yield Reason(Why.intruders, "nothing in the tables is heard")
        if figures.unknown_share[number] > 0:
            share = percent_text(float(figures.unknown_share[number]))
            text = f"on {share} % of it the image lies beyond the tables: unknown, not clear"
            yield Reason(Why.unknown, text)
        straight = int(figures.straight_in[number])
        if straight != NOBODY and figures.straight_in_grade[number] >= AUDIBLE:
            level = s_text(float(figures.straight_in_dbm[number]), float(self.chosen.low_hz[number]))
            text = f"{who.label_of(straight)} comes straight in on the tunable IF, {level}"
            yield Reason(Why.intruders, text)

    def _images(self, number: int) -> Iterator[str]:
        for name, db in (
            ("image", self.figures.image_rejection_db[number]),
            ("second image", self.figures.second_image_rejection_db[number]),
        ):
            if db < POOR_IMAGE_DB:
                yield f"{name} rejection only {db:.0f} dB"

    def _folds(self, number: int) -> Iterator[str]:
        """Return by which harmonics the cover comes in a second time, backwards.

        Notes
        -----
        With Y injected, m Y - r meets the wanted d - Y where r = (m + 1) Y - d, and the
        wanted d + Y where r = (m - 1) Y - d. About half that multiple of Y the cover is
        folded onto itself; no front end can tell the two halves apart.
        """
        side, y = int(self.chosen.side[number]), int(self.chosen.injected_hz[number])
        low, high = int(self.chosen.low_hz[number]), int(self.chosen.high_hz[number])
        if side not in (BELOW, SUM):
            return
        for times in range(-(-2 * low // y), 2 * high // y + 1):
            m = times - 1 if side == BELOW else times + 1
            if not 1 < m <= self.lo_order:
                continue
            down = float(self.mixer.suppression_db(m, 1, _WEAK_DBM))
            if down < FOLD_DB:
                by = f"IF1 = {m} LO1 - RF"
                yield (
                    f"{by} folds the cover onto itself about {_mhz_of_half(times * y)} MHz: "
                    f"{_mhz(times * y)} MHz \N{MINUS SIGN} signal comes in too, {down:.0f} dB down"
                )

    def _lost(self, number: int) -> str:
        """Return how much of the cover is lost, which part, and by which end of the range."""
        chosen = self.chosen
        cover, range_ = self.covers[chosen.cover[number]], self.ranges[chosen.range[number]]
        low, high = int(chosen.low_hz[number]), int(chosen.high_hz[number])
        parts, ends = [], set()
        for start, stop, edge in ((cover[0], low, low), (high, cover[1], high)):
            if start < stop:
                parts.append(f"{_mhz(start)} to {_mhz(stop)} MHz")
                at = int(SLOPE[chosen.side[number]] * edge + self._shift(number))
                ends.add("begins" if at == range_.low_hz else "ends")
        where = " and ".join(
            f"{verb} at {hz_text(range_.low_hz if verb == 'begins' else range_.high_hz)}"
            for verb in sorted(ends)
        )
        lost = decimal_text(int(chosen.lost_hz[number]), 3)
        return f"loses {lost} kHz of the cover, {' and '.join(parts)}: range {range_.name} {where}"

    def _shift(self, number: int) -> int:
        return int(OFFSET[self.chosen.side[number]] * self.chosen.injected_hz[number])

    def _elsewhere(self, number: int) -> str:
        low, high = (_mhz(int(ends[number])) for ends in self.chosen.set_hz)
        assert self.tune is not None, "without a stretch to tune in all of them are in it"
        span = " to ".join(map(_mhz, self.tune))
        return f"tunes {low} to {high} MHz: not the whole cover in {span} MHz"

    def _no_place(self, number: int) -> str:
        if self.chosen.alone[number]:
            return "no range of the set tunes any of it"
        hz, cover = int(self.chosen.injected_hz[number]), self.covers[self.chosen.cover[number]]
        return no_place(hz, cover)


def no_place(injected_hz: int, cover: Cover) -> str:
    """Return why an injection brings a cover into no range of a set."""
    low, high = cover
    spans = []
    for side in (BELOW, ABOVE, SUM):
        ends = sorted(int(SLOPE[side] * d + OFFSET[side] * injected_hz) for d in cover)
        if ends[0] > 0 and (side == SUM or not low <= injected_hz <= high):
            name = "as the sum" if side == SUM else SIDES[side]
            spans.append(f"{_mhz(ends[0])}-{_mhz(ends[1])} MHz {name}")
    inside = (
        "it stands inside the cover, where a difference has no IF; " if low <= injected_hz <= high else ""
    )
    return f"{inside}no range holds any of its tunable IF ({', '.join(spans)}), nor multiplied"


def birdie_words(birdies: Birdies) -> list[str]:
    """Return each birdie in words, in the order given."""
    words = []
    for i in range(len(birdies)):
        exact = int(birdies.exact_hz[i])
        where = (
            f"on {hz_text(exact)}"
            if exact != NULL_INT
            else f"from {hz_text(int(birdies.dial_low_hz[i]))} to {hz_text(int(birdies.dial_high_hz[i]))}"
        )
        harmonic = int(birdies.harmonic[i])
        if not harmonic:
            words.append(f"{birdies.equation[i]} is heard {where}")
            continue
        at, target = hz_text(int(birdies.harmonic_hz[i])), int(birdies.target[i])
        what = f"the crystal, {at}," if harmonic == 1 else f"its harmonic {harmonic}, {at},"
        if target == 0:
            words.append(f"{what} stands in the cover")
        else:
            into = "the tunable IF" if target == 1 else "an IF of the set"
            words.append(f"{what} falls into {into}: heard {where}")
    return words


def _places(count: int) -> str:
    return "1 place" if count == 1 else f"{count} places"


def _mhz_of_half(hz: int) -> str:
    return decimal_text(hz * 5, 7)


def _mhz(hz: int) -> str:
    return decimal_text(hz, 6)

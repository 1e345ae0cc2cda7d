"""What is found of a range, a stretch of it or a setting: figures, and the one place with their words."""

from __future__ import annotations

import math
from dataclasses import dataclass

from spurplan.responses.routes import PRODUCT
from spurplan.units import hz_text, part_text, share_span_text, share_text

# Shares below this are not worth a word.
WORTH_A_WORD = 0.02
TYPICAL, BUSY, EVERYBODY = "typical", "busy", "everybody"
AT = {TYPICAL: "at a typical hour", BUSY: "on a busy evening", EVERYBODY: "with everybody on the air"}
# the same of one hour of a month
AT_THIS_HOUR = {TYPICAL: "at that hour", BUSY: "at that hour of a busy day", EVERYBODY: AT[EVERYBODY]}


def at_text(hour: str, *, this_hour: bool) -> str:
    """Return when something is so, in words."""
    return (AT_THIS_HOUR if this_hour else AT)[hour]


# why nothing heard need not be clear
HARDLY_LISTED = "the tables list hardly anybody on its images"


def nobody_tells(unlisted: float, untold: float, intruders: float) -> bool:
    """Whether hardly anything of a dial can be told, for the tables list hardly anybody on its images.

    Parameters
    ----------
    unlisted, untold, intruders : float. Parts of it, as of `RangeFinding`.
    """
    return unlisted > 0.0 and untold > 1.0 - WORTH_A_WORD and intruders < WORTH_A_WORD


def listed_alone_said(unlisted: float) -> str:
    """Return that a verdict holds for those listed alone; "" where the tables tell enough."""
    return f"That holds for those listed alone: {HARDLY_LISTED}." if unlisted >= WORTH_A_WORD else ""


# what a way in is called that takes two stations
BY_SEVERAL = "intermodulation"
# what a row without a label is called
UNNAMED = "unnamed"


def by_way_of(response: str) -> str:
    """Return by what somebody comes in, in words."""
    if response == BY_SEVERAL:
        return f"by {response}"
    # of these there are many, of each other way one
    return f"by way of {'a' if response == PRODUCT else 'the'} {response}"


@dataclass(frozen=True)
class Loudest:
    """Who is heard loudest on a range wherever he is on the air.

    Attributes
    ----------
    response : str. What the trade calls the way in.
    label : str. The station or band, as its table calls it.
    margin_db : float. How far over the bar of hearing. [dB]
    """

    response: str
    label: str
    margin_db: float

    @property
    def text(self) -> str:
        """Who, and by what, in words."""
        return f"{self.label} {by_way_of(self.response)}"


@dataclass(frozen=True)
class Loss:
    """What one service takes by one way in.

    Attributes
    ----------
    response : str. What the trade calls the way in.
    label : str. The station or band, as its table calls it.
    share : float. Part of the dial that it spoils on the mean.
    band : str. Service and band it belongs to: of these a band and its channels are the same people.
    """

    response: str
    label: str
    share: float
    band: str = ""

    @property
    def way(self) -> str:
        """By what it comes, in words."""
        return by_way_of(self.response)

    @property
    def first(self) -> str:
        """By what most is lost, and whom it lets in first, in words."""
        return f"{self.way}, {self.label} first"


@dataclass(frozen=True)
class WeakImage:
    """Where on a dial a station of S9 on an image of the set comes in strong, whoever is on the air.

    Attributes
    ----------
    low_hz, high_hz : int. First and last setting at which it does. [Hz]
    from_the_bottom, to_the_top : bool. Whether that begins and ends with the dial.
    rejection_db : float. Least rejection there. [dB]
    away_hz : int or None. How far above the dial the image lies, negative below; None where that varies. [Hz]
    """

    low_hz: int
    high_hz: int
    from_the_bottom: bool
    to_the_top: bool
    rejection_db: float
    away_hz: int | None

    @property
    def where(self) -> str:
        """The part of the dial, in words, rounded outward to two figures; "" for all of it."""
        low, high = hz_text(_two_figures(self.low_hz)), hz_text(_two_figures(self.high_hz, up=True))
        if self.from_the_bottom and self.to_the_top:
            return ""
        if self.to_the_top:
            return f"above {low}"
        return f"below {high}" if self.from_the_bottom else f"between {low} and {high}"

    @property
    def why(self) -> str:
        """How weak, and who comes in, in words."""
        if self.away_hz is None:
            who = "strong stations on it"
        else:
            who = f"strong stations {hz_text(abs(self.away_hz))} {'above' if self.away_hz > 0 else 'below'}"
        return f"image down to {self.rejection_db:.0f} dB, {who} come in too"


def _two_figures(hz: int, *, up: bool = False) -> int:
    step: int = 10 ** max(len(str(hz)) - 2, 0)
    return (math.ceil if up else math.floor)(hz / step) * step


@dataclass(frozen=True)
class RangeFinding:
    """What becomes of a range, or of a stretch that was asked about.

    Attributes
    ----------
    range : str. Its name.
    low_hz, high_hz : int. First and last dial frequency. [Hz]
    cover : bool. Whether a stretch was asked about instead of the whole range.
    hour : str. `TYPICAL`, `BUSY` or `EVERYBODY`.
    usable, usable_low, usable_high : float. Mean chance that a setting can be listened to, and between
        what it lies in eight worlds of ten.
    clear : float. Part that can be listened to whatever is on the air.
    unknown, dead, noise, place, intruders : float. As of `share.Shares`.
    wanted_dbm : float. Level of the wanted signal in the middle. [dBm]
    decided_by : tuple of str. Stations on which much of it hangs.
    losses : tuple of Loss. Who takes most, most first.
    regulars : tuple of str. Stations nearly always heard whatever share they take, each with its setting.
    this_hour : bool. Whether that is so at one hour of a month.
    weak_image : WeakImage or None. Where it is not to be trusted whoever is on the air.
    busy_usable : float or None. As `usable`, on a busy evening, where another hour was asked about.
    loudest : Loudest or None. Who is heard loudest, which need not be who takes most.
    unlisted : float. Part that nobody can tell of besides, for on its images the tables list hardly anybody;
        the other parts are worked out as if nobody else were there.
    """

    range: str
    low_hz: int
    high_hz: int
    cover: bool
    hour: str
    usable: float
    usable_low: float
    usable_high: float
    clear: float
    unknown: float
    dead: float
    noise: float
    place: float
    intruders: float
    wanted_dbm: float
    decided_by: tuple[str, ...] = ()
    losses: tuple[Loss, ...] = ()
    regulars: tuple[str, ...] = ()
    this_hour: bool = False
    weak_image: WeakImage | None = None
    busy_usable: float | None = None
    loudest: Loudest | None = None
    unlisted: float = 0.0

    @property
    def untold(self) -> float:
        """Part that nobody can tell of: its images lie beyond the tables, or where they list nobody."""
        return self.unknown + self.unlisted

    @property
    def nobody_tells(self) -> bool:
        """Whether hardly anything of it can be told, for the tables list hardly anybody on its images."""
        return nobody_tells(self.unlisted, self.untold, self.intruders)

    @property
    def width_hz(self) -> int:
        """How many whole hertz of dial it is about. [Hz]"""
        return self.high_hz - self.low_hz + 1

    @property
    def name(self) -> str:
        """What it is called at the head of a sentence."""
        span = f"{hz_text(self.low_hz)} to {hz_text(self.high_hz)}"
        return span if self.cover else f"Range {self.range}"

    @property
    def at(self) -> str:
        """When it is so, in words."""
        return at_text(self.hour, this_hour=self.this_hour)

    @property
    def sentence(self) -> str:
        """One or two sentences: how much is usable, how sure that is, and what takes the rest."""
        return " ".join(sentence for sentence in (self.usable_said, self.lost_said) if sentence)

    @property
    def usable_said(self) -> str:
        """How much is usable, and how sure that is."""
        if self.unknown > 1.0 - WORTH_A_WORD:
            return f"{self.name}: nobody can tell; its images lie beyond the tables."
        if self.nobody_tells:
            return f"{self.name}: nobody can tell; {HARDLY_LISTED}."
        span = share_span_text(self.usable_low, self.usable_high)
        how_sure = f" ({span})" if span and not self.decided_by else ""
        text = f"{self.name}: {self.at} {part_text(self.usable)} is usable{how_sure}"
        if self.busy_usable is not None:
            text += f", {at_text(BUSY, this_hour=self.this_hour)} {share_text(self.busy_usable)}"
        if self.hour != EVERYBODY and self.unlisted < WORTH_A_WORD:
            then = " then" if self.this_hour else ""
            clear = part_text(self.clear) if self.clear in (0.0, 1.0) else share_text(self.clear)
            text += f", {clear} is clear whatever is on the air{then}"
        text += "."
        if self.decided_by:
            text += f" It depends on whether {_either(self.decided_by)} is on."
        return " ".join(part for part in (text, listed_alone_said(self.unlisted)) if part)

    @property
    def lost_said(self) -> str:
        """What takes most of the rest; "" where nothing is worth a word."""
        parts = []
        if self.intruders >= WORTH_A_WORD and self.losses:
            first = self.losses[0]
            lost = f"Most is lost {first.way}, {first.label} first"
            # what comes often and what comes loud are two things to beware of
            if self.loudest is not None and self.loudest.response != first.response:
                lost += f"; loudest is {self.loudest.text}"
            parts.append(f"{lost}.")
        if self.noise >= WORTH_A_WORD and self.noise >= self.intruders:
            of_place = self.place >= 0.5 * self.noise
            why = "the place is to blame, not the set" if of_place else "the set is deaf there"
            parts.append(f"{share_text(self.noise)} is lost to noise: {why}.")
        if WORTH_A_WORD <= self.unknown <= 1.0 - WORTH_A_WORD:
            parts.append(f"{share_text(self.unknown)} is unknown: images beyond the tables.")
        return " ".join(parts)


@dataclass(frozen=True)
class SettingFinding:
    """What becomes of one dial setting.

    Attributes
    ----------
    range : str.
    dial_hz : int. [Hz]
    hour : str.
    usable_chance : float. That it can be listened to, 0 to 1.
    wanted_dbm : float. Level of the wanted signal. [dBm]
    state : str. "unknown", "dead", "deaf", "unlisted" where a strong station in no table would be heard and
        they list hardly anybody (the chance is worked out as if it were not there), or "" where it hangs on
        who is on the air.
    losses : tuple of Loss. Who spoils it, likeliest first; shares are chances.
    among_several : bool. Whether another range tunes it as well.
    """

    range: str
    dial_hz: int
    hour: str
    usable_chance: float
    wanted_dbm: float
    state: str
    losses: tuple[Loss, ...] = ()
    among_several: bool = False

    @property
    def sentence(self) -> str:
        """How often it is usable, and who spoils it."""
        at = f"{hz_text(self.dial_hz)}{f' on range {self.range}' if self.among_several else ''}"
        if self.state == "unknown":
            return f"{at}: nobody can tell; an image lies beyond the tables."
        if self.state == "dead":
            return f"{at}: not usable: that is an IF of the set."
        if self.state == "deaf":
            return f"{at}: the wanted signal goes under in the noise."
        unlisted = float(self.state == "unlisted")
        if nobody_tells(unlisted, unlisted, 1.0 - self.usable_chance):
            return f"{at}: nobody can tell; {HARDLY_LISTED}."
        text = f"{at}: usable {_times(self.usable_chance)}."
        if self.losses and self.losses[0].share >= 0.005:
            first = self.losses[0]
            text += f" {first.label} {first.way}, {_times(first.share)}."
        return " ".join(part for part in (text, listed_alone_said(unlisted)) if part)


@dataclass(frozen=True)
class CoverFinding:
    """Whether a stretch is usable, and what it would take where it is not.

    Attributes
    ----------
    busy : RangeFinding. On a busy evening.
    stranger : float. Chance that somebody else is heard at a setting on a busy evening.
    limit : float. What that chance may be where a stretch is called usable.
    more_db : float or None. Least more rejection of everything that is not wanted which brings it there;
        0 where it is, None where no rejection does.
    regulars : tuple of str. Stations nearly always heard, each with the setting it is heard on.
    """

    busy: RangeFinding
    stranger: float
    limit: float
    more_db: float | None
    regulars: tuple[str, ...] = ()

    @property
    def usable(self) -> bool:
        """Whether an old hand would call it usable."""
        return self.stranger < self.limit and self.busy.noise < 0.5 and self.busy.unknown < 0.5

    @property
    def sentence(self) -> str:
        """A sentence or two, as it would be said at the bench."""
        name = self.busy.name
        if self.busy.unknown >= 0.5:
            return f"{name}: nobody can tell: the images lie beyond the tables."
        if self.usable and self.busy.unlisted:
            return f"{name}: nobody can tell: {HARDLY_LISTED}."
        if self.busy.noise >= 0.5:
            place = self.busy.place >= 0.5 * self.busy.noise
            why = "noise from outside is over the wanted signal" if place else "the set is deaf there"
            return f"{name}: not usable: {why}."
        regulars = f"; {_either(self.regulars, 'and')}" if self.regulars else ""
        weak = self.busy.weak_image
        if self.usable:
            met = "hardly ever meet a stranger" if self.stranger < 0.03 else "meet a stranger now and then"
            but = f", but do not trust it{_spaced(weak.where)}: {weak.why}" if weak else ""
            return f"{name}: usable{but}; {self.busy.at} you will {met}{regulars}."
        often = f"a stranger at {_times(self.stranger, 'settings')}"
        if self.more_db is None:
            cure = "no amount of rejection alone mends that"
        else:
            cure = f"it would take {self.more_db:.0f} dB more rejection"
        return f"{name}: not usable {self.busy.at}: {often}{regulars}; {cure}."


def _spaced(words: str) -> str:
    return f" {words}" if words else ""


def _times(chance: float, of: str = "times") -> str:
    if chance >= 0.995:
        return "practically always" if of == "times" else f"practically all {of}"
    hundredths = max(round(100 * chance), 1)
    if hundredths == 1:
        return "once in 100" if of == "times" else f"1 {of.removesuffix('s')} in 100"
    return f"{hundredths} {of} in 100"


def _either(names: tuple[str, ...], word: str = "or") -> str:
    shown = names[:3]
    return shown[0] if len(shown) == 1 else f"{', '.join(shown[:-1])} {word} {shown[-1]}"

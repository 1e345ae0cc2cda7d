"""What every question takes: a set, band tables, settings, ranges, a dial setting, as they are given."""

from __future__ import annotations

import functools
import inspect
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, field, fields, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, ParamSpec, TypeVar

import numpy as np
import numpy.typing as npt

from spurplan import units
from spurplan.errors import BadValue, Fault, Refused, did_you_mean, text_of
from spurplan.occupancy import expand
from spurplan.occupancy.bands import Bands, in_tables, read_bands
from spurplan.occupancy.hours import MINUTE_SECONDS, parse_moment
from spurplan.occupancy.local import with_local
from spurplan.occupancy.occupants import Occupants
from spurplan.occupancy.typical_levels import Levels, option_levels, read_levels, typical_levels
from spurplan.place import parse_month, parse_place, parse_sunspots
from spurplan.receiver.changes.edits import changed
from spurplan.receiver.changes.front_ends import with_ahead
from spurplan.receiver.description import Box, Local, Range, Receiver
from spurplan.receiver.description.quantities import level_text_of, wanted_of
from spurplan.receiver.file.reading import read_box, read_receiver
from spurplan.receiver.listener import MODES
from spurplan.units import (
    FrequencyLike,
    Where,
    as_path,
    as_whole,
    flag_faults,
    hz_text,
    is_number,
    pythons_own,
)

if TYPE_CHECKING:
    from spurplan.occupancy.sky import HereAndNow

ReceiverLike = Receiver | str | Path
SpanLike = tuple[FrequencyLike, FrequencyLike] | npt.NDArray[np.integer[Any]] | str
BandsLike = Bands | str | Path | Sequence[str | Path] | None

HIGHEST_LO_ORDER = 40
ACTIVITIES = ("typical", "busy", "everybody")
# enough for an interval, and what a seed may be
WORLDS, MOST_WORLDS = 64, 10_000
SEED, MOST_SEED = 5, 2**31
# the 21st harmonic of a medium-wave carrier has been reported on the short waves
HIGHEST_RF_ORDER = 25


@dataclass(frozen=True, kw_only=True)
class Settings:
    """How a question is asked.

    Attributes
    ----------
    region : int or None. ITU region whose table rows apply; the receiver's where None.
    utc : str or None. "1800", "18:00" or "18:00:20": only who is on the air then.
    day : str or None. "mon" to "sun".
    place : str or None. Where the set stands, as "52N,5E" or a locator: with month and utc what can be heard
        there is that hour's; the receiver's where None.
    month : int, str or None. 1 to 12, or its name.
    sunspots : float, str or None. Sunspot number, smoothed over twelve months; 70 where None.
    range : str or None. One range of the set by name; all where None.
    lo_order, rf_order : int. Highest harmonics of oscillator and signal at each mixer.
    level : mapping of service to level text. Overrides the typical levels.
    levels : path or None. A file of typical levels in place of the shipped one.
    strong_at, audible_at : float. Margins over the floor of the grades. [dB]
    skirts : bool. Signals beyond the -6 dB passband too.
    everything : bool. Buried ones too, and nothing pruned.
    intermodulation : bool. Products of two and three stations too.
    ahead : sequence of Box, or of paths of files of one each. Boxes in the aerial lead, outermost first,
        outside those of the receiver.
    local : sequence of Local, or of text as "1278kHz=-13dBm,name". Stations nearby, beside those of the
        tables and of the receiver.
    mode : str or None. What is listened to, "am", "ssb", "cw" or "fm"; the receiver's where None.
    wanted : str or None. "weak", "fair", "good" or a level; the receiver's where None.
    activity : str. "typical", "busy" or "everybody": who is on the air.
    worlds, seed : int. How many worlds are drawn to say how sure a share is, and which.

    Raises
    ------
    Refused  for orders, thresholds or types that make no sense, all at once.
    """

    region: int | None = None
    utc: str | None = None
    day: str | None = None
    place: str | None = None
    month: int | str | None = None
    sunspots: float | str | None = None
    range: str | None = None
    lo_order: int = 10
    rf_order: int = 3
    level: Mapping[str, str] = field(default_factory=dict)
    levels: str | Path | None = None
    strong_at: float = 10.0
    audible_at: float = 0.0
    skirts: bool = False
    everything: bool = False
    intermodulation: bool = False
    ahead: Sequence[Box | str | Path] = ()
    local: Sequence[Local | str] = ()
    mode: str | None = None
    wanted: str | None = None
    activity: str = "typical"
    worlds: int = WORLDS
    seed: int = SEED

    def __post_init__(self) -> None:
        for name, value in list(vars(self).items()):
            own = pythons_own(value)
            if own is not value:  # numpy's numbers are numbers, and JSON knows none of them
                object.__setattr__(self, name, own)
        faults = [*self._orders(), *self._thresholds(), *self._hour()]
        if self.region is not None and (type(self.region) is not int or self.region not in (1, 2, 3)):
            faults.append(Fault("--region", "is not an ITU region", str(self.region), "give 1, 2 or 3"))
        if self.range is not None and not isinstance(self.range, str):
            faults.append(not_a_name(self.range))
        faults += [*self._flags(), *self._levels(), *self._listening(), *self._boxes(), *self._nearby()]
        if faults:
            raise Refused(faults)

    def _hour(self) -> list[Fault]:
        """Read place, month and sunspots, and return what is wrong with them or missing beside them."""
        faults = []
        if self.place is not None:
            if not isinstance(self.place, str):
                remedy = 'write it in quotes, as "52N,5E"'
                faults.append(Fault("--place", "is not a place as text", text_of(self.place), remedy))
            else:
                try:
                    parse_place(self.place)
                except BadValue as bad:
                    faults.append(bad.at("--place"))
        faults += self._read("month", parse_month, lambda month: as_whole(month) is not None)
        faults += self._read("sunspots", parse_sunspots, is_number)
        if self.place is not None:
            missing = [f"--{name}" for name in ("month", "utc") if getattr(self, name) is None]
            if missing:
                rule = f"has no {' and no '.join(missing)} beside it"
                remedy = f"what can be heard there hangs on month and hour: add {' and '.join(missing)}"
                faults.append(Fault("--place", rule, text_of(self.place), remedy))
        if self.sunspots is not None and self.month is None and self.place is None:
            rule = "changes nothing without a month"
            faults.append(Fault("--sunspots", rule, text_of(self.sunspots), "add --month and --utc"))
        return faults

    def _read(self, name: str, parse: Callable[[str], float], whole: Callable[[Any], bool]) -> list[Fault]:
        """Put a setting in figures, given as such or as text; return what is wrong with it."""
        value: Any = getattr(self, name)
        if value is None:
            return []
        try:
            if not isinstance(value, str) and (isinstance(value, bool) or not whole(value)):
                raise BadValue(text_of(value), "is not a number", "give a number, or text")
            # what no float holds is no such number either
            object.__setattr__(self, name, parse(value if isinstance(value, str) else f"{value:.12g}"))
        except OverflowError:
            return [Fault(f"--{name}", "is too large a number", remedy="give a smaller one")]
        except BadValue as bad:
            return [bad.at(f"--{name}")]
        return []

    def _orders(self) -> list[Fault]:
        faults = []
        for name, value, low, high in (
            ("--lo-order", self.lo_order, 0, HIGHEST_LO_ORDER),
            ("--rf-order", self.rf_order, 1, HIGHEST_RF_ORDER),
        ):
            if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
                faults.append(Fault(name, "is not an order", str(value), f"give {low} to {high}"))
        return faults

    def _thresholds(self) -> list[Fault]:
        faults = []
        for name, value in (("--strong-at", self.strong_at), ("--audible-at", self.audible_at)):
            if not is_number(value) or not -200.0 <= value <= 200.0:
                faults.append(
                    Fault(name, "is not a margin over the floor", str(value), "give -200 to 200 dB")
                )
        if not faults and self.strong_at < self.audible_at:
            faults.append(
                Fault(
                    "--strong-at",
                    f"is below --audible-at {self.audible_at:g}",
                    f"{self.strong_at:g}",
                    "strong begins at or above audible",
                )
            )
        return faults

    def _flags(self) -> list[Fault]:
        return [
            *flag_faults(self.skirts, "--skirts"),
            *flag_faults(self.everything, "--everything"),
            *flag_faults(self.intermodulation, "--intermodulation"),
        ]

    def _listening(self) -> list[Fault]:
        faults = []
        for name, value, known in (("--mode", self.mode, MODES), ("--activity", self.activity, ACTIVITIES)):
            if name == "--mode" and value is None:
                continue
            if not isinstance(value, str) or value not in known:
                remedy = did_you_mean(value, known) if isinstance(value, str) else f"give {', '.join(known)}"
                faults.append(Fault(name, "is not known", str(value), remedy))
        if self.wanted is not None:
            try:
                wanted_of(self.wanted)
            except BadValue as bad:
                faults.append(bad.at("--wanted"))
        for name, count, most in (("--worlds", self.worlds, MOST_WORLDS), ("--seed", self.seed, MOST_SEED)):
            least = 2 if name == "--worlds" else 0
            whole = units.as_whole(count)
            if whole is None or not least <= whole <= most:
                faults.append(Fault(name, "is no such number", str(count), f"give {least} to {most:,}"))
        return faults

    def _levels(self) -> list[Fault]:
        faults = []
        if not isinstance(self.level, Mapping) or not all(isinstance(name, str) for name in self.level):
            remedy = 'give a mapping, as {"broadcast": "S9+40"}'
            faults.append(Fault("--level", "is no level of a service", str(self.level), remedy))
        if self.levels is not None:
            try:
                as_path(self.levels, "--levels")
            except Refused as refused:
                faults += refused.faults
        return faults

    def _boxes(self) -> list[Fault]:
        listed = isinstance(self.ahead, list | tuple)
        if listed and all(isinstance(box, Box | str | Path) for box in self.ahead):
            return []
        return [Fault("--ahead", "is no list of boxes", str(self.ahead), "give files of boxes, or Box")]

    def _nearby(self) -> list[Fault]:
        """Read the local stations, and return what is wrong with them."""
        remedy = "write each as 1278kHz=-13dBm,name"
        if not isinstance(self.local, list | tuple):
            return [Fault("--local", "is no list of stations", text_of(self.local), remedy)]
        faults, read = [], []
        for station in self.local:
            try:
                if not isinstance(station, Local | str):
                    raise BadValue(text_of(station), "is no station", remedy)
                read.append(station if isinstance(station, Local) else local_of(station))
            except BadValue as bad:
                faults.append(bad.at("--local"))
        object.__setattr__(self, "local", tuple(read))
        return faults

    def plain(self) -> dict[str, Any]:
        """Return the settings as plain values, for the answer."""
        values = asdict(replace(self, ahead=(), local=()))
        values["local"] = [
            f"{hz_text(station.frequency_hz)}={station.level},{station.label}"
            for station in self.local
            if isinstance(station, Local)
        ]
        values["ahead"] = [box.name if isinstance(box, Box) else str(box) for box in self.ahead]
        values["level"] = dict(self.level)
        values["levels"] = None if self.levels is None else str(self.levels)
        return values


# A pointer is off by less than this part of what it shows.
OFF = 0.05


def local_of(text: str) -> Local:
    """Return a local station from "1278kHz=-13dBm,name".

    Raises
    ------
    BadValue  for another form, or what is no frequency or no level.
    """
    frequency, equals, rest = text.partition("=")
    level, comma, label = (part.strip() for part in rest.partition(","))
    if not equals or not level or (comma and not label):
        raise BadValue(text, "is no station with its level", "write it as 1278kHz=-13dBm,name")
    given = {"label": units.name_of(label)} if label else {}
    frequency = frequency.strip()
    # only a number without its unit needs the tables
    where = in_tables(read_bands(None)) if units.is_bare(frequency) else None
    return Local(frequency_hz=units.hz_of(frequency, where=where), level=level_text_of(level), **given)


def not_a_name(value: object) -> Fault:
    """Return the fault of a name of a range that is no text: 4 is not "4"."""
    return Fault("--range", "is not a name", str(value), "give the name as text")


def settings_from(settings: Settings | None, options: Mapping[str, Any]) -> Settings:
    """Return settings with options put over them.

    Raises
    ------
    TypeError  for an option that does not exist, with the nearest one.
    Refused  for settings that are none.
    """
    if settings is not None and not isinstance(settings, Settings):
        raise Refused(Fault("settings", "is no Settings", str(settings), "give options by name"))
    known = [f.name for f in fields(Settings)]
    for name in options:
        if name not in known:
            raise TypeError(f"no option {name!r}; {did_you_mean(name, known)}")
    if settings is None:
        return Settings(**options)
    return Settings(**{**{name: getattr(settings, name) for name in known}, **options})


Asked = ParamSpec("Asked")
Answered = TypeVar("Answered")


def public_question(question: Callable[Asked, Answered]) -> Callable[Asked, Answered]:
    """Make a function one that users ask: all but the receiver by name, and sums as they were tested.

    Raises
    ------
    TypeError  for a second argument without its name; it says which names there are.

    Notes
    -----
    Skirts and sums of powers run out to where a float holds nothing more, and nothing is what is
    meant there; a caller's ``numpy.seterr(all="raise")`` is for the caller's own sums.
    """

    @functools.wraps(question)
    def answered(*args: Asked.args, **options: Asked.kwargs) -> Answered:
        if len(args) > 1:
            first, *others = inspect.signature(question).parameters
            raise TypeError(
                f"{question.__name__}() takes {first} by its place and all else by name: "
                f"give {others[0]}=, {others[1]}= or what else help({question.__name__}) has"
            )
        with np.errstate(divide="warn", over="warn", invalid="warn", under="ignore"):
            return question(*args, **options)

    return answered


def as_receiver(receiver: ReceiverLike, settings: Settings | None = None) -> Receiver:
    """Return a receiver from itself or its file, as settings ask: where, when, listened to how."""
    made = receiver if isinstance(receiver, Receiver) else read_receiver(as_path(receiver, "receiver"))
    if settings is None:
        return made
    if settings.ahead:
        made = with_ahead(
            made, boxes=[box if isinstance(box, Box) else read_box(box) for box in settings.ahead]
        )
    fresh = [
        station for station in settings.local if isinstance(station, Local) and station not in made.local
    ]
    if fresh:
        made = changed(made, made.name, local=(*made.local, *fresh))
    now = here_and_now(made, settings)
    storms = None if now is None else now.atmospheric
    if storms != made.atmospheric:
        made = changed(made, made.name, atmospheric=storms)
    if settings.mode is None and settings.wanted is None:
        return made
    overrides = {name: value for name in ("mode", "wanted") if (value := getattr(settings, name)) is not None}
    # what is asked for holds on every range, whatever the file says of one
    ranges = tuple(changed(range_, made.name, **dict.fromkeys(overrides)) for range_ in made.ranges)
    return changed(made, made.name, **overrides, ranges=ranges)


def here_and_now(receiver: Receiver, settings: Settings) -> HereAndNow | None:
    """Return the place and hour asked about; None where no month was given, and medians stand.

    Raises
    ------
    Refused  for a month without a place or without an hour, and an hour that is none.
    """
    if settings.month is None:
        return None
    place = settings.place or receiver.place
    faults = []
    if place is None:
        remedy = "add --place, or place to the receiver file"
        faults.append(Fault("--month", "has no place beside it", str(settings.month), remedy))
    if settings.utc is None:
        faults.append(Fault("--month", "has no hour beside it", str(settings.month), "add --utc"))
    if faults:
        raise Refused(faults)
    try:
        second = parse_moment(settings.utc, None).second
    except BadValue as bad:
        raise Refused(bad.at("utc")) from None
    # dear to import, and not needed without a month
    from spurplan.occupancy.sky import HereAndNow

    assert place is not None
    assert second is not None
    month, sunspots = settings.month, settings.sunspots
    assert isinstance(month, int)
    assert not isinstance(sunspots, str)
    minute = second // MINUTE_SECONDS
    return HereAndNow(parse_place(place), month=month, utc_hour=minute / 60, sunspots=sunspots)


def as_bands(bands: BandsLike) -> Bands:
    """Return band tables from themselves, paths, or None for the shipped ones.

    Raises
    ------
    Refused  with the faults of the files.
    """
    return bands if isinstance(bands, Bands) else read_bands(bands)


def occupants_of(receiver: Receiver, bands: Bands, settings: Settings) -> Occupants:
    """Return who may be on the air for a receiver under some settings."""
    region = settings.region if settings.region is not None else receiver.region
    now = here_and_now(receiver, settings)
    occupants = expand.occupants_of(
        with_local(bands, receiver.local),
        region=region,
        utc=settings.utc,
        day=settings.day,
        levels=_levels_asked(settings),
        antenna_gain_db=receiver.antenna_gain_db,
        now=now,
        terminals=receiver.noise is not None,
    )
    assumptions = _place_unused(receiver) if now is None else _noise_as_measured(receiver)
    if receiver.local:
        # what lies between the tables and a station beyond them is as unknown as before
        occupants = occupants.replace(reach=bands.reach(region))
        single = len(receiver.local) == 1
        nearby = "1 local station is" if single else f"{len(receiver.local)} local stations are"
        assumptions = [
            *assumptions,
            f"{nearby} on the air in {'its' if single else 'their'} hours, as loud as given",
        ]
    return occupants.replace(assumptions=(*occupants.assumptions, *assumptions)) if assumptions else occupants


def _place_unused(receiver: Receiver) -> list[str]:
    if receiver.place is None:
        return []
    return [
        f"no month and hour for {receiver.place}: numbers on the air and levels are those of a typical "
        "hour of the year; --month and --utc take those of an hour"
    ]


def _noise_as_measured(receiver: Receiver) -> list[str]:
    if receiver.noise is None:
        return []
    return ["noise stays as it was measured, whatever the hour"]


def loudest_typical_dbm(receiver: Receiver) -> float:
    """Return the level, at its terminals, of a station that no table knows. [dBm]"""
    return typical_levels().loudest_dbm + receiver.antenna_gain_db


def hour_settings(receiver: Receiver, settings: Settings) -> dict[str, Any]:
    """Return place, month and sunspots as they were taken, for the answer; none where medians stand."""
    now = here_and_now(receiver, settings)
    if now is None:
        return {"place": None, "month": None, "sunspots": None}
    return {"place": str(now.place), "month": now.month, "sunspots": now.r12}


def _levels_asked(settings: Settings) -> Levels:
    """Return the levels asked for: single services over those of a file, where both are given."""
    if settings.levels is None:
        return settings.level or None
    table = read_levels(settings.levels)
    if not settings.level:
        return table
    single = option_levels(settings.level, tuple(table.services))
    assert isinstance(single, dict)
    return table.with_levels(single)


def picked_ranges(receiver: Receiver, name: str | None) -> tuple[Range, ...]:
    """Return the range of a name, or all.

    Raises
    ------
    Refused  when there is no such range; the names are listed.
    """
    if name is None:
        return receiver.ranges
    if not isinstance(name, str):
        raise Refused(not_a_name(name))
    picked = tuple(r for r in receiver.ranges if r.name == name)
    if not picked:
        known = ", ".join(f'"{r.name}"' for r in receiver.ranges)
        raise Refused(Fault("--range", "is no range of this set", name, f"it has {known}"))
    return picked


def ranges_in(
    picked: Sequence[Range], span: tuple[int, int] | None, option: str = "--cover"
) -> tuple[Range, ...]:
    """Return the ranges that tune some of a stretch, all of them where it is None; `option` gave it.

    Notes
    -----
    A range that ends where the stretch begins tunes none of it: one hertz is nothing to listen to, and
    no share of it can be said.

    Raises
    ------
    Refused  when none does; the ranges are listed.
    """
    if span is None:
        return tuple(picked)
    inside = tuple(range_ for range_ in picked if max(range_.low_hz, span[0]) < min(range_.high_hz, span[1]))
    if not inside:
        remedy = f"the set tunes {ranges_text(picked)}"
        raise Refused(Fault(option, "is on no range of the set", cover_text(span), remedy))
    return inside


def cover_text(span: tuple[int, int] | None) -> str:
    """Return what the shares of an answer are of: a stretch, or the dial where it is None."""
    return "the dial" if span is None else " to ".join(hz_text(edge) for edge in span)


def ranges_text(picked: Iterable[Range]) -> str:
    """Return the names of ranges and what they tune."""
    return ", ".join(f'"{r.name}" {hz_text(r.low_hz)} to {hz_text(r.high_hz)}' for r in picked)


def in_set(receiver: Receiver) -> Where:
    """Return where a stretch without its unit is looked for: in what the set tunes."""
    return in_ranges(receiver.ranges)


def pointer_error_hz(error: FrequencyLike, dial_hz: int) -> int:
    """Return how far a pointer may be off; a number without its unit in the one that a pointer can be off by.

    Parameters
    ----------
    error : int, str. [Hz]
    dial_hz : int. What it shows. [Hz]
    """
    where = Where(
        f"what a pointer at {hz_text(dial_hz)} may be off by", lambda _, high: high <= dial_hz * OFF
    )
    return units.hz(error, "--dial-error", where)


def in_ranges(picked: Sequence[Range]) -> Where:
    """Return where a dial setting without its unit is looked for: in what some ranges tune, edges too."""
    return Where(
        "what the set tunes",
        lambda low, high: any(range_.low_hz <= high and low <= range_.high_hz for range_ in picked),
        f"the set tunes {ranges_text(picked)}",
    )

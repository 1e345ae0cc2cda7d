"""The set as a whole, its ranges, and the front of a converter before it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar, Literal, get_args

from spurplan.receiver.description import rules
from spurplan.receiver.description.conversions import CONVERSIONS, Conversion, Mixer
from spurplan.receiver.description.elements import ELEMENT_LIST, Element
from spurplan.receiver.description.quantities import (
    CURVE_POINTS,
    DB_INTERVAL,
    FIGURE_DBM,
    GAIN_DB,
    HZ,
    LEVEL_TEXT,
    LOSS_DB,
    MICRO_HENRIES,
    MULTIPLIER_CIRCUITS,
    NOISE_FIGURE_DB,
    NOISE_POINTS,
    PICO_FARADS,
    PLACE,
    Q_INTERVAL,
    REGION,
    SIGNED_HZ,
    WANTED,
)
from spurplan.receiver.listener import MODES, Mode
from spurplan.receiver.multiplier import usual_circuits
from spurplan.receiver.plan import DIAL_SHOWS, DialShows, StagePlan, stage_plans
from spurplan.schema import NAME, Choice, Description, ListOf, Part, Reading, key, unpacked
from spurplan.schema_faults import Path, Wrong

_NAME_EXAMPLE = 'name = "Boathouse valve set"'
_COVERAGE_EXAMPLE = 'coverage = ["11 MHz", "30 MHz"]'

FirstStage = Literal[
    "sharp_pentode",
    "remote_pentode",
    "triode_heptode",
    "pentagrid",
    "cascode",
    "bipolar",
    "jfet",
    "mosfet",
    "ring",
]
Environment = Literal["city", "residential", "rural", "quiet_rural"]


class Bfo(Description):
    """The beat oscillator at the detector.

    Attributes
    ----------
    offset_hz : int. From the last IF, sign allowed. [Hz]
    """

    offset_hz: int = key(SIGNED_HZ, toml="offset", example='offset = "1 kHz"')


class Internal(Description):
    """Another oscillator in the box.

    Attributes
    ----------
    name : str.
    frequency_hz : int. [Hz]
    """

    name: str = key(NAME, example=_NAME_EXAMPLE)
    frequency_hz: int = key(HZ, toml="frequency", example='frequency = "100 kHz"')


class Local(Description):
    """A station nearby that is always on the air in its hours, in no table or louder than in one.

    Attributes
    ----------
    frequency_hz : int. [Hz]
    level : str. At the aerial terminals, "-13 dBm" or "S9+60".
    label : str.
    service : str. One of the services of the band tables.
    mode, hours : str or None. As in a band table.
    """

    frequency_hz: int = key(HZ, toml="frequency", example='frequency = "1278 kHz"')
    level: str = key(LEVEL_TEXT, example='level = "-13 dBm"')
    label: str = key(NAME, default="local station")
    service: str = key(NAME, default="broadcast")
    mode: str | None = key(NAME, default=None)
    hours: str | None = key(NAME, default=None)


class Gang(Description):
    """The tuning capacitor of a range, for padder, trimmer and coil.

    Attributes
    ----------
    c_max_pf : float. One section, fully meshed. [pF]
    c_min_pf : float or None. In all across the signal coil at the high end:
        section, trimmer and strays. [pF]
    coil_uh : float or None. The signal coil, instead of c_min. [uH]
    """

    c_max_pf: float = key(PICO_FARADS, toml="c_max", example='c_max = "350 pF"')
    c_min_pf: float | None = key(PICO_FARADS, toml="c_min", default=None)
    coil_uh: float | None = key(MICRO_HENRIES, toml="coil", default=None)

    def checked(self) -> list[Wrong]:
        return rules.gang(self)


class Box(Description):
    """A box in the aerial lead: a trap, a preselector, a pad, an amplifier.

    Attributes
    ----------
    name : str.
    elements : what it is made of, as in the front end of a range.
    gain_db : float. Of the wanted signal where the elements take nothing; negative for a pad. [dB]
    noise_figure_db : float or None. Likewise; None for a passive box, which adds what it loses. [dB]
    ceiling_db : float. How far down signals get round its elements inside. [dB]
    pickup_db : float. How far down signals get past it into the lead behind. [dB]
    ranges : tuple of str, or None. The ranges of the set that it is switched in on, all where None.
    """

    name: str = key(NAME, default="box")
    elements: tuple[Element, ...] = key(ELEMENT_LIST, default=())
    gain_db: float = key(GAIN_DB, toml="gain", default=0.0)
    noise_figure_db: float | None = key(NOISE_FIGURE_DB, toml="noise_figure", default=None)
    ceiling_db: float = key(LOSS_DB, toml="ceiling", default=70.0)
    pickup_db: float = key(LOSS_DB, toml="pickup", default=60.0)
    ranges: tuple[str, ...] | None = key(
        ListOf(NAME, 'write the names of ranges, as ["3", "4"]', 1), default=None
    )


class Front(Description):
    """A converter: a box with a mixer in it.

    Attributes
    ----------
    name, ceiling_db, pickup_db : as in `Box`.
    elements : between the aerial and its mixer, or None for one circuit of the default Q.
    gain_db : float. From the aerial to the set's terminals, counted ahead of its mixer. [dB]
    noise_figure_db : float. Of the converter by itself. [dB]
    multiplier_circuits : int. Tuned circuits behind a stage that multiplies its crystal.
    mixer : Mixer.
    """

    renamed: ClassVar[Mapping[str | int, str]] = {
        "front_end": "elements",
        "front_end_ceiling": "ceiling",
        "rf_gain": "gain, all of it from the aerial to the set",
    }

    name: str = key(NAME, default="converter")
    elements: tuple[Element, ...] | None = key(ELEMENT_LIST, default=None)
    gain_db: float = key(GAIN_DB, toml="gain", default=20.0)
    noise_figure_db: float = key(NOISE_FIGURE_DB, toml="noise_figure", default=12.0)
    ceiling_db: float = key(LOSS_DB, toml="ceiling", default=70.0)
    pickup_db: float = key(LOSS_DB, toml="pickup", default=60.0)
    multiplier_circuits: int = key(MULTIPLIER_CIRCUITS, default=usual_circuits())
    mixer: Mixer = key(Part(Mixer, "[mixer]"), default_factory=Mixer)


class Range(Description):
    """One position of the wave-change switch.

    Attributes
    ----------
    name : str.
    low_hz, high_hz : int. Coverage, both edges included. [Hz]
    rf_gain_db : float. Voltage gain from the terminals to the first mixer's input. [dB]
    front_end : tuple of elements, or None for one circuit of the default Q.
    front_end_ceiling_db : float. How far down signals get round all of them by stray coupling. [dB]
    q_interval : (float, float) or None. 95 % interval of the loaded Q in the middle of the range, the mean of
        its circuits, as measured; None where nobody has measured it.
    front_end_ceiling_interval_db : (float, float) or None. Likewise of the stray coupling. [dB]
    dial_shows : str or None. What the main dial is marked in, one of `DialShows`; None
        for the first IF behind a crystal that leaves it tunable, else the signal.
    dial_offset_hz : int. What the pointer shows minus what it should. [Hz]
    mode, wanted : what is listened to here, or None for that of the set.
    premix_crystal_hz : int or None. Crystal of the range in the premixer that the conversions of the set
        have. [Hz]
    conversions : tuple of Conversion, or None for those of the set.
    gang : Gang or None.
    """

    packed: ClassVar[Mapping[str, Path]] = {"low_hz": ("coverage", 0), "high_hz": ("coverage", 1)}

    name: str = key(NAME, example=_NAME_EXAMPLE)
    low_hz: int = key(HZ, example=_COVERAGE_EXAMPLE)
    high_hz: int = key(HZ, example=_COVERAGE_EXAMPLE)
    rf_gain_db: float = key(GAIN_DB, toml="rf_gain", default=20.0)
    front_end: tuple[Element, ...] | None = key(ELEMENT_LIST, default=None)
    front_end_ceiling_db: float = key(LOSS_DB, toml="front_end_ceiling", default=70.0)
    q_interval: tuple[float, float] | None = key(Q_INTERVAL, default=None)
    front_end_ceiling_interval_db: tuple[float, float] | None = key(
        DB_INTERVAL, toml="front_end_ceiling_interval", default=None
    )
    dial_shows: DialShows | None = key(Choice(DIAL_SHOWS), default=None)
    dial_offset_hz: int = key(SIGNED_HZ, toml="dial_offset", default=0)
    mode: Mode | None = key(Choice(MODES), default=None)
    wanted: str | None = key(WANTED, default=None)
    premix_crystal_hz: int | None = key(HZ, toml="premix_crystal", default=None)
    conversions: tuple[Conversion, ...] | None = key(CONVERSIONS, toml="conversion", default=None)
    gang: Gang | None = key(Part(Gang, "[range.gang]"), default=None)

    @classmethod
    def prepared(cls, data: dict[str, Any], path: Path, reading: Reading) -> dict[str, Any]:
        return unpacked(data, "coverage")

    def checked(self) -> list[Wrong]:
        return rules.coverage(self)


class Receiver(Description):
    """The set.

    Attributes
    ----------
    name : str.
    region : int or None. ITU region whose rows of the band tables apply.
    place : str or None. Where it stands, as "52N,5E" or a locator; with a month and an hour what can be
        heard there is that hour's.
    environment : str. Man-made noise category of P.372.
    noise : tuple of (hz, dbm) or None. Noise in the final bandwidth as measured,
        instead of the category. [Hz, dBm]
    atmospheric : tuple of (hz, fa_db) or None. Atmospheric noise of the hour asked about, over kT0B;
        in no file, since the hour is not. [Hz, dB]
    noise_figure_db : float. Where it was not given and `first_stage` was, that tells it. [dB]
    first_stage : str or None. What stands first behind the aerial circuits.
    case_pickup_db : float. How far down signals get past everything, into wiring and chassis. [dB]
    ahead : tuple of Box. Boxes in the aerial lead, outermost first; levels are told ahead of them.
    antenna_gain_db : float. Negative for a short aerial. [dB]
    iip2_dbm, iip3_dbm : float or None. Intercepts of two tones at the set's own terminals, as measured, in
        place of those of its first mixer. [dBm]
    mode : str. What is listened to, one of `listener.MODES`.
    wanted : str. "weak", "fair" or "good", or a level at the aerial as text.
    conversions : tuple of Conversion, in signal order, for ranges without their own.
    bfo : Bfo or None.
    internal : tuple of Internal.
    local : tuple of Local. Stations nearby, beside the band tables.
    ranges : tuple of Range, one or more.
    """

    name: str = key(NAME, example=_NAME_EXAMPLE)
    region: int | None = key(REGION, default=None)
    place: str | None = key(PLACE, default=None)
    environment: Environment = key(Choice(get_args(Environment)), default="rural")
    noise: tuple[tuple[int, float], ...] | None = key(NOISE_POINTS, default=None)
    atmospheric: tuple[tuple[int, float], ...] | None = key(CURVE_POINTS, in_file=False, default=None)
    noise_figure_db: float = key(NOISE_FIGURE_DB, toml="noise_figure", default=12.0)
    first_stage: FirstStage | None = key(Choice(get_args(FirstStage)), default=None)
    case_pickup_db: float = key(LOSS_DB, toml="case_pickup", default=100.0)
    ahead: tuple[Box, ...] = key(ListOf(Part(Box, "[[ahead]]"), "write each one as [[ahead]]"), default=())
    antenna_gain_db: float = key(GAIN_DB, toml="antenna_gain", default=0.0)
    iip2_dbm: float | None = key(FIGURE_DBM, toml="iip2", default=None)
    iip3_dbm: float | None = key(FIGURE_DBM, toml="iip3", default=None)
    mode: Mode = key(Choice(MODES), default="am")
    wanted: str = key(WANTED, default="fair")
    conversions: tuple[Conversion, ...] = key(CONVERSIONS, toml="conversion", default=())
    bfo: Bfo | None = key(Part(Bfo, "[bfo]"), default=None)
    internal: tuple[Internal, ...] = key(
        ListOf(Part(Internal, "[[internal]]"), "write each one as [[internal]]"), default=()
    )
    local: tuple[Local, ...] = key(
        ListOf(Part(Local, "[[local]]"), "write each one as [[local]]"), default=()
    )
    ranges: tuple[Range, ...] = key(
        ListOf(Part(Range, "[[range]]"), "write each one as [[range]]", 1),
        toml="range",
        example="each one as [[range]]",
    )

    def checked(self) -> list[Wrong]:
        return rules.receiver(self)

    def plans_of(self, range_: Range) -> tuple[StagePlan, ...]:
        """Return the plan of every conversion in use on a range, in signal order; see `stage_plans`."""
        return stage_plans(self.conversions_of(range_), range_.low_hz, range_.high_hz)

    def ahead_of(self, wanted: Range) -> tuple[Box, ...]:
        """Return the boxes in the aerial lead on a range, outermost first."""
        return tuple(box for box in self.ahead if box.ranges is None or wanted.name in box.ranges)

    def conversions_of(self, wanted: Range) -> tuple[Conversion, ...]:
        """Return the conversions in use on a range: its own, or those of the set with its crystal."""
        if wanted.conversions is not None:
            return wanted.conversions
        if wanted.premix_crystal_hz is None:
            return self.conversions
        return tuple(
            conversion
            if conversion.premix is None or conversion.premix.oscillator_of is not None
            else conversion.unchecked(premix=conversion.premix.unchecked(crystal_hz=wanted.premix_crystal_hz))
            for conversion in self.conversions
        )

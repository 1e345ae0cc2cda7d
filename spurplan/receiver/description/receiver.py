"""The set as a whole, its ranges, and the front of a converter before it."""

from typing import Annotated, Any, ClassVar, Literal, Self

from pydantic import Field, ValidationInfo, field_validator, model_validator

from spurplan.receiver.description import checks
from spurplan.receiver.description.base import Description, Packed, raise_if, unpacked
from spurplan.receiver.description.conversions import Conversion, Conversions, Filter, Mixer
from spurplan.receiver.description.elements import Elements
from spurplan.receiver.description.quantities import (
    GainDb,
    Hz,
    LossDb,
    MicroHenries,
    Name,
    NoiseFigureDb,
    NoisePoints,
    PicoFarads,
    Region,
    SignedHz,
    list_of,
)
from spurplan.receiver.plan import DialShows

Environment = Literal["city", "residential", "rural", "quiet_rural"]


class Bfo(Description):
    """The beat oscillator at the detector.

    Attributes
    ----------
    offset_hz : int. From the last IF, sign allowed. [Hz]
    """

    offset_hz: SignedHz = Field(alias="offset")


class Internal(Description):
    """Another oscillator in the box.

    Attributes
    ----------
    name : str.
    frequency_hz : int. [Hz]
    """

    name: Name
    frequency_hz: Hz = Field(alias="frequency")


class Gang(Description):
    """The tuning capacitor of a range, for padder, trimmer and coil.

    Attributes
    ----------
    c_max_pf : float. One section, fully meshed. [pF]
    c_min_pf : float or None. In all across the signal coil at the high end:
        section, trimmer and strays. [pF]
    coil_uh : float or None. The signal coil, instead of c_min. [uH]
    """

    c_max_pf: PicoFarads = Field(alias="c_max")
    c_min_pf: PicoFarads | None = Field(default=None, alias="c_min")
    coil_uh: MicroHenries | None = Field(default=None, alias="coil")

    @model_validator(mode="after")
    def _one_of_two(self) -> Self:
        raise_if(checks.gang(self))
        return self


class Front(Description):
    """A converter's own front end and mixer, to be put in front of a set.

    Attributes
    ----------
    front_end, front_end_ceiling_db, rf_gain_db : as in `Range`.
    noise_figure_db : float. Of the converter by itself. [dB]
    gain_db : float. From the first mixer's input to the set's aerial terminals. [dB]
    pickup_db : float. How far down signals get past it into the set. [dB]
    mixer : Mixer.
    """

    front_end: Elements | None = None
    front_end_ceiling_db: LossDb = Field(default=70.0, alias="front_end_ceiling")
    rf_gain_db: GainDb = Field(default=20.0, alias="rf_gain")
    noise_figure_db: NoiseFigureDb = Field(default=12.0, alias="noise_figure")
    gain_db: GainDb = Field(default=0.0, alias="gain")
    pickup_db: LossDb = Field(default=60.0, alias="pickup")
    mixer: Mixer = Field(default_factory=Mixer)


class Range(Description):
    """One position of the wave-change switch.

    Attributes
    ----------
    name : str.
    low_hz, high_hz : int. Coverage, both edges included. [Hz]
    rf_gain_db : float. Voltage gain from the terminals to the first mixer's input. [dB]
    front_end : tuple of elements, or None for one circuit of the default Q.
    front_end_ceiling_db : float. What they cannot exceed together. [dB]
    dial_shows : str or None. What the main dial is marked in, one of `DialShows`; None
        for the first IF behind a crystal that leaves it tunable, else the signal.
    dial_offset_hz : int. What the pointer shows minus what it should. [Hz]
    conversions : tuple of Conversion, or None for those of the set.
    gang : Gang or None.
    """

    packed: ClassVar[Packed] = {"low_hz": ("coverage", 0), "high_hz": ("coverage", 1)}

    name: Name
    low_hz: Hz
    high_hz: Hz
    rf_gain_db: GainDb = Field(default=20.0, alias="rf_gain")
    front_end: Elements | None = None
    front_end_ceiling_db: LossDb = Field(default=70.0, alias="front_end_ceiling")
    dial_shows: DialShows | None = None
    dial_offset_hz: SignedHz = Field(default=0, alias="dial_offset")
    conversions: Conversions | None = Field(default=None, alias="conversion")
    gang: Gang | None = None

    @model_validator(mode="before")
    @classmethod
    def _edges(cls, data: Any) -> Any:
        return unpacked(data, "coverage")

    @model_validator(mode="after")
    def _consistent(self) -> Self:
        raise_if(checks.coverage(self))
        return self


class Receiver(Description):
    """The set.

    Attributes
    ----------
    name : str.
    region : int or None. ITU region whose rows of the band tables apply.
    environment : str. Man-made noise category of P.372.
    noise : tuple of (hz, dbm) or None. Noise in the final bandwidth as measured,
        instead of the category. [Hz, dBm]
    noise_figure_db : float. [dB]
    antenna_gain_db : float. Negative for a short aerial. [dB]
    conversions : tuple of Conversion, in signal order, for ranges without their own.
    bfo : Bfo or None.
    internal : tuple of Internal.
    ranges : tuple of Range, one or more.
    """

    name: Name
    region: Region | None = None
    environment: Environment = "rural"
    noise: NoisePoints | None = None
    noise_figure_db: NoiseFigureDb = Field(default=12.0, alias="noise_figure")
    antenna_gain_db: GainDb = Field(default=0.0, alias="antenna_gain")
    conversions: Conversions = Field(default=(), alias="conversion")
    bfo: Bfo | None = None
    internal: Annotated[tuple[Internal, ...], list_of("write each one as [[internal]]")] = ()
    ranges: Annotated[tuple[Range, ...], list_of("write each one as [[range]]", 1)] = Field(alias="range")

    @field_validator("noise")
    @classmethod
    def _resolved(cls, noise: tuple[tuple[int, Any], ...] | None) -> tuple[tuple[int, float], ...] | None:
        """S units become decibels at the frequency they were read on."""
        if noise is None:
            return None
        return tuple((hz, level.dbm(hz)) for hz, level in noise)

    @model_validator(mode="after")
    def _consistent(self, info: ValidationInfo) -> Self:
        raise_if(checks.receiver(self))
        return self

    def conversions_of(self, wanted: Range) -> tuple[Conversion, ...]:
        """Return the conversions in use on a range: its own, or those of the set."""
        return self.conversions if wanted.conversions is None else wanted.conversions


# Which attributes hold other descriptions; elements are told by their key.
PARTS: dict[tuple[type[Description], str], type[Description]] = {
    (Receiver, "conversions"): Conversion,
    (Receiver, "bfo"): Bfo,
    (Receiver, "internal"): Internal,
    (Receiver, "ranges"): Range,
    (Range, "conversions"): Conversion,
    (Range, "gang"): Gang,
    (Conversion, "mixer"): Mixer,
    (Front, "mixer"): Mixer,
    (Conversion, "filter"): Filter,
}

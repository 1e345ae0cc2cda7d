"""The set on the bench: frozen, validated classes.

    Receiver
    +-- Conversion (in signal order)      Mixer, Filter, Element...
    +-- Range                             Element..., Gang, its own Conversion...
    +-- Bfo, Internal

Attributes carry the unit in their name; the keys of the receiver file are the
aliases. ``model_fields_set`` tells what was given and what is left to default.
A description that exists is consistent: it has been through `checks`.
"""

from __future__ import annotations

from typing import Annotated, Any, ClassVar, Literal

from pydantic import (
    Field,
    ValidationInfo,
    field_validator,
    model_validator,
)

from spurplan.receiver import checks
from spurplan.receiver.base import Description, Packed, raise_if, unpacked, with_rows
from spurplan.receiver.elements import (
    ELEMENT_KEYS,
    ELEMENTS,
    Circuits,
    CoupledPair,
    Curve,
    Element,
    Elements,
    Passband,
    Trap,
    element_kind,
)
from spurplan.receiver.quantities import (
    Exponent,
    FigureDb,
    FigureDbm,
    FigureVolts,
    GainDb,
    Harmonic,
    Hz,
    LossDb,
    MicroHenries,
    Multiplier,
    Name,
    NoiseFigureDb,
    NoisePoints,
    PicoFarads,
    ProductOrder,
    Region,
    ShapeFactor,
    SignedHz,
    list_of,
    row_of,
)

__all__ = [
    "ELEMENTS",
    "ELEMENT_KEYS",
    "PARTS",
    "Bfo",
    "Circuits",
    "Conversion",
    "CoupledPair",
    "Curve",
    "Description",
    "Element",
    "Filter",
    "Front",
    "Gang",
    "Internal",
    "Mixer",
    "Passband",
    "Range",
    "Receiver",
    "Trap",
    "element_kind",
]

Injection = Literal["high", "low", "sum"]
Environment = Literal["city", "residential", "rural", "quiet_rural"]
Family = Literal[
    "valve_multiplicative",
    "valve_additive",
    "bipolar",
    "jfet",
    "dual_gate_mosfet",
    "single_balanced_lo",
    "single_balanced_rf",
    "diode_ring",
    "commutating",
]


_ROW_REMEDY = 'name a file, or write rows [lo, rf, suppression, signal level], as [2, 1, "30 dB", "-20 dBm"]'
ProductRow = Annotated[tuple[ProductOrder, ProductOrder, FigureDb, FigureDbm], row_of(4, _ROW_REMEDY)]

# --- conversions ---------------------------------------------------------------------------


class Mixer(Description):
    """What a mixer makes of two inputs: a family, and figures that override it.

    Attributes
    ----------
    family : str. One of `Family`.
    e1, c : float or None. Slopes of the products against harmonic and order.
    balance_lo, balance_rf, cross_lo, isolation, floor : float or None. [dB]
    v0 : float or None. Characteristic voltage, instead of h2 to h5. [V peak]
    h2, h3, h4, h5 : float or None. Intercept of the products of that order. [dBm, 50 ohm]
    lo_dbm : float or None. Oscillator drive. [dBm]
    table : str or None. File of measured products, "" where the rows were given directly.
    table_rows : tuple of (lo, rf, suppression_db, signal_dbm).
    """

    packed: ClassVar[Packed] = {"table_rows": ("table",)}

    family: Family = "valve_multiplicative"
    e1: Exponent | None = None
    c: Exponent | None = None
    balance_lo: FigureDb | None = None
    balance_rf: FigureDb | None = None
    cross_lo: FigureDb | None = None
    isolation: FigureDb | None = None
    v0: FigureVolts | None = None
    h2: FigureDbm | None = None
    h3: FigureDbm | None = None
    h4: FigureDbm | None = None
    h5: FigureDbm | None = None
    lo_dbm: FigureDbm | None = None
    floor: FigureDb | None = None
    table: str | None = None
    table_rows: Annotated[tuple[ProductRow, ...], list_of(_ROW_REMEDY, 0, 2500)] = ()

    @model_validator(mode="before")
    @classmethod
    def _loaded(cls, data: Any) -> Any:
        return with_rows(data, "table", "table", "table_rows")

    @model_validator(mode="after")
    def _consistent(self) -> Mixer:
        raise_if(checks.mixer(self))
        return self


class Filter(Description):
    """The filter behind a fixed IF, centred on it.

    Attributes
    ----------
    bandwidth_hz : int. At -6 dB. [Hz]
    shape_factor : float above 1. Width at -60 dB over width at -6 dB.
    ultimate_db : float. What it cannot exceed. [dB]
    """

    bandwidth_hz: Hz = Field(alias="bandwidth")
    shape_factor: ShapeFactor = 2.5
    ultimate_db: LossDb = Field(default=70.0, alias="ultimate")


class Conversion(Description):
    """One mixer with its oscillator and what follows it.

    Attributes
    ----------
    injection : "high", "low", "sum" or None. Where the oscillator stands to the
        signal at this mixer; None behind a crystal that tells it by its frequency.
    crystal_hz : int or None. Crystal of a fixed oscillator. [Hz]
    multiplier : int. Times which the crystal is multiplied.
    if_hz : int or None. Fixed IF; None behind a crystal: tunable. [Hz]
    oscillator_harmonic : int. The harmonic of the oscillator that is mixed with.
    gain_db : float. Conversion and IF gain up to the next mixer or the detector. [dB]
    mixer : Mixer.
    filter : Filter or None. Behind a fixed IF.
    selectivity : tuple of elements behind a tunable IF.
    selectivity_ceiling_db : float. What they cannot exceed together. [dB]
    pickup_db : float or None. How far down the signal gets past this mixer. [dB]
    """

    injection: Injection | None = None
    crystal_hz: Hz | None = Field(default=None, alias="crystal")
    multiplier: Multiplier = 1
    if_hz: Hz | None = Field(default=None, alias="if")
    oscillator_harmonic: Harmonic = 1
    gain_db: GainDb = Field(default=0.0, alias="gain")
    mixer: Mixer = Field(default_factory=Mixer)
    filter: Filter | None = None
    selectivity: Elements = ()
    selectivity_ceiling_db: LossDb = Field(default=70.0, alias="selectivity_ceiling")
    pickup_db: LossDb | None = Field(default=None, alias="pickup")


Conversions = Annotated[tuple[Conversion, ...], list_of("write each one as [[conversion]]", 0, 4)]


# --- the set -------------------------------------------------------------------------------


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
    def _one_of_two(self) -> Gang:
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
    dial_offset_hz : int. What the pointer shows minus what the set is tuned to. [Hz]
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
    dial_offset_hz: SignedHz = Field(default=0, alias="dial_offset")
    conversions: Conversions | None = Field(default=None, alias="conversion")
    gang: Gang | None = None

    @model_validator(mode="before")
    @classmethod
    def _edges(cls, data: Any) -> Any:
        return unpacked(data, "coverage")

    @model_validator(mode="after")
    def _consistent(self) -> Range:
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
    def _consistent(self, info: ValidationInfo) -> Receiver:
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

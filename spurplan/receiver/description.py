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
    BaseModel,
    ConfigDict,
    Discriminator,
    Field,
    Tag,
    ValidationInfo,
    field_validator,
    model_validator,
)

from spurplan.errors import BadValue
from spurplan.receiver import checks
from spurplan.receiver.quantities import (
    Coupling,
    Exponent,
    FigureDb,
    FigureDbm,
    FigureVolts,
    GainDb,
    Harmonic,
    Hz,
    Inconsistent,
    LoadedQ,
    LossDb,
    MicroHenries,
    Multiplier,
    Name,
    NoiseFigureDb,
    NoiseLevel,
    NotAPair,
    Order,
    PicoFarads,
    ProductOrder,
    QPoints,
    Region,
    ShapeFactor,
    SignedHz,
    Wrong,
    ascending,
)

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


class Description(BaseModel):
    """What all parts of a description share: frozen, strict, no unknown keys, no nan."""

    model_config = ConfigDict(
        frozen=True,
        strict=True,
        extra="forbid",
        allow_inf_nan=False,
        populate_by_name=True,
        protected_namespaces=(),
    )


def _unpacked(data: Any, key: str) -> Any:
    """Return the data of a table with its pair `key` as low_hz and high_hz."""
    if not isinstance(data, dict) or key not in data:
        return data
    rest = {name: value for name, value in data.items() if name != key}
    pair = data[key]
    if isinstance(pair, list | tuple) and len(pair) == 2:
        return {**rest, "low_hz": pair[0], "high_hz": pair[1]}
    return {**rest, "low_hz": NotAPair(pair)}


# --- elements of a front end ---------------------------------------------------------------


def _q_kind(value: Any) -> str:
    return "=points" if isinstance(value, list | tuple) else "=number"


Q = Annotated[Annotated[LoadedQ, Tag("=number")] | Annotated[QPoints, Tag("=points")], Discriminator(_q_kind)]


class Circuits(Description):
    """Tuned circuits, isolated from each other, all following the wanted frequency.

    Attributes
    ----------
    circuits : int, 1 or more.
    q : loaded Q: a number, points ((hz, q), ...) in rising order, or None for the default.
    """

    key: ClassVar[str] = "circuits"

    circuits: Order
    q: Q | None = None


class CoupledPair(Description):
    """Two circuits coupled to each other, following the wanted frequency.

    Attributes
    ----------
    coupled_pair : float above 0. Coupling kappa = k*Q; 1 is critical.
    q : as in `Circuits`.
    """

    key: ClassVar[str] = "coupled_pair"

    coupled_pair: Coupling
    q: Q | None = None


class Passband(Description):
    """A fixed Butterworth bandpass.

    Attributes
    ----------
    low_hz, high_hz : int. The -3 dB edges. [Hz]
    order : int, 1 or more.
    """

    key: ClassVar[str] = "passband"

    low_hz: Hz
    high_hz: Hz
    order: Order

    @model_validator(mode="before")
    @classmethod
    def _edges(cls, data: Any) -> Any:
        return _unpacked(data, "passband")

    @model_validator(mode="after")
    def _low_below_high(self) -> Passband:
        raise_if(checks.low_below_high("passband", self.low_hz, self.high_hz))
        return self


class Trap(Description):
    """A series or parallel circuit that takes one frequency out.

    Attributes
    ----------
    trap_hz : int. Its frequency. [Hz]
    depth_db : float above 0. Attenuation there. [dB]
    q : float above 0.
    """

    key: ClassVar[str] = "trap"

    trap_hz: Hz = Field(alias="trap")
    depth_db: LossDb = Field(alias="depth")
    q: LoadedQ

    @field_validator("depth_db")
    @classmethod
    def _takes_something_out(cls, depth: float) -> float:
        if depth == 0.0:
            raise BadValue("0 dB", "takes nothing out", 'give the depth of the notch, as "30 dB"')
        return depth


class Curve(Description):
    """A measured attenuation curve, fixed in frequency.

    Attributes
    ----------
    path : str. The file it was read from (freq_khz,attenuation_db); "" where the
        points stand in the receiver file itself.
    points : tuple of (hz, db), frequencies rising.
    """

    key: ClassVar[str] = "curve"

    path: Annotated[str, Field(alias="curve")] = ""
    points: Annotated[tuple[tuple[Hz, GainDb], ...], Field(strict=False)]

    @model_validator(mode="before")
    @classmethod
    def _inline(cls, data: Any) -> Any:
        if isinstance(data, dict) and isinstance(data.get("curve"), list | tuple):
            return {"points": data["curve"], **{k: v for k, v in data.items() if k != "curve"}}
        return data

    @field_validator("points")
    @classmethod
    def _rising(cls, points: tuple[tuple[int, float], ...]) -> tuple[tuple[int, float], ...]:
        return ascending(points)


ELEMENTS: tuple[type[Description], ...] = (Circuits, CoupledPair, Passband, Trap, Curve)
ELEMENT_KEYS = tuple(str(kind.key) for kind in (Circuits, CoupledPair, Passband, Trap, Curve))


def element_kind(value: Any) -> str | None:
    """Return the one key that tells what element this is; None where none or several do."""
    if isinstance(value, dict):
        found = [key for key in ELEMENT_KEYS if key in value]
        return "=" + found[0] if len(found) == 1 else None
    key = getattr(type(value), "key", None)
    return None if key is None else f"={key}"


Element = Annotated[
    Annotated[Circuits, Tag("=circuits")]
    | Annotated[CoupledPair, Tag("=coupled_pair")]
    | Annotated[Passband, Tag("=passband")]
    | Annotated[Trap, Tag("=trap")]
    | Annotated[Curve, Tag("=curve")],
    Discriminator(element_kind),
]
Elements = Annotated[tuple[Element, ...], Field(strict=False, max_length=20)]


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
    table_rows: Annotated[
        tuple[tuple[ProductOrder, ProductOrder, FigureDb, FigureDbm], ...], Field(strict=False)
    ] = ()

    @model_validator(mode="before")
    @classmethod
    def _inline(cls, data: Any) -> Any:
        if isinstance(data, dict) and isinstance(data.get("table"), list | tuple):
            return {**data, "table": "", "table_rows": data["table"]}
        return data

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


Conversions = Annotated[tuple[Conversion, ...], Field(strict=False, max_length=4)]


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
        return _unpacked(data, "coverage")

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
    noise: Annotated[tuple[tuple[Hz, NoiseLevel], ...], Field(strict=False)] | None = None
    noise_figure_db: NoiseFigureDb = Field(default=12.0, alias="noise_figure")
    antenna_gain_db: GainDb = Field(default=0.0, alias="antenna_gain")
    conversions: Conversions = Field(default=(), alias="conversion")
    bfo: Bfo | None = None
    internal: Annotated[tuple[Internal, ...], Field(strict=False, max_length=50)] = ()
    ranges: Annotated[tuple[Range, ...], Field(strict=False, min_length=1, max_length=100, alias="range")]

    @field_validator("noise")
    @classmethod
    def _resolved(cls, noise: tuple[tuple[int, Any], ...] | None) -> tuple[tuple[int, float], ...] | None:
        """S units become decibels at the frequency they were read on."""
        if noise is None:
            return None
        return ascending(tuple((hz, level.dbm(hz)) for hz, level in noise))

    @model_validator(mode="after")
    def _consistent(self, info: ValidationInfo) -> Receiver:
        raise_if(checks.receiver(self))
        return self

    def conversions_of(self, wanted: Range) -> tuple[Conversion, ...]:
        """Return the conversions in use on a range: its own, or those of the set."""
        return self.conversions if wanted.conversions is None else wanted.conversions


def raise_if(wrongs: list[Wrong]) -> None:
    """Raise `Inconsistent` where anything is wrong."""
    if wrongs:
        raise Inconsistent(wrongs)

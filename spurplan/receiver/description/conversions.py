"""One conversion of a set: its mixer, its oscillator and the filter behind it."""

from typing import Annotated, Any, ClassVar, Literal, Self

from pydantic import Field, model_validator

from spurplan.receiver.description import checks
from spurplan.receiver.description.base import Description, Packed, raise_if, with_rows
from spurplan.receiver.description.elements import Elements
from spurplan.receiver.description.quantities import (
    Exponent,
    FigureDb,
    FigureDbm,
    FigureVolts,
    GainDb,
    Harmonic,
    Hz,
    LossDb,
    Multiplier,
    ProductOrder,
    ShapeFactor,
    list_of,
    row_of,
)

Injection = Literal["high", "low", "sum"]
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
    def _consistent(self) -> Self:
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

"""One conversion of a set: its mixer, its oscillator and the filter behind it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar, Literal, get_args

from spurplan.receiver.description import rules
from spurplan.receiver.description.elements import ELEMENT_LIST, Element
from spurplan.receiver.description.quantities import (
    EXPONENT,
    FIGURE_DB,
    FIGURE_DBM,
    FIGURE_VOLTS,
    GAIN_DB,
    HARMONIC,
    HZ,
    LOSS_DB,
    MULTIPLIER,
    MULTIPLIER_CIRCUITS,
    OSCILLATOR_NOISE,
    PRODUCT_ORDER,
    SHAPE_FACTOR,
    SIGNED_ORDER,
)
from spurplan.receiver.multiplier import usual_circuits
from spurplan.receiver.plan import MAKES
from spurplan.receiver.premixer import KINDS
from spurplan.schema import TEXT, Choice, Description, ListOf, Part, Reading, Row, key, with_rows
from spurplan.schema_faults import Path, Wrong

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
_ROW = Row((PRODUCT_ORDER, PRODUCT_ORDER, FIGURE_DB, FIGURE_DBM), _ROW_REMEDY)


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

    packed: ClassVar[Mapping[str, Path]] = {"table_rows": ("table",)}

    family: Family = key(Choice(get_args(Family)), default="valve_multiplicative")
    e1: float | None = key(EXPONENT, default=None)
    c: float | None = key(EXPONENT, default=None)
    balance_lo: float | None = key(FIGURE_DB, default=None)
    balance_rf: float | None = key(FIGURE_DB, default=None)
    cross_lo: float | None = key(FIGURE_DB, default=None)
    isolation: float | None = key(FIGURE_DB, default=None)
    v0: float | None = key(FIGURE_VOLTS, default=None)
    h2: float | None = key(FIGURE_DBM, default=None)
    h3: float | None = key(FIGURE_DBM, default=None)
    h4: float | None = key(FIGURE_DBM, default=None)
    h5: float | None = key(FIGURE_DBM, default=None)
    lo_dbm: float | None = key(FIGURE_DBM, default=None)
    floor: float | None = key(FIGURE_DB, default=None)
    table: str | None = key(TEXT, default=None)
    table_rows: tuple[tuple[int, int, float, float], ...] = key(
        ListOf(_ROW, _ROW_REMEDY, 0, 2500), default=()
    )

    @classmethod
    def prepared(cls, data: dict[str, Any], path: Path, reading: Reading) -> dict[str, Any]:
        return with_rows(data, "table", "table", "table_rows", path, reading)

    def checked(self) -> list[Wrong]:
        return rules.mixer(self)


class Filter(Description):
    """The filter behind a fixed IF, centred on it.

    Attributes
    ----------
    bandwidth_hz : int. At -6 dB. [Hz]
    shape_factor : float above 1. Width at -60 dB over width at -6 dB.
    ultimate_db : float. What it cannot exceed. [dB]
    """

    bandwidth_hz: int = key(HZ, toml="bandwidth", example='bandwidth = "6 kHz"')
    shape_factor: float = key(SHAPE_FACTOR, default=2.5)
    ultimate_db: float = key(LOSS_DB, toml="ultimate", default=70.0)


_PRODUCT_REMEDY = 'write rows [crystal, variable, below], as [2, -1, "40 dB"]'
_PRODUCT = Row((PRODUCT_ORDER, SIGNED_ORDER, GAIN_DB), _PRODUCT_REMEDY)


class Premix(Description):
    """An injection made by mixing a crystal with a variable oscillator.

    Attributes
    ----------
    makes : str. The product that is injected, one of `plan.MAKES`.
    crystal_hz : int or None. None where each range has its own. [Hz]
    multiplier : int. Times which the crystal is multiplied.
    oscillator_of : int or None. In place of a variable oscillator of its own that of an earlier conversion,
        counted from 1: a drift-cancelling loop.
    mixer : "single" or "balanced". What the premixer leaves of both oscillators beside its product.
    products : tuple of (crystal, variable, below_db). Harmonics of both in a product, that of the variable
        one signed, and how far it was measured to be below the used one, ahead of the filter.
    filter : tuple of elements, or None for one circuit of the default Q, that follows the injection.
    filter_ceiling_db : float. How far down what is beside it gets round all of them. [dB]
    """

    makes: str = key(Choice(tuple(MAKES)), example='makes = "crystal + variable"')
    crystal_hz: int | None = key(HZ, toml="crystal", default=None)
    multiplier: int = key(MULTIPLIER, default=1)
    oscillator_of: int | None = key(HARMONIC, default=None)
    mixer: str = key(Choice(KINDS), default="single")
    products: tuple[tuple[int, int, float], ...] = key(ListOf(_PRODUCT, _PRODUCT_REMEDY, 0, 500), default=())
    filter: tuple[Element, ...] | None = key(ELEMENT_LIST, default=None)
    filter_ceiling_db: float = key(LOSS_DB, toml="filter_ceiling", default=70.0)

    def checked(self) -> list[Wrong]:
        return rules.premix(self)


class Conversion(Description):
    """One mixer with its oscillator and what follows it.

    Attributes
    ----------
    injection : "high", "low", "sum" or None. Where the oscillator stands to the
        signal at this mixer; None behind a crystal that tells it by its frequency.
    crystal_hz : int or None. Crystal of a fixed oscillator. [Hz]
    multiplier : int. Times which the crystal is multiplied.
    multiplier_circuits : int. Tuned circuits behind the stage that multiplies it.
    multiplier_impurity_db : float or None. How far the worst other harmonic of it is below the injection, as
        measured; None for what so many circuits leave. [dB]
    oscillator_hz : int or None. In place of a crystal a free-running oscillator that stands still while the
        range is tuned. [Hz]
    premix : Premix or None. What the oscillator is made of, where that is a crystal and another oscillator.
    if_hz : int or None. Fixed IF; None behind a crystal: tunable. [Hz]
    oscillator_harmonic : int. The harmonic of the oscillator that is mixed with.
    gain_db : float. Conversion and IF gain up to the next mixer or the detector. [dB]
    mixer : Mixer.
    filter : Filter or None. Behind a fixed IF.
    selectivity : tuple of elements behind a tunable IF.
    selectivity_ceiling_db : float. How far down signals get round all of them by stray coupling. [dB]
    pickup_db : float or None. How far down the signal gets past this mixer. [dB]
    oscillator_noise : str, tuple of (offset_hz, dbc_hz), or None for that of its kind. Noise beside it.
    """

    injection: Injection | None = key(Choice(get_args(Injection)), default=None)
    crystal_hz: int | None = key(HZ, toml="crystal", default=None)
    multiplier: int = key(MULTIPLIER, default=1)
    multiplier_circuits: int = key(MULTIPLIER_CIRCUITS, default=usual_circuits())
    multiplier_impurity_db: float | None = key(LOSS_DB, toml="multiplier_impurity", default=None)
    oscillator_hz: int | None = key(HZ, toml="oscillator", default=None)
    premix: Premix | None = key(Part(Premix, "[conversion.premix]"), default=None)
    if_hz: int | None = key(HZ, toml="if", default=None)
    oscillator_harmonic: int = key(HARMONIC, default=1)
    gain_db: float = key(GAIN_DB, toml="gain", default=0.0)
    mixer: Mixer = key(Part(Mixer, "[conversion.mixer]"), default_factory=Mixer)
    filter: Filter | None = key(Part(Filter, "[conversion.filter]"), default=None)
    selectivity: tuple[Element, ...] = key(ELEMENT_LIST, default=())
    selectivity_ceiling_db: float = key(LOSS_DB, toml="selectivity_ceiling", default=70.0)
    pickup_db: float | None = key(LOSS_DB, toml="pickup", default=None)
    oscillator_noise: str | tuple[tuple[int, float], ...] | None = key(OSCILLATOR_NOISE, default=None)

    def checked(self) -> list[Wrong]:
        return rules.conversion(self)


CONVERSIONS = ListOf(Part(Conversion, "[[conversion]]"), "write each one as [[conversion]]", 0, 4)

"""What stands between the terminals and a mixer: circuits, filters, traps, measured curves.

Each element is told by its key: { circuits = 2, q = 55 } or { trap = "465 kHz", ... }.
"""

from typing import Annotated, Any, ClassVar, Self

from pydantic import Discriminator, Field, Tag, field_validator, model_validator

from spurplan.errors import BadValue
from spurplan.receiver.description import checks
from spurplan.receiver.description.base import Description, Packed, raise_if, unpacked, with_rows
from spurplan.receiver.description.quantities import (
    Coupling,
    CurvePoints,
    Hz,
    LoadedQ,
    LossDb,
    Order,
    QPoints,
    list_of,
)


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
    packed: ClassVar[Packed] = {"low_hz": ("passband", 0), "high_hz": ("passband", 1)}

    low_hz: Hz
    high_hz: Hz
    order: Order

    @model_validator(mode="before")
    @classmethod
    def _edges(cls, data: Any) -> Any:
        return unpacked(data, "passband")

    @model_validator(mode="after")
    def _low_below_high(self) -> Self:
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
    packed: ClassVar[Packed] = {"path": ("curve",), "points": ("curve",)}

    path: str = ""
    points: CurvePoints

    @model_validator(mode="before")
    @classmethod
    def _loaded(cls, data: Any) -> Any:
        return with_rows(data, "curve", "path", "points")


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
_ELEMENTS_REMEDY = "write a list of elements, as [ { circuits = 2, q = 55 } ]"
Elements = Annotated[tuple[Element, ...], list_of(_ELEMENTS_REMEDY, 0, 20)]

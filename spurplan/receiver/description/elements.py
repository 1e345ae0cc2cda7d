"""What stands between the terminals and a mixer: circuits, filters, traps, measured curves.

Each element is told by its key: { circuits = 2, q = 55 } or { trap = "465 kHz", ... }.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar, Literal, get_args

from spurplan.errors import BadValue, did_you_mean, shown
from spurplan.receiver.description import rules
from spurplan.receiver.description.quantities import (
    COUPLING,
    CURVE_POINTS,
    HZ,
    LOADED_Q,
    LOSS_DB,
    ORDER,
    Q_POINTS,
)
from spurplan.schema import (
    TEXT,
    Choice,
    Description,
    Kind,
    ListOf,
    Quantity,
    Reading,
    key,
    unpacked,
    with_rows,
)
from spurplan.schema_faults import Path, Wrong

Coupling = Literal["capacitive", "inductive"]
QLaw = float | tuple[tuple[int, float], ...]


class _LoadedQ(Kind):
    """A loaded Q: one number, or points over frequency."""

    def read(self, value: Any, path: Path, reading: Reading) -> Any:
        return (Q_POINTS if isinstance(value, list | tuple) else LOADED_Q).read(value, path, reading)

    def form(self) -> dict[str, Any]:
        return {"oneOf": [LOADED_Q.form(), Q_POINTS.form()]}


_Q = _LoadedQ()


def _notch(value: Any, needs_unit: bool) -> float:
    """Read the depth of a notch: a loss above 0 dB."""
    depth: float = LOSS_DB.parse(value, needs_unit)
    if depth == 0.0:
        raise BadValue("0 dB", "takes nothing out", 'give the depth of the notch, as "30 dB"')
    return depth


class Circuits(Description):
    """Tuned circuits, isolated from each other, all following the wanted frequency.

    Attributes
    ----------
    circuits : int, 1 or more.
    q : loaded Q: a number, points ((hz, q), ...) in rising order, or None for the default.
    """

    told_by: ClassVar[str] = "circuits"

    circuits: int = key(ORDER)
    q: QLaw | None = key(_Q, default=None)


class CoupledPair(Description):
    """Two circuits coupled to each other, following the wanted frequency.

    Attributes
    ----------
    coupled_pair : float above 0. Coupling kappa = k*Q; 1 is critical.
    coupling : what couples them: "capacitive", a capacitor from one to the other; "inductive", the field
        of their coils; None where nobody looked: the mean of both in decibels.
    q : as in `Circuits`.
    """

    told_by: ClassVar[str] = "coupled_pair"

    coupled_pair: float = key(COUPLING)
    coupling: Coupling | None = key(Choice(get_args(Coupling)), default=None)
    q: QLaw | None = key(_Q, default=None)


class Passband(Description):
    """A fixed Butterworth bandpass.

    Attributes
    ----------
    low_hz, high_hz : int. The -3 dB edges. [Hz]
    order : int, 1 or more.
    """

    told_by: ClassVar[str] = "passband"
    packed: ClassVar[Mapping[str, Path]] = {"low_hz": ("passband", 0), "high_hz": ("passband", 1)}

    low_hz: int = key(HZ)
    high_hz: int = key(HZ)
    order: int = key(ORDER, example="order = 3")

    @classmethod
    def prepared(cls, data: dict[str, Any], path: Path, reading: Reading) -> dict[str, Any]:
        return unpacked(data, "passband")

    def checked(self) -> list[Wrong]:
        return rules.low_below_high("passband", self.low_hz, self.high_hz)


class Trap(Description):
    """A series or parallel circuit that takes one frequency out.

    Attributes
    ----------
    trap_hz : int. Its frequency. [Hz]
    depth_db : float above 0. Attenuation there. [dB]
    q : float above 0.
    """

    told_by: ClassVar[str] = "trap"

    trap_hz: int = key(HZ, toml="trap")
    depth_db: float = key(Quantity(_notch, LOSS_DB.form()), toml="depth", example='depth = "30 dB"')
    q: float = key(LOADED_Q, example="q = 55")


class Curve(Description):
    """A measured attenuation curve, fixed in frequency.

    Attributes
    ----------
    path : str. The file it was read from (freq_khz,attenuation_db); "" where the
        points stand in the receiver file itself.
    points : tuple of (hz, db), frequencies rising.
    """

    told_by: ClassVar[str] = "curve"
    packed: ClassVar[Mapping[str, Path]] = {"path": ("curve",), "points": ("curve",)}

    path: str = key(TEXT, default="")
    points: tuple[tuple[int, float], ...] = key(CURVE_POINTS)

    @classmethod
    def prepared(cls, data: dict[str, Any], path: Path, reading: Reading) -> dict[str, Any]:
        return with_rows(data, "curve", "path", "points", path, reading)


Element = Circuits | CoupledPair | Passband | Trap | Curve
# by the key that tells each
ELEMENTS: dict[str, type[Description]] = {
    kind.told_by: kind for kind in (Circuits, CoupledPair, Passband, Trap, Curve)
}


def element_kind(table: Mapping[str, Any]) -> type[Description] | None:
    """Return the kind of element that the one telling key of a table names; None for no or several keys."""
    kinds = [kind for told_by, kind in ELEMENTS.items() if told_by in table]
    return kinds[0] if len(kinds) == 1 else None


class _AnElement(Kind):
    """One element, told by its key."""

    parts = tuple(ELEMENTS.values())

    def read(self, value: Any, path: Path, reading: Reading) -> Any:
        if isinstance(value, Element):
            return value
        kind = element_kind(value) if isinstance(value, dict) else None
        return _not_an_element(path, value, reading) if kind is None else kind.read(value, path, reading)

    def form(self) -> dict[str, Any]:
        return {"oneOf": [{"$ref": f"#/$defs/{kind.__name__}"} for kind in ELEMENTS.values()]}


def _not_an_element(path: Path, value: Any, reading: Reading) -> Any:
    if not isinstance(value, dict):
        remedy = "write it as { circuits = 2, q = 55 }"
        return reading.refuse(path, "is not an element of a front end", shown(value), remedy)
    keys = [told_by for told_by in ELEMENTS if told_by in value]
    if len(keys) > 1:
        remedy = "give each an element of its own, in braces"
        return reading.refuse(
            path, f"is several elements at once: {' and '.join(keys)}", shown(value), remedy
        )
    rule = f"needs one of {', '.join(ELEMENTS)}"
    for word in value:
        hint = did_you_mean(str(word), tuple(ELEMENTS))
        if hint.startswith("did"):
            return reading.refuse((*path, word), "unknown key", remedy=hint)
    return reading.refuse(path, rule, shown(value), "write it as { circuits = 2, q = 55 }")


AN_ELEMENT = _AnElement()
ELEMENT_LIST = ListOf(AN_ELEMENT, "write a list of elements, as [ { circuits = 2, q = 55 } ]", 0, 20)

"""The stretch of frequencies that matters: which ranges tune some of it."""

from __future__ import annotations

from collections.abc import Sequence

from spurplan.errors import Fault, Refused
from spurplan.receiver.description import Range
from spurplan.units import hz_text


def ranges_tuning(picked: Sequence[Range], span: tuple[int, int] | None) -> tuple[str, ...]:
    """Return the names of the ranges that tune some of a stretch, of all where it is None.

    Raises
    ------
    Refused  when none does.
    """
    names = tuple(
        one.name for one in picked if span is None or max(one.low_hz, span[0]) < min(one.high_hz, span[1])
    )
    if not names and span is not None:
        tuned = ", ".join(f'"{one.name}" {hz_text(one.low_hz)} to {hz_text(one.high_hz)}' for one in picked)
        value = f"{hz_text(span[0])} to {hz_text(span[1])}"
        raise Refused(Fault("--cover", "is on no range of the set", value, f"it tunes {tuned}"))
    return names

"""Changes to a set: a description in, a validated description out."""

from __future__ import annotations

from spurplan.receiver.changes.conversions import (
    with_conversion,
    with_injection,
    with_intermediate_frequency,
    with_mixer,
)
from spurplan.receiver.changes.converter_ahead import converter_conversion, covered_by, with_converter
from spurplan.receiver.changes.edits import changed, front_end_of, range_named, with_only, with_range
from spurplan.receiver.changes.front_ends import (
    with_added_elements,
    with_ahead,
    with_fitted,
    with_front_end,
    with_pad,
)

__all__ = [
    "changed",
    "converter_conversion",
    "covered_by",
    "front_end_of",
    "range_named",
    "with_added_elements",
    "with_ahead",
    "with_conversion",
    "with_converter",
    "with_fitted",
    "with_front_end",
    "with_injection",
    "with_intermediate_frequency",
    "with_mixer",
    "with_only",
    "with_pad",
    "with_range",
]

"""The set on the bench: frozen, validated classes.

    Receiver
    +-- Conversion (in signal order)      Mixer, Filter, Element...
    +-- Box (outermost first)             Element...
    +-- Range                             Element..., Gang, its own Conversion...
    +-- Bfo, Internal, Local

Attributes carry the unit in their name. ``given`` tells what was given and what
is left to default. A description that exists is consistent: it has been through
`checks`.
"""

from __future__ import annotations

from spurplan.receiver.description.conversions import Conversion, Family, Filter, Mixer, Premix
from spurplan.receiver.description.elements import (
    ELEMENTS,
    Circuits,
    CoupledPair,
    Curve,
    Element,
    Passband,
    Trap,
    element_kind,
)
from spurplan.receiver.description.receiver import Bfo, Box, Front, Gang, Internal, Local, Range, Receiver
from spurplan.schema import Description

__all__ = [
    "ELEMENTS",
    "Bfo",
    "Box",
    "Circuits",
    "Conversion",
    "CoupledPair",
    "Curve",
    "Description",
    "Element",
    "Family",
    "Filter",
    "Front",
    "Gang",
    "Internal",
    "Local",
    "Mixer",
    "Passband",
    "Premix",
    "Range",
    "Receiver",
    "Trap",
    "element_kind",
]

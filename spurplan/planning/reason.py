"""What speaks for a choice or against it, as a record."""

from __future__ import annotations

from enum import StrEnum
from typing import NamedTuple


class Reason(NamedTuple):
    """One thing that speaks for a choice or against it: what it is about, and the words for it."""

    about: StrEnum
    text: str

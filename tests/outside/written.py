"""The table of outside checks as it is written, held against what the checks find here."""

from __future__ import annotations

import re

# Figures of a simulator or of another numpy may differ in the last digits that are written.
LAST_DIGITS = 0.05


def _cells(line: str) -> list[str]:
    return [cell.strip() for cell in line.strip().strip("|").split("|")]


def _number(cell: str) -> float | None:
    match = re.match(r"(under )?([0-9.e+-]+)", cell)
    return None if match is None else 0.0 if match[1] else float(match[2])


def alike(found: str, written: str) -> bool:
    """Whether two lines say the same, but for last digits and for what can not be run here."""
    here, there = _cells(found), _cells(written)
    if found == written:
        return True
    if len(here) != 5 or len(there) != 5 or (here[:2], here[4]) != (there[:2], there[4]):
        return False
    if "is not installed" in here[3]:
        return True
    worst, said, tolerance = (_number(cell) for cell in (here[3], there[3], here[4]))
    if worst is None or said is None or tolerance is None:
        return False
    return here[2] == there[2] and abs(worst - said) <= LAST_DIGITS * tolerance

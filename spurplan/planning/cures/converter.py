"""The converter among the cures: the best crystal of the stock list."""

from __future__ import annotations

from dataclasses import replace

from spurplan.errors import Fault, Refused
from spurplan.occupancy.bands import Bands
from spurplan.planning.converter.converter import converter
from spurplan.planning.converter.findings import Findings
from spurplan.receiver.description import Receiver
from spurplan.responses.asking import Settings


def best_converter(
    receiver: Receiver, bands: Bands, cover: tuple[int, int], settings: Settings
) -> tuple[Receiver, str, str]:
    """Return a set with the best converter of the stock list in front of it.

    Returns
    -------
    receiver : Receiver. As `converter` would save it, with the one range that serves.
    name : str. The range that serves.
    detail : str. Which crystal.

    Raises
    ------
    Refused  when no crystal of the list serves.
    """
    findings: Findings = converter(
        receiver, bands=bands, cover=cover, settings=replace(settings, ahead=())
    ).findings
    best = findings.chosen(cover)
    if best is None or best.range is None:
        raise Refused(Fault("--cover", "is served by no crystal of the list"))
    return findings.behind(best), best.range, f"crystal {best.crystal_text}, tuned on range {best.range}"

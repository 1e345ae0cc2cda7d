"""The converter among the cures: the best crystal of the stock list."""

from __future__ import annotations

from dataclasses import replace

from spurplan.errors import Fault, Refused
from spurplan.occupancy.bands import Bands
from spurplan.planning.converter.answer import converter, saved_receiver
from spurplan.receiver.description import Receiver
from spurplan.responses.asking import Settings
from spurplan.units import hz_text


def best_converter(
    receiver: Receiver, bands: Bands, cover: tuple[int, int], settings: Settings
) -> tuple[Receiver, str, str]:
    """Return a set with the best converter of the stock list in front of it.

    Returns
    -------
    receiver : Receiver. As `converter` would save it, with the one range that serves.
    name : str. The range that serves.
    said : str. Which crystal.

    Raises
    ------
    Refused  when no crystal of the list serves.
    """
    answer = converter(receiver, bands, cover, settings=replace(settings, ahead=()))
    for row in answer.tables["candidates"].records():
        if row["range"] is None or not row["usable"]:
            continue
        times = "" if row["multiplier"] == 1 else f" times {row['multiplier']}"
        said = f"crystal {hz_text(row['crystal_hz'])}{times}, tuned on range {row['range']}"
        return saved_receiver(receiver, row), row["range"], said
    raise Refused(Fault("--cover", "is served by no crystal of the list"))

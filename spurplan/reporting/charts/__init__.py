"""Charts: dial scales with what intrudes on them, one module a chart.

Each chart is worked out as a `sheet.Sheet`, plain lines and words with their
places, and drawn by `ink`, the only module that draws.
"""

from __future__ import annotations

import os
from importlib import import_module
from typing import TYPE_CHECKING, Any

from spurplan.files import write_bytes

if TYPE_CHECKING:
    from spurplan.columns import Answer
    from spurplan.receiver.description import Receiver

# ten inches: a sheet of A4 or Letter across, at full size
PAGE_PT = 720.0


def write_chart(
    name: str, answer: Answer, receiver: Receiver, path: str | os.PathLike[str], **words: Any
) -> None:
    """Draw the chart of an answer into a file, svg, png or pdf by its ending.

    Parameters
    ----------
    name : str. The module that lays it out: "dial", "ranges" (of `station` too), "converter",
        "if_change" (of a scan), "before_after" (of other IFs), "cures" or "readings".
    answer, receiver : the answer, and the set it is about.
    words : what the layout takes besides.

    Raises
    ------
    Refused  for another ending, a file that can not be written, or when the
        extra [charts] is not installed.
    """
    write_bytes(path, chart_bytes(name, answer, receiver, path, **words))


def chart_bytes(
    name: str, answer: Answer, receiver: Receiver, path: str | os.PathLike[str], **words: Any
) -> bytes:
    """Return what `write_chart` would write.

    Raises
    ------
    Refused  for another ending, or when the extra [charts] is not installed.
    """
    from spurplan.reporting.charts import ink

    kind = ink.kind_of(path)
    layout = import_module(f"{__name__}.{name}")
    return ink.picture(layout.sheet(answer, receiver, PAGE_PT, **words), kind)

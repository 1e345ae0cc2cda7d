"""Proposals compared in rows: what each leaves clear, white, what is unknown, dotted, the rest hatched."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from spurplan.reporting.charts.dial_row import (
    HATCH_GAPS,
    NAME_PT,
    OWN_PEN,
    ROUTE_PT,
    STRIP_PT,
    draw_dots,
    key,
)
from spurplan.reporting.charts.frame import LEFT_PT, MARGIN_PT, foot, headed
from spurplan.reporting.charts.ruler import Ruler, draw_ruler
from spurplan.reporting.charts.sheet import LINE, Box, Hatch, Sheet, Stroke, paragraph, wrapped

REASONS_SHOWN = 3
HEAD_PT = 9.0
OVERSHOOT_PT = 2.5


@dataclass(frozen=True)
class Bar:
    """One proposal.

    Attributes
    ----------
    name, summary : str.
    clear_share, unknown_share : float. The part left white, and the part dotted, 0 to 1.
    reasons : what spoils the rest.
    before : float or None. The part that is clear as the set is, 0 to 1.
    """

    name: str
    summary: str
    clear_share: float
    reasons: tuple[str, ...]
    before: float | None = None
    unknown_share: float = 0.0


CLEAR = ("clear", "spoilt", "before")
USABLE = ("usable", "not usable", "usable before")


def lay_bars(
    made: Sheet, drawn: Sequence[Bar], cautions: Sequence[str], kinds: tuple[str, str, str] = CLEAR
) -> None:
    """Lay proposals below what stands on a sheet, with key and cautions, and close it.

    Parameters
    ----------
    kinds : what the key says of the white part, of the hatched part and of the mark; see `row.key`.
    """
    ruler = Ruler(0, 100, LEFT_PT, made.width - MARGIN_PT)
    top = paragraph(made, ["Part of the dial"], LEFT_PT, made.height, HEAD_PT, bold=True)
    top = draw_ruler(made, ruler, top + 4, "%") + 8
    for bar in drawn:
        top = _lay(made, bar, ruler, top) + 8
    white, hatched, mark = kinds
    said = [white, hatched] + ["unknown"] * any(bar.unknown_share for bar in drawn)
    said += [mark] * any(bar.before is not None for bar in drawn)
    made.height = key(made, ruler.left, ruler.right, top, (0.0, 0.0), said)
    foot(made, cautions)


def _lay(made: Sheet, bar: Bar, ruler: Ruler, top: float) -> float:
    """Lay one proposal from `top` down and return where it ends. [pt]"""
    edges = ruler.left, ruler.right
    top = headed(made, bar.name, bar.summary, edges, top, (NAME_PT, ROUTE_PT)) + OVERSHOOT_PT
    bottom = top + STRIP_PT
    edge, heard = ruler.at(100 * bar.clear_share), ruler.at(100 * (bar.clear_share + bar.unknown_share))
    made.add(Hatch(Box(heard, top, ruler.right, bottom), HATCH_GAPS["strong"]))
    if bar.unknown_share:
        draw_dots(made, Box(edge, top, heard, bottom))
    corners = ((ruler.left, top), (ruler.right, top), (ruler.right, bottom), (ruler.left, bottom))
    made.add(*(Stroke(side, LINE) for side in pairwise((*corners, corners[0]))))
    made.add(Stroke(((edge, top), (edge, bottom)), LINE))
    if bar.before is not None:
        x = ruler.at(100 * bar.before)
        made.add(Stroke(((x, top - OVERSHOOT_PT), (x, bottom + OVERSHOOT_PT)), OWN_PEN))
    said = wrapped("; ".join(bar.reasons[:REASONS_SHOWN]), ROUTE_PT, ruler.right - ruler.left)
    return paragraph(made, said, ruler.left, bottom + OVERSHOOT_PT + 1.5, ROUTE_PT)

"""Sheets drawn: the only module that knows matplotlib.

A figure without pyplot: no window system, no state left behind. The same sheet
gives the same bytes: no date in it, and marks named by a fixed salt.
"""

from __future__ import annotations

import io
import os
import re
import warnings
from collections import defaultdict
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from spurplan.errors import Fault, Refused
from spurplan.extras import need
from spurplan.files import write_bytes

if TYPE_CHECKING:
    from spurplan.reporting.charts.sheet import Area, Dots, Ground, Pen, Point, Sheet, Words

KINDS = ("svg", "png", "pdf")
PNG_DPI = 200
# what the extra [charts] holds
PACKAGES = ("matplotlib", "jinja2")
# black: a printer of one colour screens anything lighter into dots
INK = (0.0, 0.0, 0.0)
# in widths of the line
DASHES = {
    "solid": "solid",
    "broken": (0.0, (4.0, 2.6)),
    "dotted": (0.0, (1.0, 1.6)),
    "chained": (0.0, (7.0, 2.0, 1.2, 2.0)),
}


def needs(package: str, place: str) -> None:
    """Refuse when a package of the extra [charts] is missing.

    Raises
    ------
    Refused  with the package and the remedy.
    """
    need(PACKAGES, place, package=package)


def kind_of(path: str | os.PathLike[str], place: str = "--chart") -> str:
    """Return the kind of picture a path asks for, "svg", "png" or "pdf".

    Raises
    ------
    Refused  when its ending is none of them, or matplotlib is missing.
    """
    kind = Path(path).suffix.lower().removeprefix(".")
    if kind not in KINDS:
        rule = "does not end in .svg, .png or .pdf"
        raise Refused(Fault(place, rule, os.fspath(path), "the ending says the kind of picture"))
    needs("matplotlib", place)
    return kind


def write(sheet: Sheet, path: str | os.PathLike[str]) -> None:
    """Draw a sheet into a file, whole or not at all.

    Raises
    ------
    Refused  for another ending than svg, png or pdf, and as `files.write_bytes`.
    """
    write_bytes(path, picture(sheet, kind_of(path)))


def picture(sheet: Sheet, kind: str, margin: float = 0.0) -> bytes:
    """Return a sheet as the bytes of a svg, png or pdf file, with a white margin around it. [pt]"""
    return _drawn([sheet], kind, margin)


def pages(sheets: Sequence[Sheet], margin: float = 0.0) -> bytes:
    """Return sheets as the pages of a pdf file, each with a white margin around it. [pt]"""
    return _drawn(sheets, "pdf", margin)


def _drawn(sheets: Sequence[Sheet], kind: str, margin: float) -> bytes:
    """Return sheets as the bytes of a file: one, or the pages of a pdf."""
    import matplotlib as mpl
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    from spurplan.reporting.charts.sheet import FONT

    settings: Any = {
        "svg.fonttype": "none",
        "svg.hashsalt": "spurplan",
        "pdf.fonttype": 42,
        "font.family": FONT,
        "path.simplify": False,
        # hinted letters stand on whole dots, and a long line of them runs over the edge
        "text.hinting": "no_hinting",
    }
    says = sheets[0].says
    metadata: Any = {
        "svg": {"Date": None, "Creator": "spurplan", "Title": says},
        "png": {"Software": "spurplan", "Title": says.encode("latin-1", "replace").decode("latin-1")},
        "pdf": {"CreationDate": None, "Creator": "spurplan", "Producer": "spurplan", "Title": says},
    }[kind]
    out = io.BytesIO()
    with mpl.rc_context(), warnings.catch_warnings():
        # whatever the user's own settings of matplotlib are
        mpl.rcdefaults()
        mpl.rcParams.update(settings)
        # a letter that the font does not hold is drawn as an empty box, which says so
        warnings.filterwarnings("ignore", message="Glyph")
        figures = []
        for sheet in sheets:
            width, height = sheet.width + 2 * margin, sheet.height + 2 * margin
            figures.append(Figure(figsize=(width / 72, height / 72), facecolor="white"))
            FigureCanvasAgg(figures[-1])
            _draw(figures[-1], sheet, margin)
        if kind == "pdf":
            from matplotlib.backends.backend_pdf import PdfPages

            with PdfPages(out, metadata=metadata) as book:
                for figure in figures:
                    figure.savefig(book, format=kind, dpi=72)
        else:
            figures[0].savefig(out, format=kind, dpi=PNG_DPI if kind == "png" else 72, metadata=metadata)
    data = out.getvalue()
    if kind == "svg":
        # where that font is missing, one as wide or narrower stands in
        data = data.replace(f"'{FONT}'".encode(), f"'{FONT}', Verdana, sans-serif".encode())
    return data


def inline_svg(sheet: Sheet, name: str) -> str:
    """Return a sheet as an svg element for a page, in the page's own ink and paper.

    Parameters
    ----------
    name : str. Class of the element, an ASCII word.

    Notes
    -----
    The page says what ``--ink`` and ``--paper`` are; the size is the page's too.
    """
    from html import escape

    text = picture(sheet, "svg").decode("utf-8")
    body = text[text.index("<svg") :]
    body = re.sub(r"<metadata>.*?</metadata>", "", body, flags=re.DOTALL)
    box = f"0 0 {sheet.width:g} {sheet.height:g}"
    head = f'<svg class="{name}" viewBox="{box}" role="img" aria-label="{escape(sheet.says)}">'
    body = head + body[body.index(">") + 1 :]
    for left_out in (
        r"<defs>\s*<style.*?</style>\s*</defs>",  # a page has its own style
        r"<title>.*?</title>",  # said by the label
        r"<!--.*?-->",
        r' id="[^"]*"',  # a page with two charts would have each twice
        r' transform="rotate\(-?0 [^"]*\)"',
    ):
        body = re.sub(left_out, "", body, flags=re.DOTALL)
    return body.replace(_hex(INK), "var(--ink)").replace("#ffffff", "var(--paper)").strip()


def _hex(colour: tuple[float, float, float]) -> str:
    return "#" + "".join(f"{round(255 * part):02x}" for part in colour)


def _draw(figure: Any, sheet: Sheet, margin: float) -> None:
    """Draw grounds, then lines, then words; lines of one pen are one path."""
    from spurplan.reporting.charts.sheet import Area, Dots, Ground, Hatch, Stroke, Words

    width, height = sheet.width + 2 * margin, sheet.height + 2 * margin
    axes = figure.add_axes((margin / width, margin / height, sheet.width / width, sheet.height / height))
    axes.set_axis_off()
    axes.set_xlim(0.0, sheet.width)
    axes.set_ylim(sheet.height, 0.0)
    lines: dict[Pen, list[tuple[Point, ...]]] = defaultdict(list)
    for item in sheet.items:
        if isinstance(item, Ground):
            _lay_ground(axes, item)
        elif isinstance(item, Area):
            _lay_area(axes, item)
        elif isinstance(item, Stroke):
            lines[item.pen].append(item.points)
        elif isinstance(item, Hatch):
            lines[item.pen] += item.lines()
        elif isinstance(item, Dots):
            _lay_dots(axes, item)
    for pen, drawn in lines.items():
        _lay_lines(axes, pen, drawn)
    for item in sheet.items:
        if isinstance(item, Words):
            _lay_words(axes, item)


def _lay_ground(axes: Any, ground: Ground) -> None:
    from matplotlib.patches import Rectangle

    left, top, right, bottom = ground.box
    shape = Rectangle((left, top), right - left, bottom - top)
    axes.add_artist(shape)
    shape.set(facecolor=INK, alpha=ground.tint, linewidth=0.0, clip_on=False)


def _lay_area(axes: Any, area: Area) -> None:
    from matplotlib.patches import Polygon

    shape = Polygon([(round(x, 2), round(y, 2)) for x, y in area.points], closed=True)
    axes.add_artist(shape)
    shape.set(facecolor=INK, alpha=area.tint, linewidth=0.0, clip_on=False)


def _lay_dots(axes: Any, dots: Dots) -> None:
    from matplotlib.patches import PathPatch
    from matplotlib.path import Path as Trace

    circle: Any = Trace.unit_circle()
    centres = dots.centres()
    places = [(x + dots.radius * u, y + dots.radius * v) for x, y in centres for u, v in circle.vertices]
    shape = PathPatch(Trace(places, list(circle.codes) * len(centres)))
    axes.add_artist(shape)
    shape.set(facecolor=INK, linewidth=0.0, clip_on=False)


def _lay_lines(axes: Any, pen: Pen, lines: list[tuple[Point, ...]]) -> None:
    from matplotlib.patches import PathPatch
    from matplotlib.path import Path as Trace

    places = [(round(x, 2), round(y, 2)) for points in lines for x, y in points]
    moves = [Trace.MOVETO if at == 0 else Trace.LINETO for points in lines for at in range(len(points))]
    shape = PathPatch(Trace(places, moves))
    axes.add_artist(shape)
    shape.set(
        fill=False,
        edgecolor=INK,
        alpha=pen.tint,
        linewidth=pen.width,
        linestyle=DASHES[pen.line],
        capstyle="butt",
        clip_on=False,
    )


def _lay_words(axes: Any, word: Words) -> None:
    align = {"start": "left", "middle": "center", "end": "right"}[word.anchor]
    axes.text(
        word.x,
        word.y,
        word.text,
        size=word.size,
        weight="bold" if word.bold else "normal",
        color=INK,
        ha=align,
        va="baseline",
        parse_math=False,
        clip_on=False,
    )

"""The report: one page about a set that opens, sorts and prints without a network."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from spurplan.columns import Answer
from spurplan.occupancy.bands import Bands
from spurplan.place import MONTHS
from spurplan.receiver.description import Receiver
from spurplan.receiver.sentence import receiver_text
from spurplan.reporting.html_table import MOST_PRINTED, HtmlTable, html_table
from spurplan.reporting.layout import View
from spurplan.reporting.plain import harmless
from spurplan.reporting.text import title_of
from spurplan.reporting.views import bench, birdies, intrusions
from spurplan.reporting.views.tables import TABLES
from spurplan.responses.asking import BandsLike, ReceiverLike, Settings, as_bands, as_receiver, settings_from
from spurplan.responses.ranges import ranges
from spurplan.responses.turning import TurnedRange, turned_ranges

# a sheet of A4 or Letter upright, and a telephone
WIDE_PT, NARROW_PT = 560.0, 270.0
# letters of a verdict that names every range
MOST_VERDICT = 160


@dataclass(frozen=True)
class Part:
    """A section of the page.

    Attributes
    ----------
    name : str. Its id in the page, an ASCII word.
    title : str.
    sentences : sentences above its tables.
    charts : svg elements, one a range, between the first table and the others.
    tables : tuple of HtmlTable.
    remarks : sentences below.
    """

    name: str
    title: str
    sentences: tuple[str, ...]
    tables: tuple[HtmlTable, ...]
    charts: tuple[Any, ...] = ()
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True)
class ReportPage:
    """What the template shows.

    Attributes
    ----------
    title : str. The set.
    verdict : str. The answer in a sentence: the ranges by their word.
    ways : the way of the signal through it, a line a range.
    question : str. The settings of the question, in a sentence.
    cautions, assumptions : lines.
    parts : tuple of Part.
    sources : HtmlTable. Where the band tables are from.
    dial : str or None. What the turning dial needs, as JSON; None where it is too much to turn.
    cards : the wall cards as svg elements, a page each.
    dials : an svg element with the scales of all ranges, which a telephone has in place of the card.
    """

    title: str
    verdict: str
    ways: tuple[str, ...]
    question: str
    cautions: tuple[str, ...]
    parts: tuple[Part, ...]
    assumptions: tuple[str, ...]
    sources: HtmlTable
    dial: str | None = None
    cards: tuple[Any, ...] = ()
    dials: Any = None


def report(
    receiver: ReceiverLike, bands: BandsLike = None, *, settings: Settings | None = None, **options: Any
) -> str:
    """Return the report about a set as one HTML page.

    Parameters
    ----------
    receiver, bands, settings, options : as in `spurplan.ranges`.

    Returns
    -------
    str. It asks for nothing from elsewhere, and holds no date: the same question
    gives the same page.

    Raises
    ------
    Refused  for a bad file, and when the extra [charts] is not installed.
    """
    from spurplan.reporting.charts import ink

    ink.needs("jinja2", "report")
    ink.needs("matplotlib", "report")
    chosen = settings_from(settings, options)
    # boxes stand ahead of the set already when its pages are asked for
    return html(page(as_receiver(receiver, chosen), as_bands(bands), replace(chosen, ahead=())))


def page(receiver: Receiver, bands: Bands, chosen: Settings) -> ReportPage:
    """Return what the report says."""
    from markupsafe import Markup

    from spurplan.occupancy.bands_in_use import tables_in_use
    from spurplan.planning.bench.bench_sheet import bench_sheet
    from spurplan.planning.cures.cures import cures
    from spurplan.reporting.charts import ink
    from spurplan.reporting.charts.card import cards, cure_text, sheet
    from spurplan.reporting.charts.dial_page import dial_json, dial_page
    from spurplan.reporting.charts.verdicts import verdict
    from spurplan.responses.birdies.birdies import birdies as own_birdies

    turned = turned_ranges(receiver, bands, chosen)
    heard = ranges(receiver, bands=bands, settings=chosen)
    own = own_birdies(receiver, bands=bands, settings=chosen)
    cure = cure_text(cures(receiver, bands=bands, settings=chosen).findings)
    points = bench_sheet(receiver, range=chosen.range)
    answers = (points, heard, own)
    sources = tables_in_use(bands, region=heard.settings.get("region")).first
    return ReportPage(
        title=harmless(receiver.name),
        verdict=harmless(_short_enough(*verdict([turned_range.busy for turned_range in turned]))),
        ways=tuple(_arrows(line) for line in receiver_text(receiver).splitlines()),
        question=_asked(heard),
        cautions=_each(line for answer in answers for line in answer.cautions),
        parts=(
            _part(
                "heard",
                "What it hears that does not belong",
                intrusions.view(heard),
                heard,
                _charts(heard, receiver, turned),
                command="ranges",
            ),
            _part("own", "Its own whistles, and what it radiates", birdies.view(own), own, command="birdies"),
            _part("bench", "Bench sheet", bench.sheet_view(points), points, sorts=False),
        ),
        assumptions=_each(line for answer in answers for line in answer.assumptions),
        sources=html_table("sources", "Band tables", sources, TABLES, sorts=False),
        dial=dial_json(dial_page(receiver, bands, chosen, turned)),
        # the verdict stands right above
        dials=_scales(heard, receiver, turned, NARROW_PT, "narrow", headline=False),
        cards=tuple(
            Markup(ink.inline_svg(sheet(one), "card")) for one in cards(receiver, bands, chosen, cure, turned)
        ),
    )


def _short_enough(full: str, short: str) -> str:
    """Return a verdict with the names of the ranges where that is a line or two."""
    return full if len(full) <= MOST_VERDICT else short


def _part(
    name: str,
    title: str,
    view: View,
    answer: Answer,
    charts: tuple[Any, ...] = (),
    sorts: bool = True,
    command: str = "",
) -> Part:
    """Return a section that shows what the terminal would, by a command of its own where it has one."""
    tables = answer.tables if view.tables is None else view.tables
    return Part(
        name=name,
        title=title,
        sentences=tuple(harmless(line) for line in view.heading[1:]),
        tables=tuple(
            html_table(
                f"{name}-{number}",
                title_of(key),
                table,
                view.layouts.get(key),
                sorts and key not in view.whole,
                f"spurplan {command} FILE --top 0" if command and key not in view.whole else "",
            )
            for number, (key, table) in enumerate(tables.items(), start=1)
        ),
        charts=charts,
        remarks=tuple(harmless(line) for line in view.remarks),
    )


def _charts(answer: Answer, receiver: Receiver, turned: Sequence[TurnedRange]) -> tuple[Any, ...]:
    """Return the dial scale of each range as svg, for a wide page."""
    return tuple(_scales(answer, receiver, [turned_range], WIDE_PT, "wide") for turned_range in turned)


def _scales(
    answer: Answer,
    receiver: Receiver,
    turned: Sequence[TurnedRange],
    width: float,
    name: str,
    *,
    headline: bool = True,
) -> Any:
    """Return the dial scales of some ranges as one svg element."""
    from markupsafe import Markup

    from spurplan.reporting.charts import ink
    from spurplan.reporting.charts.ranges import sheet

    # its texts were escaped where they were drawn
    drawn = sheet(answer, receiver, width, title=False, turned=turned, headline=headline)
    return Markup(ink.inline_svg(drawn, name))


def _each(lines: Iterable[str]) -> tuple[str, ...]:
    """Return lines made harmless, each once."""
    return tuple(dict.fromkeys(harmless(line) for line in lines))


def _arrows(line: str) -> str:
    return harmless(line).replace("->", "\N{RIGHTWARDS ARROW}")


def _asked(answer: Answer) -> str:
    """Return the settings of the question in a sentence."""
    question = answer.settings
    phrases = [f"ITU region {question['region']}" if question["region"] else "all ITU regions"]
    phrases.append(f"at {question['utc']} UTC" if question["utc"] else "at any hour")
    if question["place"]:
        month = MONTHS[question["month"] - 1]
        phrases.append(f"in {month} at {question['place']}, sunspot number {question['sunspots']:g}")
    if question["day"]:
        phrases.append(f"on {question['day']}")
    if question["range"]:
        phrases.append(f"range {harmless(question['range'])} alone")
    phrases.append(
        f"strong from {question['strong_at']:g} dB over the noise, audible from {question['audible_at']:g} dB"
    )
    phrases.append(
        f"oscillator harmonics up to {question['lo_order']}, signal harmonics up to {question['rf_order']}"
    )
    return f"Asked for: {'; '.join(phrases)}."


def html(shown: ReportPage) -> str:
    """Return a page as HTML: everything in it is text but the charts, its own style and its own script."""
    from jinja2 import Environment, PackageLoader, StrictUndefined
    from markupsafe import Markup

    from spurplan import __version__

    templates = Environment(
        loader=PackageLoader("spurplan.reporting"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    # a script of its own: where it cannot run, the tables still sort
    style, script, turning = (
        Markup(templates.get_template(name).render(most_printed=MOST_PRINTED))
        for name in ("report.css", "report.js", "dial.js")
    )
    # as JSON nothing in it can end its element
    dial = (
        None
        if shown.dial is None
        else Markup(templates.get_template("dial.html").render(data=Markup(shown.dial)))
    )
    return templates.get_template("report.html").render(
        page=shown,
        version=__version__,
        style=style,
        script=script,
        turning=turning,
        dial=dial,
        style_hash=_hash(style),
        script_hashes=[_hash(script), _hash(turning)],
    )


def _hash(text: str) -> str:
    """Return how a policy names a piece of style or script that it allows."""
    return base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")

"""What makes a function a command, and an answer a page.

The pattern of every command::

    @command(OCCUPANTS, ENGINE, OUTPUT, "chart", "fail_on")
    def dial(receiver: ReceiverFile, freq: Words, options: Options) -> None:
        \"\"\"Say what intrudes at this dial setting.\"\"\"
        from spurplan.responses import questions

        answer = questions.dial(receiver, options.bands, joined(freq), **options.question())
        show(answer, options)
"""

from __future__ import annotations

import functools
import inspect
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, get_type_hints

import typer

from spurplan.cli import streams
from spurplan.cli.options import SHARED, TOP, FailOn, Format, Options
from spurplan.errors import Fault, Refused

if TYPE_CHECKING:
    from spurplan.columns import Answer
    from spurplan.receiver.description import Receiver
    from spurplan.reporting.layout import View

ReceiverFile = Annotated[str, typer.Argument(metavar="RECEIVER", help="Receiver file (TOML).")]
Words = Annotated[
    list[str],
    typer.Argument(metavar="FREQ", help="Frequency, as 14.2MHz, 14200 kHz, 14M2 or 465k."),
]

FAILED = 3


def joined(words: Sequence[str]) -> str:
    """Return the words of one value that was typed in several."""
    return " ".join(words)


def ways(receiver: Receiver, options: Options, dial_hz: int | None = None) -> str:
    """Return the way of the signal through the set, a line a range that was asked about.

    Parameters
    ----------
    dial_hz : int or None. Only ranges that hold this setting. [Hz]
    """
    from spurplan.receiver.sentence import receiver_text

    asked = [
        one
        for one in receiver.ranges
        if options.range in (None, one.name) and (dial_hz is None or one.low_hz <= dial_hz <= one.high_hz)
    ]
    return receiver_text(receiver, asked)


def command(*takes: str | tuple[str, ...]) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Make a function with a parameter ``options: Options`` a command.

    Parameters
    ----------
    takes : names of shared options, or tuples of names, in any order.

    Returns
    -------
    decorator. typer then sees the function's own parameters followed by the
    shared options it takes; the function gets those in one `Options`.

    Raises
    ------
    ValueError  when a name is not a shared option.
    """
    names = {name for entry in takes for name in ([entry] if isinstance(entry, str) else entry)}
    if unknown := names - set(SHARED):
        raise ValueError(f"not shared options: {sorted(unknown)}")
    hints = get_type_hints(Options, include_extras=True)
    defaults = {name: given.default for name, given in inspect.signature(Options).parameters.items()}
    shared = [
        inspect.Parameter(
            name, inspect.Parameter.KEYWORD_ONLY, default=defaults[name], annotation=hints[name]
        )
        for name in SHARED
        if name in names
    ]

    def decorate(function: Callable[..., None]) -> Callable[..., None]:
        @functools.wraps(function)
        def run(**values: Any) -> None:
            taken = {name: values.pop(name) for name in names}
            function(**values, options=Options(**taken))

        own_hints = get_type_hints(function, include_extras=True)
        own = [
            parameter.replace(annotation=own_hints[name], kind=inspect.Parameter.KEYWORD_ONLY)
            for name, parameter in inspect.signature(function).parameters.items()
            if name != "options"
        ]
        run.__signature__ = inspect.Signature([*own, *shared])  # type: ignore[attr-defined]
        run.__annotations__ = {parameter.name: parameter.annotation for parameter in [*own, *shared]}
        return run

    return decorate


def show(
    answer: Answer,
    options: Options,
    *,
    view: Callable[[Answer], View] | None = None,
    draw: Callable[[Path], None] | None = None,
    saved: Callable[[Path], None] | None = None,
) -> None:
    """Write the answer as asked for, and whatever goes with it; the end of every command.

    Parameters
    ----------
    view : what text and md show of the answer; None for every column that has
        a head.
    draw : writes the chart to a path, whose ending says its kind.
    saved : writes the proposed receiver file to a path.

    Raises
    ------
    Refused  when a file cannot be written, or is asked for where there is none.
    typer.BadParameter  when ``--fail-on`` asks for what this answer does not tell.
    typer.Exit  with status 3, when ``--fail-on`` says so.

    Notes
    -----
    Files come first: where one is refused, standard output is still empty.
    """
    if options.fail_on is FailOn.unknown and not _tells_unknown(answer):
        rule = "this answer does not tell what the tables leave open: ask dial or ranges"
        raise typer.BadParameter(rule, param_hint="--fail-on")
    for place, path, write in (
        ("--chart", options.chart, draw),
        ("--save-receiver", options.save_receiver, saved),
    ):
        if path is not None:
            if write is None:
                raise Refused(Fault(place, "has nothing to write: this answer proposes none", path))
            write(Path(path))
    _put(_written(answer, options, view), options, data=options.format in (Format.csv, Format.json))
    if options.fail_on is not None and fails(answer, options.fail_on):
        raise typer.Exit(FAILED)


def put(text: str, options: Options) -> None:
    """Write a file's text as it is, to ``--output`` or standard output.

    Raises
    ------
    typer.BadParameter  when it was asked for in the form of an answer.
    """
    if options.format is not Format.text:
        raise typer.BadParameter("it is a file of a form of its own: leave it out", param_hint="--format")
    _put([text], options, data=True)


def _put(pieces: Iterable[str], options: Options, *, data: bool) -> None:
    if options.output is None:
        streams.put(pieces, data=data)
        return
    from spurplan.files import write_text

    write_text(Path(options.output), "".join(pieces))


def _written(answer: Answer, options: Options, view: Callable[[Answer], View] | None) -> Iterable[str]:
    if options.format is Format.json:
        from spurplan.reporting.data import json_pieces

        return json_pieces(answer)
    if options.format is Format.csv:
        from spurplan.reporting.data import csv_pieces

        return csv_pieces(answer.first)
    shown = None if view is None else view(answer)
    top = TOP if options.top is None else options.top
    if options.format is Format.md:
        from spurplan.reporting.markdown import markdown

        return [markdown(answer, shown, top)]
    from spurplan.reporting.text import Page, text

    to_file = options.output is not None
    page = Page(
        width=streams.page_width(to_file),
        emphasis=not to_file and streams.may_emphasise(),
        top=top,
    )
    return [text(answer, page, shown)]


def _tells_unknown(answer: Answer) -> bool:
    return "image_unknown" in answer.settings or "unknown" in answer.tables


def fails(answer: Answer, on: FailOn) -> bool:
    """Return whether an answer has what ``--fail-on`` asks about: pairs of stations count too."""
    if on is FailOn.unknown:
        return bool(answer.settings.get("image_unknown")) or len(answer.tables.get("unknown", ())) > 0
    loudest_first = [entry.value for entry in FailOn if entry is not FailOn.unknown]
    wanted = loudest_first[: loudest_first.index(on.value) + 1]
    tables = (answer.first, answer.tables.get("pairs"))
    return any(word in wanted for table in tables if table is not None for word in table["grade"])

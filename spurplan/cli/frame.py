"""What makes a function a command, and an answer a page.

The pattern of every command::

    @command(OCCUPANTS, ENGINE, OUTPUT, "chart", "fail_on")
    def dial(receiver: ReceiverFile, freq: Words, options: Options) -> None:
        \"\"\"Say what intrudes at this dial setting.\"\"\"
        import spurplan

        answer = spurplan.dial(receiver, bands=options.bands, frequency=joined(freq), **options.question())
        show(answer, options)
"""

from __future__ import annotations

import functools
import inspect
from collections.abc import Callable, Collection, Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, get_type_hints

import typer

from spurplan.cli import completing, streams
from spurplan.cli.options import SHARED, TOP, FailOn, Format, Options
from spurplan.errors import Fault, Refused
from spurplan.reporting.plain import harmless

if TYPE_CHECKING:
    from spurplan.columns import Answer
    from spurplan.files import Output, Outputs
    from spurplan.receiver.description import Receiver
    from spurplan.reporting.layout import View

ReceiverFile = Annotated[
    str,
    typer.Argument(
        metavar="RECEIVER",
        help="Receiver file; spurplan receiver begins one.",
        autocompletion=completing.files(".toml"),
    ),
]
Words = Annotated[
    list[str],
    typer.Argument(metavar="FREQ", help="14.2MHz, 14200 kHz, 14M2; a bare 14.2 where clear."),
]

FAILED = 3


def joined(words: Sequence[str]) -> str:
    """Return the words of one value that was typed in several."""
    return " ".join(words)


def set_asked(receiver: str, options: Options) -> Receiver:
    """Return the set of a file with the boxes that the command line puts ahead of it."""
    from spurplan.responses.asking import Settings, as_receiver

    return as_receiver(receiver, Settings(ahead=options.ahead or ()))


def ways(
    receiver: Receiver,
    options: Options,
    dial_hz: int | None = None,
    names: Collection[str] | None = None,
) -> str:
    """Return the way of the signal through the set, a line a range that was asked about.

    Parameters
    ----------
    dial_hz : int or None. Only ranges that hold this setting. [Hz]
    names : Only these ranges; None for all.
    """
    from spurplan.receiver.sentence import receiver_text

    picked = [
        range_
        for range_ in receiver.ranges
        if options.range in (None, range_.name)
        and (names is None or range_.name in names)
        and (dial_hz is None or range_.low_hz <= dial_hz <= range_.high_hz)
    ]
    return receiver_text(receiver, picked)


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
            from spurplan.files import Outputs, is_standard_output, recorded

            taken = {name: values.pop(name) for name in names}
            if taken.get("output") is not None and is_standard_output(taken["output"]):
                taken["output"] = None
            options = Options(**taken)
            with recorded(), Outputs() as outputs:
                _planned(outputs, options)
                outputs.check()  # before anything is worked out for nothing
                _in_order(function, values)
                function(**values, options=options)

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


def _in_order(function: Callable[..., None], values: dict[str, Any]) -> None:
    """Refuse a frequency that stands where the receiver file has to.

    Raises
    ------
    typer.BadParameter  with the words in their order.
    """
    from spurplan.errors import BadValue
    from spurplan.units import bare_readings, hz_of

    receiver, freq = values.get("receiver"), values.get("freq")
    if not isinstance(receiver, str) or Path(receiver).exists():
        return
    try:
        if not bare_readings(receiver):
            hz_of(receiver)
    except BadValue:
        return
    name = function.__name__.replace("_", "-")
    given = joined(freq) if isinstance(freq, list) else freq
    files = [word for word in (freq or ()) if word.endswith(".toml")]
    rule = f"{receiver} is a frequency, and the receiver file comes first"
    if files:
        rule += f": spurplan {name} {files[0]} {receiver}"
    elif given is None:
        rule += f": spurplan {name} set.toml"
    raise typer.BadParameter(rule, param_hint="RECEIVER")


def show(
    answer: Answer,
    options: Options,
    *,
    view: Callable[[Answer], View] | None = None,
    draw: Callable[[str], bytes] | None = None,
    saved: Callable[[str], str] | None = None,
    successor_of: str | None = None,
    by_hand: bool = False,
) -> None:
    """Write the answer as asked for, and whatever goes with it; the end of every command.

    Parameters
    ----------
    view : what text and md show of the answer; None for every column that has
        a head.
    draw : gives the chart for a path, whose ending says its kind.
    saved : gives the text of the proposed receiver file for the path it will stand at.
    successor_of : the receiver file, whose place ``--overwrite`` lets the proposed one take.
    by_hand : whether people fill in or edit what is written, so that only
        ``--overwrite`` lets it take the place of a file.

    Raises
    ------
    Refused  when a file cannot be written, or is asked for where there is none.
    typer.BadParameter  when ``--fail-on`` asks for what this answer does not tell.
    typer.Exit  with status 3, when ``--fail-on`` says so.
    """
    if options.fail_on is FailOn.unknown and not _tells_unknown(answer):
        rule = "this answer does not tell what the tables leave open: ask dial or ranges"
        raise typer.BadParameter(rule, param_hint="--fail-on")
    for place, path, made in (
        ("--chart", options.chart, draw),
        ("--save-receiver", options.save_receiver, saved),
    ):
        if path is not None and made is None:
            raise Refused(Fault(place, "has nothing to write: this answer proposes none", path))
    _deliver(
        _written(answer, options, view),
        options,
        data=options.format in (Format.csv, Format.json),
        draw=draw,
        saved=saved,
        successor_of=successor_of,
        by_hand=by_hand,
    )
    if options.fail_on is not None and fails(answer, options.fail_on):
        raise typer.Exit(FAILED)


def put(text: str, options: Options, *, by_hand: bool = False, told: Iterable[str] = ()) -> None:
    """Write a file's text as it is, to ``--output`` or standard output; `by_hand` as in `show`.

    Parameters
    ----------
    told : what is said of it once it is written, above the line that says where.

    Raises
    ------
    typer.BadParameter  when it was asked for in the form of an answer.
    """
    if options.format is not Format.text:
        raise typer.BadParameter("it is a file of a form of its own: leave it out", param_hint="--format")
    _deliver([text], options, data=True, by_hand=by_hand, told=told)


def put_picture(draw: Callable[[str], bytes], options: Options) -> None:
    """Write a picture to ``--output``, whose ending says its kind.

    Raises
    ------
    typer.BadParameter  without ``--output``, or when it was asked for in the form of an answer.
    """
    if options.format is not Format.text:
        raise typer.BadParameter("it is a picture: leave it out", param_hint="--format")
    if options.output is None:
        raise typer.BadParameter("a picture needs a file ending in .pdf, .svg or .png", param_hint="--output")
    _deliver([], options, data=True, draw=draw, drawn="--output")


def _planned(
    outputs: Outputs, options: Options, *, successor_of: str | None = None, by_hand: bool = False
) -> dict[str, Output]:
    """Plan what the options name: the chart, the receiver file, the answer; by the option."""
    planned = {}
    if options.chart is not None:
        planned["--chart"] = outputs.plan(options.chart, "--chart")
    if options.save_receiver is not None:
        planned["--save-receiver"] = outputs.plan(
            options.save_receiver, "--save-receiver", new=not options.overwrite, successor_of=successor_of
        )
    name = "-" if options.output is None else options.output
    planned["--output"] = outputs.plan(name, "--output", new=by_hand and not options.overwrite)
    return planned


def _deliver(
    pieces: Iterable[str],
    options: Options,
    *,
    data: bool,
    draw: Callable[[str], bytes] | None = None,
    saved: Callable[[str], str] | None = None,
    successor_of: str | None = None,
    by_hand: bool = False,
    drawn: str = "--chart",
    told: Iterable[str] = (),
) -> None:
    """Write an answer and what goes with it: all of it, or nothing.

    Parameters
    ----------
    drawn : str. The option whose file is the picture.
    told : lines said above those that say what was written.

    Notes
    -----
    Files are written beside their targets first, then standard output, then the
    files are moved: where one of these fails, no file was replaced and, but for the
    moving, standard output is empty.
    """
    from spurplan.files import Outputs, as_utf8

    if options.overwrite and options.save_receiver is None and (options.output is None or not by_hand):
        rule = "nothing here takes the place of a file that stands there: leave it out"
        raise typer.BadParameter(rule, param_hint="--overwrite")
    with Outputs() as outputs:
        planned = _planned(outputs, options, successor_of=successor_of, by_hand=by_hand)
        outputs.check()
        printed: list[tuple[Iterable[str], bool]] = []
        for place, output in planned.items():
            if place == drawn and draw is not None:
                with streams.without_chatter():
                    picture = draw(output.name)
                outputs.write(output, picture)
                continue
            text = [saved(output.name)] if place == "--save-receiver" and saved is not None else pieces
            if output.to_standard_output:
                printed.append((text, data or text is not pieces))
            else:
                outputs.write(output, as_utf8("".join(text), output.name))
        outputs.check()  # what was read by now is known
        gone = None
        try:
            for text, as_data in printed:
                streams.put(text, data=as_data)
        except BrokenPipeError as closed:
            gone = closed  # whoever reads has seen enough of the answer, and wants the files still
        names = outputs.commit()
        for line in told:
            streams.complain(line)
        for name in names:
            streams.complain(f"wrote {harmless(name)}")
        if gone is not None:
            raise gone


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
        assumed_by="" if options.assumptions else "--assumptions shows them",
    )
    return [text(answer, page, shown)]


def _tells_unknown(answer: Answer) -> bool:
    return "image_unknown" in answer.settings or "unknown" in answer.tables


def fails(answer: Answer, on: FailOn) -> bool:
    """Return whether an answer has what ``--fail-on`` asks about: what several stations make counts too."""
    if on is FailOn.unknown:
        return bool(answer.settings.get("image_unknown")) or len(answer.tables.get("unknown", ())) > 0
    loudest_first = [entry.value for entry in FailOn if entry is not FailOn.unknown]
    wanted = loudest_first[: loudest_first.index(on.value) + 1]
    tables = (answer.first, answer.tables.get("pairs"), answer.tables.get("triples"))
    return any(word in wanted for table in tables if table is not None for word in table["grade"])

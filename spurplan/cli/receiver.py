"""receiver: begins a receiver file, or checks one and says what it describes."""

from __future__ import annotations

from typing import Annotated, Any

import typer

from spurplan.cli.frame import command, put, show
from spurplan.cli.options import Options
from spurplan.cli.words import span_hz

FILE_HELP = "Receiver file to check; without one a file to start from is written."
SCHEMA_HELP = "Write the JSON Schema of the file, for editors that complete and check as you type."
COVER_HELP = "Coverage of one range of the file to start from, as 11:30MHz (repeat)."
IF_HELP = "Its intermediate frequency; twice for double conversion."


@command("format", "output", "assumptions", "overwrite")
def receiver(
    options: Options,
    file: Annotated[str | None, typer.Argument(metavar="FILE", help=FILE_HELP)] = None,
    schema: Annotated[bool, typer.Option("--schema", help=SCHEMA_HELP)] = False,
    cover: Annotated[list[str] | None, typer.Option("--cover", metavar="LOW:HIGH", help=COVER_HELP)] = None,
    if_: Annotated[list[str] | None, typer.Option("--if", metavar="FREQ", help=IF_HELP)] = None,
    name: Annotated[str | None, typer.Option("--name", metavar="TEXT", help="Its name.")] = None,
) -> None:
    """Check a receiver file and say what it describes; without FILE write one to start from."""
    begun = bool(cover or if_ or name is not None)
    if file is not None and (schema or begun):
        raise typer.BadParameter("a file is checked as it is: leave the other options out", param_hint="FILE")
    if schema and begun:
        rule = "it is the same for every file: leave the other options out"
        raise typer.BadParameter(rule, param_hint="--schema")
    if schema:
        put(_schema(), options)
    elif file is None:
        put(_starter(cover, if_, name), options, by_hand=True)
    else:
        import spurplan
        from spurplan.receiver.doubts import doubts, own_ifs
        from spurplan.receiver.overview import overview
        from spurplan.reporting.tables import receiver_view

        described = spurplan.read_receiver(file)
        questions = (*doubts(described), *own_ifs(described))
        show(overview(described), options, view=lambda answer: receiver_view(answer, questions))


def _schema() -> str:
    import json

    from spurplan.receiver.file.schema import json_schema

    return json.dumps(json_schema(), indent=2) + "\n"


def _starter(cover: list[str] | None, if_: list[str] | None, name: str | None) -> str:
    from spurplan.receiver.file.starter import starter_text

    given: dict[str, Any] = {"if_hz": if_, "name": name}
    if cover:
        given["coverage"] = [span_hz(text, "--cover") for text in cover]
    return starter_text(**{key: value for key, value in given.items() if value is not None})

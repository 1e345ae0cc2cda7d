"""receiver: begins a receiver file, or checks one and says what it describes."""

from __future__ import annotations

import shlex
from typing import Annotated, Any

import typer

from spurplan.cli import completing, streams
from spurplan.cli.frame import command, put, show
from spurplan.cli.options import REGION_HELP, Options
from spurplan.cli.words import two_edges

FILE_HELP = "Receiver file to check; without one a file is begun."
SCHEMA_HELP = "Write the JSON Schema of the file, for editors."
COVER_HELP = "What one range tunes, as 11:30MHz (repeat)."
IF_HELP = "The IF, as on its cans; twice for double conversion."
STAGES_HELP = "Tuned RF stages, 0 to 3 (1, on medium wave 0)."
DEVICES_HELP = "What it is made with: valves (default) or transistors."
STAGES_TAKEN = "one tuned RF stage is taken on each range, none up to 2 MHz"
ASK_HELP = "Be asked for all of it, one question after another."


@command("format", "output", "assumptions", "overwrite")
def receiver(
    options: Options,
    file: Annotated[
        str | None,
        typer.Argument(metavar="FILE", help=FILE_HELP, autocompletion=completing.files(".toml")),
    ] = None,
    ask: Annotated[bool, typer.Option("--ask", help=ASK_HELP)] = False,
    cover: Annotated[list[str] | None, typer.Option("--cover", metavar="LOW:HIGH", help=COVER_HELP)] = None,
    if_: Annotated[list[str] | None, typer.Option("--if", metavar="FREQ", help=IF_HELP)] = None,
    rf_stages: Annotated[int | None, typer.Option("--rf-stages", metavar="N", help=STAGES_HELP)] = None,
    devices: Annotated[
        str | None,
        typer.Option("--devices", metavar="KIND", help=DEVICES_HELP, autocompletion=completing.devices),
    ] = None,
    bfo: Annotated[bool, typer.Option("--bfo", help="It has a beat oscillator.")] = False,
    region: Annotated[
        str | None,
        typer.Option("--region", metavar="NAME|1|2|3", help=REGION_HELP, autocompletion=completing.regions),
    ] = None,
    name: Annotated[str | None, typer.Option("--name", metavar="TEXT", help="Its name.")] = None,
    schema: Annotated[bool, typer.Option("--schema", help=SCHEMA_HELP)] = False,
) -> None:
    """Check a receiver file and say what it describes; without FILE write one to start from.

    A bare number is taken where only kHz or only MHz can be meant.
    """
    given: dict[str, Any] = {
        "if_hz": if_,
        "name": name,
        "cover": cover,
        "rf_stages": rf_stages,
        "devices": devices,
        "bfo": bfo,
        "region": region,
    }
    given = {key: value for key, value in given.items() if value is not None and value is not False}
    if file is not None and (schema or ask or given):
        raise typer.BadParameter("a file is checked as it is: leave the other options out", param_hint="FILE")
    if schema and (ask or given):
        rule = "it is the same for every file: leave the other options out"
        raise typer.BadParameter(rule, param_hint="--schema")
    if ask and given:
        raise typer.BadParameter("it asks for all of that: leave the other options out", param_hint="--ask")
    if file is not None:
        _check(file, options)
    elif schema:
        put(_schema(), options)
    else:
        put(_asked() if ask else _starter(given), options, by_hand=True)
        # what is said beside a file that stands is no reason to fail
        if not ask and rf_stages is None:
            streams.complain(f"no --rf-stages given: {STAGES_TAKEN}")
        if options.output is None:
            streams.complain("next: save it as set.toml, then spurplan ranges set.toml")
        else:
            streams.complain(f"next: spurplan ranges {shlex.quote(options.output)}")


def _check(file: str, options: Options) -> None:
    import spurplan
    from spurplan.receiver.doubts import doubts, own_ifs
    from spurplan.receiver.overview import overview
    from spurplan.reporting.views.tables import receiver_view

    described = spurplan.read_receiver(file)
    questions = (*doubts(described), *own_ifs(described))
    show(overview(described), options, view=lambda answer: receiver_view(answer, questions))


def _schema() -> str:
    import json

    from spurplan.receiver.file.schema import json_schema

    return json.dumps(json_schema(), indent=2) + "\n"


def _starter(given: dict[str, Any]) -> str:
    from spurplan import units
    from spurplan.occupancy.bands import in_tables, read_bands
    from spurplan.receiver.file.starter import starter_text

    where = in_tables(read_bands(None))
    typed = dict(given)
    if "cover" in typed:
        edges = [two_edges(text, "--cover") for text in typed.pop("cover")]
        typed["coverage"] = [units.span_hz(text, "--cover", where) for text in edges]
    if "if_hz" in typed:
        typed["if_hz"] = [units.hz(text, "--if", where) for text in typed["if_hz"]]
    if "region" in typed:
        typed["region"] = units.region(typed["region"], "--region")
    return starter_text(**typed)


def _asked() -> str:
    """Return a file from what somebody at a terminal answers, asked again where it cannot be read."""
    import sys

    from spurplan.cli.asking import answers

    if sys.stdin is None or not sys.stdin.isatty():
        raise typer.BadParameter("nobody answers here: give --cover, --if and the rest", param_hint="--ask")
    return _starter(answers())

"""bands: the band tables in use; checks a table; who may be on a frequency; imports a list."""

from __future__ import annotations

from typing import Annotated, Any

import typer

from spurplan.cli import streams
from spurplan.cli.frame import command, put, show
from spurplan.cli.options import OCCUPANTS, OUTPUT, Options
from spurplan.cli.words import pairs

FILES_HELP = "Band tables to check and use; the shipped ones without."
AT_HELP = "Who may be on this frequency."
IMPORT_HELP = "Station list in another form: written as a band table."
COLUMN_HELP = "What its column is, as low=Start or service==broadcast for one text in every row (repeat)."
UNIT_HELP = "Unit of its frequencies: Hz, kHz or MHz (default kHz)."
DELIMITER_HELP = "What stands between its cells: one character, or tab (default a comma)."
ENCODING_HELP = "Its encoding (default utf-8)."
# what leaves rows out or makes them louder, which a list of tables does not look at
SILENT_OR_LOUD = ("utc", "day", "place", "month", "sunspots", "level", "levels")


@command("region", SILENT_OR_LOUD, OUTPUT)
def bands(
    options: Options,
    files: Annotated[list[str] | None, typer.Argument(metavar="FILE", help=FILES_HELP)] = None,
    at: Annotated[str | None, typer.Option("--at", metavar="FREQ", help=AT_HELP)] = None,
    import_: Annotated[str | None, typer.Option("--import", metavar="FILE", help=IMPORT_HELP)] = None,
    column: Annotated[
        list[str] | None, typer.Option("--column", metavar="OURS=THEIRS", help=COLUMN_HELP)
    ] = None,
    unit: Annotated[str | None, typer.Option("--unit", metavar="UNIT", help=UNIT_HELP)] = None,
    delimiter: Annotated[
        str | None, typer.Option("--delimiter", metavar="CHARACTER", help=DELIMITER_HELP)
    ] = None,
    decimal_comma: Annotated[bool, typer.Option("--decimal-comma", help="7,1 means 7.1 in it.")] = False,
    encoding: Annotated[str | None, typer.Option("--encoding", metavar="NAME", help=ENCODING_HELP)] = None,
) -> None:
    """Say which band tables are in use and what they cover; naming files checks them."""
    form = {"unit": unit, "delimiter": delimiter, "decimal_comma": decimal_comma, "encoding": encoding}
    form = {name: value for name, value in form.items() if value not in (None, False)}
    if import_ is not None:
        if files or at is not None:
            raise typer.BadParameter("a list is imported by itself", param_hint="FILE" if files else "--at")
        options.leave_out((*OCCUPANTS, "top"), "a list is imported whole: leave it out")
        _import(import_, pairs(column, "--column"), form, options)
        return
    if column or form:
        option = "--column" if column else f"--{next(iter(form))}".replace("_", "-")
        raise typer.BadParameter("it describes the list that --import names", param_hint=option)
    from spurplan.occupancy import answers
    from spurplan.reporting import tables

    if at is None:
        options.leave_out(SILENT_OR_LOUD, "it says who is heard on a frequency: name that with --at")
        region = options.question().get("region")
        show(answers.tables_in_use(files or None, region), options, view=tables.tables_view)
    else:
        given = options.question()
        if "level" in given:
            given["levels"] = given.pop("level")
        show(answers.on_frequency(at, files or None, **given), options, view=tables.rows_view)


def _import(path: str, columns: dict[str, str], form: dict[str, Any], options: Options) -> None:
    from spurplan.occupancy.importing import import_list

    made = import_list(path, columns, **form)
    put(made.text, options)
    # a row that is left out is never left out silently
    said = f"{made.taken:,} taken, {made.skipped:,} left out of {made.taken + made.skipped:,} rows"
    streams.complain("\n".join([*map(str, made.left_out), said]))

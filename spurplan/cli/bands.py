"""bands: the band tables in use; checks a table; who may be on a frequency; imports a list."""

from __future__ import annotations

import shlex
from collections.abc import Mapping
from typing import TYPE_CHECKING, Annotated, Any

import typer

from spurplan.cli import streams
from spurplan.cli.frame import command, put, show
from spurplan.cli.options import OCCUPANTS, OUTPUT, Options
from spurplan.cli.words import pairs
from spurplan.errors import quoted

if TYPE_CHECKING:
    from spurplan.occupancy.list_form import Form
    from spurplan.occupancy.station_list import Imported

FILES_HELP = "Band tables to check and use; the shipped ones without."
AT_HELP = "Who may be on this frequency."
IMPORT_HELP = "Station list in another form: written as a band table."
COLUMN_HELP = "What a column of it is, as low=Start or service==broadcast for one text in every row (repeat)."
UNIT_HELP = "Unit of its frequencies: Hz, kHz, MHz or GHz (found out without)."
DELIMITER_HELP = "What stands between its cells: one character, or tab (found out without)."
ENCODING_HELP = "Its encoding (found out without)."
PARTLY_HELP = "Take what can be taken of it, though most of its rows can not."
# what leaves rows out or makes them louder, which a list of tables does not look at
SILENT_OR_LOUD = ("utc", "day", "place", "month", "sunspots", "level", "levels")


@command("region", SILENT_OR_LOUD, OUTPUT, "overwrite")
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
    partly: Annotated[bool, typer.Option("--partly", help=PARTLY_HELP)] = False,
) -> None:
    """Say which band tables are in use and what they cover; naming files checks them."""
    form = {"unit": unit, "delimiter": delimiter, "decimal_comma": decimal_comma, "encoding": encoding}
    form = {name: value for name, value in form.items() if value not in (None, False)}
    if import_ is not None:
        if files or at is not None:
            raise typer.BadParameter("a list is imported by itself", param_hint="FILE" if files else "--at")
        options.leave_out((*OCCUPANTS, "top"), "a list is imported whole: leave it out")
        _import(import_, pairs(column, "--column"), form, options, partly)
        return
    if column or form or partly:
        option = "--column" if column else f"--{next(iter([*form, 'partly']))}".replace("_", "-")
        raise typer.BadParameter("it describes the list that --import names", param_hint=option)
    from spurplan.occupancy.bands_in_use import on_frequency, tables_in_use
    from spurplan.reporting.views import tables as page

    if at is None:
        options.leave_out(SILENT_OR_LOUD, "it says who is heard on a frequency: name that with --at")
        region = options.question().get("region")
        show(tables_in_use(files or None, region=region), options, view=page.tables_view)
    else:
        given = options.question()
        if "level" in given:
            given["levels"] = given.pop("level")
        show(on_frequency(at, bands=files or None, **given), options, view=page.rows_view)


def _import(path: str, columns: dict[str, str], form: dict[str, Any], options: Options, partly: bool) -> None:
    from spurplan.errors import Fault, Refused
    from spurplan.occupancy.list_form import Unclear
    from spurplan.occupancy.station_list import folded, import_list

    try:
        made = import_list(path, columns=columns, **form)
    except Unclear as unclear:
        proposed = {"unit": unclear.unit, "decimal_comma": unclear.decimal_comma or None}
        proposed_form = form | {name: value for name, value in proposed.items() if value is not None}
        command = Fault("what would take it", _command(path, unclear.columns, proposed_form, options, partly))
        raise Refused([*unclear.faults, command], unclear.total + 1) from None
    summary = f"{made.taken:,} taken, {made.skipped:,} left out of {made.taken + made.skipped:,} rows"
    if made.mostly_left_out and not partly:
        rule = f"has more rows that can not be taken than others: {summary}, nothing written"
        command = Fault("what would take the others", _command(path, columns, form, options, partly=True))
        raise Refused([Fault(path, rule, remedy="check columns and unit"), *folded(made.left_out), command])
    put(made.text, options, by_hand=True, told=_found_out(made))
    # a row that is left out is never left out silently, nor is anything taken for granted
    lines = [*map(str, folded(made.left_out)), *map(str, made.questioned)]
    lines.append(form_text(made.form, made.above))
    lines += _not_taken(made)
    if made.has_hours:
        lines.append(_chance_in_hours())
    if not made.has_levels:
        lines.append(
            "no levels in it: those usual for each service are assumed; give a local station its own, as "
            "S9+20, in a column level"
        )
    streams.complain("\n".join([*lines, summary]))


def _found_out(made: Imported) -> list[str]:
    """Return what counts most of what was found out: the service of all rows, days that were not read."""
    lines = []
    if made.days_unread:
        count = len(made.days_unread)
        examples = ", ".join(dict.fromkeys(quoted(fault.value or "") for fault in made.days_unread[:3]))
        lines.append(
            f"days not read in {count:,} of {made.taken:,} rows, which are taken as every day: {examples}; "
            "write them as mon-fri, several with ;"
        )
    if made.service_found is not None:
        found = made.service_found
        lines.append(
            f"service: {found.service} for all, since {found.within:,} of {found.of:,} frequencies lie in "
            f"bands of that service; --column service==NAME for another"
        )
    return lines


def _chance_in_hours() -> str:
    """Return what chance stations are given that list their hours."""
    from spurplan.occupancy.activity import OTHER, shipped_activity

    table = shipped_activity()
    listed, others = table.as_listed("broadcast"), table.spot_chance[OTHER]
    return (
        f"hours in it: at a time that they hold a broadcaster is taken to be on the air {100 * listed:.0f} "
        f"times in 100, one without hours {100 * others:.0f}; name the time with --utc"
    )


def _not_taken(made: Imported) -> list[str]:
    """Return the columns that nothing was taken from, and what hours could be taken from."""
    if not made.not_taken:
        return []
    text = f"not taken: {', '.join(made.not_taken)}"
    if made.part_of_site:
        text += f" ({', '.join(made.part_of_site)}: a site is lat, lon and power_kw together)"
    timed = {"hours", "start"} & made.form.columns.keys()
    return (
        [text] if timed else [text, "no hours in it: --column hours=THEIRS, or start=THEIRS and end=THEIRS"]
    )


def _command(
    path: str, columns: Mapping[str, str], form: Mapping[str, Any], options: Options, partly: bool
) -> str:
    """Return the command line that imports a list so, and writes where it was to be written."""
    words = ["spurplan", "bands", "--import", path]
    for ours, theirs in columns.items():
        words += ["--column", f"{ours}={theirs}"]
    for name, value in form.items():
        option = "--" + name.replace("_", "-")
        words += [option] if value is True else [option, str(value)]
    words += ["--partly"] if partly else []
    words += ["--output", options.output] if options.output is not None else []
    words += ["--overwrite"] if options.overwrite else []
    return shlex.join(words)


_SPOKEN = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "bars"}


def form_text(form: Form, above: int) -> str:
    """Return how a list was read, in words."""
    between = _SPOKEN.get(form.delimiter, f'"{form.delimiter}"')
    parts = [f"{between} between cells, {form.encoding}"] if form.encoding else ["a workbook's first sheet"]
    left = f", {above} line{'' if above == 1 else 's'} above left out" if above else ""
    parts.append(f"heads in line {form.head_line}{left}")
    parts.append(f"{form.unit}, {'decimal comma' if form.decimal_comma else 'decimal point'}")
    named = [f"{ours} = {theirs.removeprefix('=')}" for ours, theirs in form.columns.items()]
    return f"read as: {'; '.join(parts)}; {', '.join(named)}"

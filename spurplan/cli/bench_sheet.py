"""bench-sheet: generator settings to measure the set."""

from __future__ import annotations

from functools import partial
from typing import Annotated, Any

import typer

from spurplan.cli import completing
from spurplan.cli.frame import ReceiverFile, command, show, ways
from spurplan.cli.options import Options
from spurplan.cli.words import two_edges

POINTS_HELP = "Dial settings a range (default 3, the tracking points)."
MOST_HELP = "Most the generator gives, as 0.1V EMF (default), 50mV PD or -13dBm."
AGC_HELP = "How the AGC is while reading (default off)."
SETTLE_HELP = "The fewest readings that settle whether that stretch is usable, as 28MHz:29.7MHz."
ONLY_HELP = "One kind of reading alone: image, IF breakthrough, half-IF, pointer ..."
REFERENCE_HELP = "Level of the wanted signals (default: 20 dB above the set's own noise)."


# the sheet is never cut
@command("bands", "range", "format", "output", "overwrite")
def bench_sheet(
    receiver: ReceiverFile,
    options: Options,
    points: Annotated[int | None, typer.Option("--points", metavar="N", help=POINTS_HELP)] = None,
    generator_max: Annotated[
        str | None, typer.Option("--generator-max", metavar="LEVEL", help=MOST_HELP)
    ] = None,
    reference: Annotated[
        str | None, typer.Option("--reference", metavar="LEVEL", help=REFERENCE_HELP)
    ] = None,
    agc: Annotated[
        str | None,
        typer.Option("--agc", metavar="on|off", help=AGC_HELP, autocompletion=completing.agc),
    ] = None,
    only: Annotated[str | None, typer.Option("--only", metavar="KIND", help=ONLY_HELP)] = None,
    settle: Annotated[str | None, typer.Option("--settle", metavar="LOW:HIGH", help=SETTLE_HELP)] = None,
) -> None:
    """Write a sheet to measure the set by: what to inject, what to expect, what it teaches.

    Print it, or take it as csv, fill in the column reading and hand it to readings.
    """
    import spurplan
    from spurplan.reporting.views.bench import sheet_view

    described = spurplan.read_receiver(receiver)
    given: dict[str, Any] = {
        "points": points,
        "generator_max": generator_max,
        "reference": reference,
        "agc": agc,
        "only": only,
    }
    given["settle"] = None if settle is None else two_edges(settle, "--settle")
    given["bands"] = options.bands or None
    answer = spurplan.bench_sheet(
        described, **options.question(), **{name: value for name, value in given.items() if value is not None}
    )
    show(answer, options, view=partial(sheet_view, receiver=ways(described, options)), by_hand=True)

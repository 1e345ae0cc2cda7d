"""readings: the readings back into the description."""

from __future__ import annotations

from functools import partial
from typing import Annotated

import typer

from spurplan.cli.frame import ReceiverFile, command, show
from spurplan.cli.options import SAVE, Options

LOG_HELP = "The sheet of bench-sheet --format csv, its column reading filled in."
ERROR_HELP = "Standard deviation of one reading, where it is known (default: from how they agree)."


@command("format", "output", "assumptions", "chart", SAVE)
def readings(
    receiver: ReceiverFile,
    log: Annotated[str, typer.Argument(metavar="LOG", help=LOG_HELP)],
    options: Options,
    reading_error: Annotated[
        str | None, typer.Option("--reading-error", metavar="DB", help=ERROR_HELP)
    ] = None,
) -> None:
    """Say what the readings tell of the set: its figures with intervals, and what stays open.

    --save-receiver writes the receiver file with the figures that were decided and
    a note of where they came from; its comments stay.
    """
    import spurplan
    from spurplan import units
    from spurplan.planning.bench.save import fitted_toml
    from spurplan.receiver.sentence import receiver_text
    from spurplan.reporting import charts
    from spurplan.reporting.views.bench import readings_view

    described = spurplan.read_receiver(receiver)
    error = None if reading_error is None else units.typed_db(reading_error, "--reading-error")
    answer = spurplan.readings(described, log=log, reading_error=error)
    findings = answer.findings
    proposed = findings.proposed
    show(
        answer,
        options,
        view=partial(readings_view, receiver=receiver_text(described)),
        draw=partial(charts.chart_bytes, "readings", answer, described),
        saved=None
        if proposed is None
        else lambda path: fitted_toml(proposed, path, receiver, findings.origin),
        successor_of=receiver,
    )

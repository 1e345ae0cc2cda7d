"""dial: what intrudes at this dial setting."""

from __future__ import annotations

from functools import partial
from typing import Annotated

import typer

from spurplan.cli.frame import ReceiverFile, Words, command, joined, set_asked, show, ways
from spurplan.cli.options import ENGINE, LISTENER, OCCUPANTS, OUTPUT, Options

DIAL_ERROR_HELP = "How far the pointer may be off, either way, as 5kHz."


@command("ahead", OCCUPANTS, LISTENER, ENGINE, OUTPUT, "chart", "fail_on", "intermodulation")
def dial(
    receiver: ReceiverFile,
    freq: Words,
    options: Options,
    dial_error: Annotated[
        str | None, typer.Option("--dial-error", metavar="FREQ", help=DIAL_ERROR_HELP)
    ] = None,
) -> None:
    """Say what intrudes at this dial setting: who, where it really is, how loud, by which way.

    FREQ is what the dial is set to; behind a converter, the signal's frequency.
    """
    import spurplan
    from spurplan.reporting import charts
    from spurplan.reporting.views import intrusions

    described = set_asked(receiver, options)
    answer = spurplan.dial(
        receiver, bands=options.bands, frequency=joined(freq), dial_error=dial_error, **options.question()
    )
    signal_path = ways(described, options, answer.settings["frequency_hz"])
    show(
        answer,
        options,
        view=partial(intrusions.view, receiver=signal_path),
        draw=partial(charts.chart_bytes, "dial", answer, described),
    )

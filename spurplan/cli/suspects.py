"""suspects: what is this that I hear."""

from __future__ import annotations

from functools import partial
from typing import Annotated

import typer

from spurplan.cli.frame import ReceiverFile, Words, command, joined, show, ways
from spurplan.cli.options import OCCUPANTS, OUTPUT, Options

MOVES_HELP = "How it moves with the dial: with, against, twice, not, or a number (wanted is 1)."
PAD_HELP = "How far it falls with a 10 dB pad at the aerial."
INVERTED_HELP = "Whether its sideband is the wrong way round."
TRIMMER_HELP = "Which way the front-end circuits must be tuned to peak it: up, down or same."
DIAL_ERROR_HELP = "How far the pointer may be off, either way, as 5kHz."


@command(OCCUPANTS, "range", "lo_order", "rf_order", "strong_at", "audible_at", OUTPUT)
def suspects(
    receiver: ReceiverFile,
    freq: Words,
    options: Options,
    moves: Annotated[str | None, typer.Option("--moves", metavar="HOW", help=MOVES_HELP)] = None,
    pad_drop: Annotated[str | None, typer.Option("--pad-drop", metavar="DB", help=PAD_HELP)] = None,
    inverted: Annotated[
        bool | None, typer.Option("--inverted/--not-inverted", help=INVERTED_HELP, show_default=False)
    ] = None,
    trimmer: Annotated[str | None, typer.Option("--trimmer", metavar="WAY", help=TRIMMER_HELP)] = None,
    dial_error: Annotated[
        str | None, typer.Option("--dial-error", metavar="FREQ", help=DIAL_ERROR_HELP)
    ] = None,
) -> None:
    """Say what may be heard at a dial setting, likeliest first, weighed by what you observed.

    FREQ is the frequency the dial is set to. Each observation is optional; the
    answer says which one not yet made would tell most.
    """
    import spurplan
    from spurplan import units
    from spurplan.reporting.views import suspects as page

    described = spurplan.read_receiver(receiver)
    answer = spurplan.suspects(
        described,
        options.bands,
        joined(freq),
        moves=moves,
        pad_drop=None if pad_drop is None else units.typed_db(pad_drop, "--pad-drop"),
        inverted=inverted,
        trimmer=trimmer,
        dial_error=dial_error,
        **options.question(),
    )
    said = ways(described, options, answer.settings["frequency_hz"])
    show(answer, options, view=partial(page.view, receiver=said))

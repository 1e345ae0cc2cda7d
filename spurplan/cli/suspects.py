"""suspects: what is this that I hear."""

from __future__ import annotations

from functools import partial
from typing import Annotated

import typer

from spurplan.cli.frame import ReceiverFile, command, joined, put, show, ways
from spurplan.cli.options import OCCUPANTS, OUTPUT, Options

MOVES_HELP = "How it moves with the dial: with, against, twice, not."
PAD_HELP = "How far it falls with a 10 dB pad at the aerial."
INVERTED_HELP = "Whether its sideband is the wrong way round."
TRIMMER_HELP = "Where the front-end circuits peak it: up, down, same."
HEARD_HELP = "am, ssb, cw, digital, carrier, noise or whistle."
STRENGTH_HELP = "How strong it is, as S7 or '-80 dBm'."
PITCH_HELP = "The pitch of a whistle, as 800Hz."
PITCH_MOVES_HELP = "Whether its pitch changes while the dial is turned."
FADING_HELP = "Whether it fades: yes or no."
AERIAL_HELP = "With the aerial taken off it stays or goes."
ALSO_HELP = "Where another set has the same, as 14.99MHz (repeat)."
NOT_HELP = "Where another set has it not (repeat)."
LOUDEST_HELP = "Turned some kHz: here, up, down, everywhere."
FOUND_HELP = "Where else on its dial the set has the same (repeat)."
NOT_AT_HELP = "Where on its dial the set has it not (repeat)."
BEHIND_HELP = "Whether others near by have it behind: yes or no."
FREQ_HELP = "Frequency the dial is set to, as 14.2 MHz."
AS_LEVELS_HELP = "Write the levels that --log tells, for --levels."
LOG_HELP = "An evening of observations (CSV) in place of FREQ."
DIAL_ERROR_HELP = "How far the pointer may be off, either way, as 5kHz."


@command(OCCUPANTS, "range", "lo_order", "rf_order", "strong_at", "audible_at", OUTPUT)
def suspects(
    receiver: ReceiverFile,
    options: Options,
    freq: Annotated[list[str] | None, typer.Argument(metavar="FREQ", help=FREQ_HELP)] = None,
    moves: Annotated[str | None, typer.Option("--moves", metavar="HOW", help=MOVES_HELP)] = None,
    pad_drop: Annotated[str | None, typer.Option("--pad-drop", metavar="DB", help=PAD_HELP)] = None,
    inverted: Annotated[
        bool | None, typer.Option("--inverted/--not-inverted", help=INVERTED_HELP, show_default=False)
    ] = None,
    trimmer: Annotated[str | None, typer.Option("--trimmer", metavar="WAY", help=TRIMMER_HELP)] = None,
    loudest: Annotated[str | None, typer.Option("--loudest", metavar="WHERE", help=LOUDEST_HELP)] = None,
    heard: Annotated[str | None, typer.Option("--heard", metavar="WHAT", help=HEARD_HELP)] = None,
    strength: Annotated[str | None, typer.Option("--strength", metavar="LEVEL", help=STRENGTH_HELP)] = None,
    pitch: Annotated[str | None, typer.Option("--pitch", metavar="FREQ", help=PITCH_HELP)] = None,
    pitch_moves: Annotated[
        bool | None,
        typer.Option("--pitch-moves/--pitch-stays", help=PITCH_MOVES_HELP, show_default=False),
    ] = None,
    fading: Annotated[str | None, typer.Option("--fading", metavar="YES", help=FADING_HELP)] = None,
    aerial_off: Annotated[str | None, typer.Option("--aerial-off", metavar="HOW", help=AERIAL_HELP)] = None,
    also_on: Annotated[list[str] | None, typer.Option("--also-on", metavar="FREQ", help=ALSO_HELP)] = None,
    not_on: Annotated[list[str] | None, typer.Option("--not-on", metavar="FREQ", help=NOT_HELP)] = None,
    found_at: Annotated[list[str] | None, typer.Option("--found-at", metavar="FREQ", help=FOUND_HELP)] = None,
    not_at: Annotated[list[str] | None, typer.Option("--not-at", metavar="FREQ", help=NOT_AT_HELP)] = None,
    behind_others: Annotated[
        str | None, typer.Option("--behind-others", metavar="YES", help=BEHIND_HELP)
    ] = None,
    log: Annotated[str | None, typer.Option("--log", metavar="FILE", help=LOG_HELP)] = None,
    as_levels: Annotated[bool, typer.Option("--as-levels", help=AS_LEVELS_HELP)] = False,
    dial_error: Annotated[
        str | None, typer.Option("--dial-error", metavar="FREQ", help=DIAL_ERROR_HELP)
    ] = None,
) -> None:
    """Say what may be heard at a dial setting, likeliest first, weighed by what you observed.

    FREQ is the frequency the dial is set to. Each observation is optional; the answer says which test
    would tell most. With --log they stand in a file: dial_khz, heard and what else was noted.
    """
    if (not freq) == (log is None):
        raise typer.BadParameter("give either a frequency or --log FILE", param_hint="FREQ")
    import spurplan
    from spurplan import units
    from spurplan.reporting.views import suspects as page

    described = spurplan.read_receiver(receiver)
    if log is not None:
        observations = (
            moves,
            pad_drop,
            inverted,
            trimmer,
            heard,
            strength,
            pitch,
            pitch_moves,
            fading,
            aerial_off,
        )
        places = (also_on, not_on, found_at, not_at)
        if any(value is not None for value in (*observations, loudest, behind_others, *places, dial_error)):
            raise typer.BadParameter("what was observed stands in its lines", param_hint="--log")
        evening = spurplan.evening(described, bands=options.bands, log=log, **options.question())
        if as_levels:
            put(evening.findings.levels_text(), options, by_hand=True)
        else:
            show(evening, options, view=page.evening_view)
        return
    if as_levels:
        raise typer.BadParameter("is worked out from a log: add --log FILE", param_hint="--as-levels")
    answer = spurplan.suspects(
        described,
        bands=options.bands,
        frequency=joined(freq or []),
        moves=moves,
        pad_drop=None if pad_drop is None else units.typed_db(pad_drop, "--pad-drop"),
        inverted=inverted,
        trimmer=trimmer,
        loudest=loudest,
        heard=heard,
        strength=strength,
        pitch=pitch,
        pitch_moves=pitch_moves,
        fading=fading,
        aerial_off=aerial_off,
        also_on=also_on or (),
        not_on=not_on or (),
        found_at=found_at or (),
        not_at=not_at or (),
        behind_others=behind_others,
        dial_error=dial_error,
        **options.question(),
    )
    signal_path = ways(described, options, answer.settings["frequency_hz"])
    # who asks for so many rows gets them
    most = page.MOST if options.top is None else 0
    show(answer, options, view=partial(page.view, receiver=signal_path, most=most))

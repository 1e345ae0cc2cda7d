"""birdies: what the set hears with no aerial, self-whistles, what its oscillators radiate on."""

from __future__ import annotations

from spurplan.cli.frame import ReceiverFile, command, show
from spurplan.cli.options import ENGINE, OCCUPANTS, OUTPUT, Options


@command(OCCUPANTS, ENGINE, OUTPUT, "chart", "intermodulation")
def birdies(receiver: ReceiverFile, options: Options) -> None:
    """Say what the set hears with no aerial, where a station beats with itself, and what it radiates.

    With --intermodulation also which pairs of strong stations mix into the passband.
    """
    import spurplan

    show(spurplan.birdies(receiver, options.bands, **options.question()), options)

"""birdies: what the set hears with no aerial, self-whistles, what its oscillators radiate on."""

from __future__ import annotations

from functools import partial

from spurplan.cli.frame import ReceiverFile, command, set_asked, show, ways
from spurplan.cli.options import OCCUPANTS, OUTPUT, Options

# what comes in beside the passband is no birdie: skirts make no difference
SOUGHT = ("range", "lo_order", "rf_order", "strong_at", "audible_at", "everything", "intermodulation")


@command("ahead", OCCUPANTS, SOUGHT, OUTPUT, "fail_on")
def birdies(receiver: ReceiverFile, options: Options) -> None:
    """Say what the set hears with no aerial, where a station beats with itself, and what it radiates.

    With --intermodulation also what two and three strong stations mix into the passband.
    """
    import spurplan
    from spurplan.reporting.views import birdies as page

    described = set_asked(receiver, options)
    answer = spurplan.birdies(receiver, bands=options.bands, **options.question())
    show(answer, options, view=partial(page.view, receiver=ways(described, options)))

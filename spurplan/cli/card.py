"""card: one sheet for the wall."""

from __future__ import annotations

from functools import partial

from spurplan.cli.frame import ReceiverFile, command, put_picture
from spurplan.cli.options import OCCUPANTS, Options


@command(OCCUPANTS, "range", "lo_order", "rf_order", "skirts", "output")
def card(receiver: ReceiverFile, options: Options) -> None:
    """Draw one sheet to hang beside the set: where its dial tells the truth, what fools it, what to do.

    The sheet fits A4 and Letter. Write it to a file with --output card.pdf (or .svg, .png). A PDF has a
    page for every six ranges, the others the first six.
    """
    from spurplan.reporting.charts.card import card_bytes

    put_picture(partial(card_bytes, receiver, options.bands, **options.question()), options)

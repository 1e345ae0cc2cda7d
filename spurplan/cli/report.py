"""report: one self-contained page about the set."""

from __future__ import annotations

from spurplan.cli import streams
from spurplan.cli.frame import ReceiverFile, command, put
from spurplan.cli.options import ENGINE, OCCUPANTS, Options


@command(OCCUPANTS, ENGINE, "output")
def report(receiver: ReceiverFile, options: Options) -> None:
    """Write one page (HTML) about the set: what it hears, the dial scales, the bench sheet.

    The page opens without a network, sorts and filters its tables, and prints on
    A4 and Letter. Write it to a file with --output report.html.
    """
    from spurplan.reporting.report import report as page

    with streams.without_chatter():
        text = page(receiver, options.bands, **options.question())
    put(text, options)

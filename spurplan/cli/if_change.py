"""if-change: is another intermediate frequency better."""

from __future__ import annotations

from functools import partial
from typing import Annotated

import typer

from spurplan.cli.frame import ReceiverFile, command, show, ways
from spurplan.cli.options import JUDGED, OCCUPANTS, OUTPUT, SAVE, Options

IF_HELP = "Another IF, as 1600kHz (repeat); 4=1600kHz on range 4 alone."
FIRST_HELP = "First IF of a double conversion, ahead of the IF there is."
SCAN_HELP = "Try the IFs between two, as 400kHz:12MHz."
REJECTION_HELP = "Image rejection to reach: which Q, how many circuits, which IF."
COVER_HELP = "The stretch that matters, as 21MHz:21.45MHz, on the ranges that tune it."


@command(OCCUPANTS, JUDGED, OUTPUT, "chart", SAVE)
def if_change(
    receiver: ReceiverFile,
    options: Options,
    if_: Annotated[list[str] | None, typer.Option("--if", metavar="FREQ", help=IF_HELP)] = None,
    first_if: Annotated[str | None, typer.Option("--first-if", metavar="FREQ", help=FIRST_HELP)] = None,
    scan: Annotated[str | None, typer.Option("--scan", metavar="LOW:HIGH", help=SCAN_HELP)] = None,
    rejection: Annotated[str | None, typer.Option("--rejection", metavar="DB", help=REJECTION_HELP)] = None,
    cover: Annotated[str | None, typer.Option("--cover", metavar="LOW:HIGH", help=COVER_HELP)] = None,
) -> None:
    """Say whether another IF would be better in this set, range by range.

    Each IF is compared with the present one, with the oscillator on either side:
    images, half-IF, what sits on the IF, whistles, oscillator, tracking, how much
    of each range is usable on a busy evening, and what the change costs.
    """
    import spurplan
    from spurplan import units
    from spurplan.cli.progress import counting
    from spurplan.cli.words import two_edges
    from spurplan.receiver.file.writing import receiver_toml
    from spurplan.reporting import charts
    from spurplan.reporting.views import if_change as page

    described = spurplan.read_receiver(receiver)
    span = None if scan is None else two_edges(scan, "--scan")
    wanted_db = None if rejection is None else units.typed_db(rejection, "--rejection")
    with counting("IFs") as progress:
        answer = spurplan.if_change(
            described,
            bands=options.bands,
            if_=if_ or (),
            first_if=first_if,
            scan=span,
            rejection=wanted_db,
            cover=None if cover is None else two_edges(cover, "--cover"),
            progress=progress,
            **options.question(),
        )

    def before_after(path: str) -> bytes:
        from spurplan.reporting.charts.before_after import of_ifs
        from spurplan.responses.asking import as_bands, settings_from

        settings = settings_from(None, options.question())
        compared = of_ifs(answer.findings, as_bands(options.bands), settings)
        return charts.chart_bytes("before_after", answer, described, path, compared=compared)

    curve = partial(charts.chart_bytes, "if_change", answer, described)
    proposed = answer.findings.proposed
    show(
        answer,
        options,
        view=partial(page.view, receiver=ways(described, options)),
        draw=before_after if span is None else curve,
        saved=None if proposed is None else lambda path: receiver_toml(proposed, path, receiver),
        successor_of=receiver,
    )

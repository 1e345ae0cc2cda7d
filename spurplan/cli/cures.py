"""cures: what to do about it, and what is worth its evenings."""

from __future__ import annotations

from functools import partial
from typing import Annotated

import typer

from spurplan.cli.frame import ReceiverFile, command, set_asked, show
from spurplan.cli.options import OCCUPANTS, OUTPUT, SAVE, Options
from spurplan.cli.words import pairs

COVER_HELP = "The stretch that matters, as 21MHz:21.45MHz; a crystal converter for it is tried too."
EFFORT_HELP = 'Evenings that a cure takes, as "10 dB pad=1" (repeat).'
CURES_HELP = "Cures of your own beside those that ship (TOML)."

# what is judged is a busy evening, and neither grades nor skirts count
JUDGED = ("range", "lo_order", "rf_order", "mode", "wanted", "worlds", "seed")


@command("ahead", OCCUPANTS, JUDGED, OUTPUT, "chart", SAVE)
def cures(
    receiver: ReceiverFile,
    options: Options,
    cover: Annotated[str | None, typer.Option("--cover", metavar="LOW:HIGH", help=COVER_HELP)] = None,
    effort: Annotated[list[str] | None, typer.Option("--effort", metavar="NAME=N", help=EFFORT_HELP)] = None,
    own: Annotated[str | None, typer.Option("--cures", metavar="FILE", help=CURES_HELP)] = None,
) -> None:
    """Say what a preselector, a trap, a filter, another IF would do, and what is worth its evenings.

    Each cure, and what belongs together, is tried on the set as described and judged on a
    busy evening; the best for the least comes first, with what to do after it.
    """
    import spurplan
    from spurplan.cli.progress import counting
    from spurplan.cli.words import two_edges
    from spurplan.receiver.file.writing import receiver_toml
    from spurplan.receiver.sentence import receiver_text
    from spurplan.reporting import charts
    from spurplan.reporting.views import cures as page

    described = set_asked(receiver, options)
    span = None if cover is None else two_edges(cover, "--cover")
    with counting("trials") as progress:
        answer = spurplan.cures(
            receiver,
            bands=options.bands,
            cover=span,
            effort=pairs(effort, "--effort"),
            cures=own,
            progress=progress,
            **options.question(),
        )

    findings = answer.findings
    proposed = findings.proposed
    picked = [range_ for range_ in described.ranges if range_.name in findings.names]
    show(
        answer,
        options,
        view=partial(page.view, receiver=receiver_text(described, picked)),
        draw=partial(charts.chart_bytes, "cures", answer, described),
        saved=None if proposed is None else lambda path: receiver_toml(proposed, path, receiver),
        successor_of=receiver,
    )

"""converter: which crystal for a converter in front of the set."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Annotated

import typer

from spurplan.cli.frame import ReceiverFile, command, show
from spurplan.cli.options import ENGINE, OCCUPANTS, OUTPUT, SAVE, Options
from spurplan.cli.words import two_edges

if TYPE_CHECKING:
    from spurplan.columns import Answer
    from spurplan.planning.converter.findings import Candidate, Findings

COVER_HELP = "What to receive, as 21MHz:21.45MHz (repeat)."
STOCK_HELP = "List of crystals at hand (CSV: freq_mhz, mode, ...)."
CRYSTAL_HELP = "A crystal at hand, as 14.318MHz (repeat)."
STEP_HELP = "Crystals to order: every multiple, as 10kHz."
EXPLAIN_HELP = 'All about one, as 14MHz or "7MHz times 2 above".'
TUNE_HELP = "Where on the set it is to be tuned, as 3.5MHz:4MHz."
FRONT_HELP = "The converter itself (TOML: front_end, gain, [mixer])."


@command(OCCUPANTS, ENGINE, "mode", "wanted", OUTPUT, "chart", SAVE)
def converter(
    receiver: ReceiverFile,
    options: Options,
    cover: Annotated[list[str], typer.Option("--cover", metavar="LOW:HIGH", help=COVER_HELP)],
    stock: Annotated[str | None, typer.Option("--stock", metavar="FILE", help=STOCK_HELP)] = None,
    crystal: Annotated[list[str] | None, typer.Option("--crystal", metavar="FREQ", help=CRYSTAL_HELP)] = None,
    step: Annotated[str | None, typer.Option("--step", metavar="FREQ", help=STEP_HELP)] = None,
    explain: Annotated[str | None, typer.Option("--explain", metavar="FREQ", help=EXPLAIN_HELP)] = None,
    front: Annotated[str | None, typer.Option("--front", metavar="FILE", help=FRONT_HELP)] = None,
    tune: Annotated[str | None, typer.Option("--tune", metavar="LOW:HIGH", help=TUNE_HELP)] = None,
) -> None:
    """Say which crystal serves best for a converter in front of the set, and why.

    Every range of the set is tried, the crystal below the signal, above it and for the sum.
    --save-receiver writes the set behind the best one, or the one that --explain names.
    """
    if explain is None:
        options.leave_out(["everything"], "candidates are judged by what is heard: it goes with --explain")
    covers = tuple(dict.fromkeys(two_edges(text, "--cover") for text in cover))
    if len(covers) > 1:
        options.leave_out(["save_receiver"], "one file holds a converter for one cover: ask about one")
    import spurplan
    from spurplan.cli.progress import counting
    from spurplan.receiver.file.writing import receiver_toml
    from spurplan.receiver.sentence import receiver_text
    from spurplan.reporting import charts
    from spurplan.reporting.views import converter as page

    described, bands = spurplan.read_receiver(receiver), spurplan.read_bands(options.bands)
    with counting("converters") as progress:
        answer = spurplan.converter(
            described,
            bands=bands,
            cover=covers,
            stock=stock,
            crystal=crystal or (),
            step=step,
            explain=explain,
            front=front,
            tune=None if tune is None else two_edges(tune, "--tune"),
            progress=progress,
            **options.question(),
        )

    findings: Findings = answer.findings
    proposed = findings.proposed

    def heard(candidate: Candidate | None) -> Answer:
        # the range of a candidate is one of the set behind it, not the one that was asked for
        question = {name: value for name, value in options.question().items() if name != "range"}
        behind = described if candidate is None else findings.behind(candidate)
        return spurplan.ranges(behind, bands=bands, **question)

    show(
        answer,
        options,
        view=partial(page.view, receiver=receiver_text(proposed or described)),
        draw=partial(charts.chart_bytes, "converter", answer, described, heard=heard),
        saved=None if proposed is None else lambda path: receiver_toml(proposed, path),
        successor_of=receiver,
    )

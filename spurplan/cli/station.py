"""station: where on the dial this station turns up."""

from __future__ import annotations

from functools import partial
from typing import Annotated

import typer

from spurplan.cli.frame import ReceiverFile, command, joined, set_asked, show, ways
from spurplan.cli.options import ENGINE, LISTENER, OCCUPANTS, OUTPUT, Options

FREQ_HELP = "Frequency the station really is on, as 15130 kHz."
LABEL_HELP = "Every row of the band tables whose label holds this text."


@command("ahead", OCCUPANTS, LISTENER, ENGINE, OUTPUT, "chart", "fail_on")
def station(
    receiver: ReceiverFile,
    options: Options,
    freq: Annotated[list[str] | None, typer.Argument(metavar="FREQ", help=FREQ_HELP)] = None,
    label: Annotated[str | None, typer.Option("--label", metavar="TEXT", help=LABEL_HELP)] = None,
) -> None:
    """Say where on the dial a station turns up, its own place included.

    Name it by its frequency or with --label.
    """
    if (not freq) == (label is None):
        raise typer.BadParameter("give either a frequency or --label TEXT", param_hint="FREQ")
    import spurplan
    from spurplan import units
    from spurplan.occupancy.bands import in_tables
    from spurplan.reporting import charts
    from spurplan.reporting.views import intrusions
    from spurplan.units import hz_text

    described = set_asked(receiver, options)
    tables = spurplan.read_bands(options.bands)
    answer = spurplan.station(
        receiver, bands=tables, frequency=joined(freq) if freq else None, label=label, **options.question()
    )
    asked_for = hz_text(units.hz(joined(freq), "FREQ", in_tables(tables))) if freq else label
    about = f", looking for {asked_for}"
    show(
        answer,
        options,
        view=partial(intrusions.view, receiver=ways(described, options), about=about),
        draw=partial(charts.chart_bytes, "ranges", answer, described, about=about),
    )

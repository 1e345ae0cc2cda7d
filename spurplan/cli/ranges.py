"""ranges: what intrudes across the tuning ranges."""

from __future__ import annotations

from functools import partial
from typing import Annotated

import typer

from spurplan.cli.frame import ReceiverFile, command, set_asked, show, ways
from spurplan.cli.options import ENGINE, LISTENER, OCCUPANTS, OUTPUT, WORLDS, Options
from spurplan.cli.words import two_edges

BY_HOUR_HELP = "How much of each range is usable at each hour of a day in --month, and who comes when."
COVER_HELP = "That stretch alone, as 28MHz:29.7MHz: is it usable, and what would it take?"

# what looks at single intrusions
NOT_BY_HOUR = ("everything", "intermodulation", "fail_on")


@command("ahead", OCCUPANTS, LISTENER, WORLDS, ENGINE, OUTPUT, "chart", "fail_on", "intermodulation")
def ranges(
    receiver: ReceiverFile,
    options: Options,
    cover: Annotated[str | None, typer.Option("--cover", metavar="LOW:HIGH", help=COVER_HELP)] = None,
    by_hour: Annotated[bool, typer.Option("--by-hour", help=BY_HOUR_HELP)] = False,
) -> None:
    """Say what intrudes across the tuning ranges, and how much of each range is clear."""
    import spurplan
    from spurplan.reporting import charts
    from spurplan.reporting.views import intrusions
    from spurplan.responses.asking import as_bands, settings_from
    from spurplan.responses.by_hour import dials_by_hour
    from spurplan.responses.turning import turned_ranges

    described = set_asked(receiver, options)
    span = None if cover is None else two_edges(cover, "--cover")
    if by_hour:
        from spurplan.reporting.views import by_hour as course

        options.leave_out(("utc", *NOT_BY_HOUR), "a day hour by hour knows none: leave it out")
        question = options.question(every_hour=True)
        of_day = spurplan.by_hour(receiver, bands=options.bands, cover=span, **question)

        def draw_day(path: str) -> bytes:
            dials = dials_by_hour(receiver, bands=options.bands, cover=span, **question)
            return charts.chart_bytes("by_hour", of_day, described, path, dials=dials)

        show(of_day, options, view=course.view, draw=draw_day)
        return
    answer = spurplan.ranges(receiver, bands=options.bands, cover=span, **options.question())

    def draw(path: str) -> bytes:
        turned = turned_ranges(described, as_bands(options.bands), settings_from(None, options.question()))
        return charts.chart_bytes("ranges", answer, described, path, turned=turned)

    looked_at = {row["range"] for row in answer.tables["ranges"].records()}
    show(
        answer,
        options,
        view=partial(intrusions.view, receiver=ways(described, options, names=looked_at)),
        draw=draw,
    )

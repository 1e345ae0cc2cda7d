"""ranges: what intrudes across the tuning ranges."""

from __future__ import annotations

from functools import partial

from spurplan.cli.frame import ReceiverFile, command, set_asked, show, ways
from spurplan.cli.options import ENGINE, OCCUPANTS, OUTPUT, Options


@command("ahead", OCCUPANTS, ENGINE, OUTPUT, "chart", "fail_on", "intermodulation")
def ranges(receiver: ReceiverFile, options: Options) -> None:
    """Say what intrudes across the tuning ranges, and how much of each range is clear."""
    import spurplan
    from spurplan.reporting import charts, intrusions

    described = set_asked(receiver, options)
    answer = spurplan.ranges(receiver, options.bands, **options.question())
    show(
        answer,
        options,
        view=partial(intrusions.view, receiver=ways(described, options)),
        draw=partial(charts.chart_bytes, "ranges", answer, described),
    )

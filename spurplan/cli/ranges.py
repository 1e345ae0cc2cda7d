"""ranges: what intrudes across the tuning ranges."""

from __future__ import annotations

from functools import partial

from spurplan.cli.frame import ReceiverFile, command, show, ways
from spurplan.cli.options import ENGINE, OCCUPANTS, OUTPUT, Options


@command(OCCUPANTS, ENGINE, OUTPUT, "chart", "fail_on", "intermodulation")
def ranges(receiver: ReceiverFile, options: Options) -> None:
    """Say what intrudes across the tuning ranges, and how much of each range is clear."""
    import spurplan
    from spurplan.reporting import charts, intrusions
    from spurplan.responses.asking import as_bands, settings_from
    from spurplan.responses.turning import turned_ranges

    described = spurplan.read_receiver(receiver)
    answer = spurplan.ranges(described, options.bands, **options.question())

    def draw(path: str) -> bytes:
        turned = turned_ranges(described, as_bands(options.bands), settings_from(None, options.question()))
        return charts.chart_bytes("ranges", answer, described, path, turned=turned)

    show(
        answer,
        options,
        view=partial(intrusions.view, receiver=ways(described, options)),
        draw=draw,
    )

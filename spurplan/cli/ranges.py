"""ranges: what intrudes across the tuning ranges."""

from __future__ import annotations

from spurplan.cli.frame import ReceiverFile, command, show
from spurplan.cli.options import ENGINE, OCCUPANTS, OUTPUT, Options


@command(OCCUPANTS, ENGINE, OUTPUT, "chart", "fail_on")
def ranges(receiver: ReceiverFile, options: Options) -> None:
    """Say what intrudes across the tuning ranges, and how much of each range is clear."""
    import spurplan
    from spurplan.reporting import intrusions

    answer = spurplan.ranges(receiver, options.bands, **options.question())
    show(answer, options, view=intrusions.view)

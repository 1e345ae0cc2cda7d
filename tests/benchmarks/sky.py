"""What a place, a month and an hour cost, in the same question without them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import spurplan
from spurplan.occupancy.sky import here_and_now
from tests.benchmarks.figures import Alone, Times, figure, time_text
from tests.benchmarks.measuring import median_s, medians_s

SET = Path(__file__).parents[2] / "demos/boathouse/set.toml"
HERE: dict[str, Any] = {"place": "54N,3W", "month": 12, "utc": "1200"}


def forget() -> None:
    """Forget the places and hours that were worked out: the next question works out its own."""
    for kept in vars(here_and_now).values():
        if hasattr(kept, "cache_clear"):
            kept.cache_clear()


@figure("`ranges` of four ranges at a place, month and hour", "without", "at most 1.5 times")
def ranges_with_a_place() -> Times:
    bands = spurplan.read_bands()

    def there() -> None:
        forget()
        spurplan.ranges(SET, bands=bands, **HERE)

    times = medians_s({"there": there, "anywhere": lambda: spurplan.ranges(SET, bands=bands, utc="1200")}, 9)
    return Times(times["there"], times["anywhere"])


@figure("a day hour by hour of four ranges, sky included")
def day_by_hour() -> Alone:
    bands = spurplan.read_bands()

    def day() -> None:
        forget()
        spurplan.by_hour(SET, bands=bands, place="54N,3W", month=12)

    return Alone(time_text(median_s(day, 3)))

"""How time and memory grow: conversions, rows of the tables, whole answers."""

from __future__ import annotations

from functools import cache, partial
from pathlib import Path

import spurplan
from spurplan.occupancy.bands import read_bands
from spurplan.responses.asking import Settings
from spurplan.responses.engine import respond
from spurplan.responses.intrusion_table import Response
from tests.benchmarks.engine import chains_of, rows, set_of
from tests.benchmarks.figures import Alone, Growth, Times, figure, megabytes, time_text
from tests.benchmarks.measuring import growth, median_s, medians_s, peak_mb_of

DEMOS = Path(__file__).parents[2] / "demos"
ROWS = [2_000, 20_000, 200_000, 2_000_000]


def answer(conversions: int, count: int, low_hz: int = 7_000_000, high_hz: int = 7_450_000) -> Response:
    """Lines, join, levels and grades of one set on so many rows."""
    return respond(chains_of(set_of(conversions, low_hz, high_hz)), table(count), Settings())


table = cache(rows)


@cache
def by_conversions() -> dict[int, float]:
    return medians_s({n: partial(answer, n, 2_000, 3_000_000, 30_000_000) for n in (1, 2, 3)}, 5)


@figure("one conversion, 3-30 MHz, 2,000 rows: lines, join, levels, grades")
def one_conversion() -> Alone:
    return Alone(time_text(by_conversions()[1]))


@figure("two conversions, the same", "one conversion")
def two_conversions() -> Times:
    return Times(by_conversions()[2], by_conversions()[1])


@figure("three conversions, the same", "one conversion")
def three_conversions() -> Times:
    return Times(by_conversions()[3], by_conversions()[1])


@cache
def by_rows() -> list[float]:
    return [median_s(partial(answer, 1, count), 3) for count in ROWS]


@figure("one conversion, 7.0-7.45 MHz, 2,000 rows", wanted="")
def two_thousand_rows() -> Alone:
    return Alone(time_text(by_rows()[0]))


@figure("the same, 2,000,000 rows", "2,000 rows")
def two_million_rows() -> Times:
    return Times(by_rows()[-1], by_rows()[0])


@figure("the same, 20,000 to 2,000,000 rows, the longest and how it grows")
def growth_with_rows() -> Growth:
    return Growth(growth(ROWS[1:], by_rows()[1:]), by_rows()[-1])


@figure("memory of 2,000,000 rows above the table itself")
def memory_of_rows() -> Alone:
    table(ROWS[-1])
    return megabytes(peak_mb_of(partial(answer, 1, ROWS[-1])))


@cache
def demo(name: str) -> float:
    bands = read_bands(None)
    return median_s(lambda: spurplan.ranges(DEMOS / name / "set.toml", bands=bands), 5)


@figure("`ranges` of the boathouse demonstration, all its ranges, shipped tables", wanted="0.5 s")
def boathouse() -> Alone:
    return Alone(time_text(demo("boathouse")))


@figure("`ranges` of the lockkeeper demonstration, two conversions and a converter", wanted="0.5 s")
def lockkeeper() -> Alone:
    return Alone(time_text(demo("lockkeeper")))


@figure("memory of `ranges` of the boathouse demonstration with everything, however weak")
def memory_of_everything() -> Alone:
    bands = read_bands(None)
    return megabytes(
        peak_mb_of(lambda: spurplan.ranges(DEMOS / "boathouse" / "set.toml", bands=bands, everything=True))
    )

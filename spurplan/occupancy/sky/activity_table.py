"""Make the shipped table of who is on the air anew: ``python -m spurplan.occupancy.sky.activity_table``.

For one place in each region every hour of the twelve months is worked out, at 70 sunspots. Typical is, for
each level, the median over those hours of the expected number of stations above it; busy is the
mean of the best tenth. The share of busy days (contests) that a service has counts as hours of its own.
Of these two curves n, m and s are fitted.
"""

from __future__ import annotations

import hashlib
import sys
from importlib.resources import files
from pathlib import Path

import numpy as np
import numpy.typing as npt

from spurplan.csvfile import read_csv
from spurplan.csvtext import csv_text
from spurplan.files import write_text
from spurplan.occupancy.activity import FIGURES, REGIONS
from spurplan.occupancy.shipped import shipped_tables
from spurplan.occupancy.sky.level_law import Law, fit_law
from spurplan.occupancy.sky.services import LEVELS_DBM, Listening
from spurplan.occupancy.sky.stations import Stations, shipped_stations

Floats = npt.NDArray[np.float64]

# the middle of each region's listeners, north and east [deg]
PLACES = {1: (50.0, 10.0), 2: (40.0, -90.0), 3: (35.0, 135.0)}
SUNSPOTS = 70.0
BEST_SHARE = 0.1
MARK = "model"
HEADER = ("region", "place", "service", "band", "low_mhz", "high_mhz", "width_mhz", *FIGURES, "mark", "note")


def hours_of_the_year(listening: Listening) -> tuple[Floats, Floats]:
    """Return the numbers above each level on ordinary and busy days, shape (288 hours, levels, rows)."""
    pairs = [listening.number_above(month, float(hour)) for month in range(1, 13) for hour in range(24)]
    return np.array([pair[0] for pair in pairs]), np.array([pair[1] for pair in pairs])


def typical_and_busy(ordinary: Floats, busy: Floats, busy_share: Floats) -> tuple[Floats, Floats]:
    """Return for each level the median number and the mean of the best tenth of hours, shape (levels, rows).

    Parameters
    ----------
    ordinary, busy : arrays, shape (hours, levels, rows). Number above each level on such days.
    busy_share : array, shape (rows,). Share of busy days.
    """
    number = np.concatenate([ordinary, busy])
    weights = np.concatenate(
        [np.broadcast_to(1 - busy_share, ordinary.shape), np.broadcast_to(busy_share, busy.shape)]
    )
    weights = weights / len(ordinary)
    order = np.argsort(-number, axis=0, kind="stable")
    falling = np.take_along_axis(number, order, 0)
    weights = np.take_along_axis(weights, order, 0)
    passed = np.cumsum(weights, axis=0)
    middle = np.argmax(passed >= 0.5 - 1e-12, axis=0)
    median = np.take_along_axis(falling, middle[None], 0)[0]
    in_best = np.clip(BEST_SHARE - (passed - weights), 0, weights)
    return median, (falling * in_best).sum(0) / BEST_SHARE


def widths_mhz(stations: Stations, region: int) -> Floats:
    """Return what the shipped band tables give each row, its whole width where they give nothing. [MHz]"""
    allocated: dict[str, list[tuple[float, float]]] = {}
    for name, table in shipped_tables().items():
        cells = read_csv(name, data=table.read_bytes())
        if "low_khz" not in cells.header or "raster_khz" in cells.header:
            continue
        wanted = (cells.columns[column] for column in ("service", "region", "low_khz", "high_khz"))
        for service, where, low, high in zip(*wanted, strict=True):
            if low and (where == "W" or str(region) in where.split(";")):
                allocated.setdefault(service, []).append((float(low) / 1e3, float(high) / 1e3))
    widths = []
    for service, low, high in zip(stations.service, stations.low_mhz, stations.high_mhz, strict=True):
        inside = [(max(low, a), min(high, b)) for a, b in sorted(allocated.get(service, []))]
        total, reached = 0.0, low
        for begin, end in inside:
            total += max(0.0, end - max(begin, reached))
            reached = max(reached, end)
        widths.append(total or high - low)
    return np.array(widths)


def laws_of(region: int, stations: Stations) -> tuple[Law, Law]:
    """Return the laws of a typical and of a busy hour at the place of a region."""
    listening = Listening(*PLACES[region], SUNSPOTS, stations)
    curves = typical_and_busy(*hours_of_the_year(listening), stations.busy_share)
    return fit_law(LEVELS_DBM, curves[0]), fit_law(LEVELS_DBM, curves[1])


def table_text() -> str:
    """Return the table as CSV; rows that say nothing of neighbours are left to the estimates."""
    stations = shipped_stations()
    lines: list[tuple[object, ...]] = []
    for region in REGIONS:
        widths = widths_mhz(stations, region)
        laws = laws_of(region, stations)
        place = place_text(*PLACES[region])
        for row in np.flatnonzero(~stations.distant_only):
            figures: list[float] = []
            for law in laws:
                # three figures of a number that is known to a factor of two
                figures.append(float(f"{law.number[row] / widths[row]:.3g}"))
                figures += [round(float(law.median_dbm[row]), 1), round(float(law.spread_db[row]), 1)]
            note = f"fit {laws[0].error[row]:.2f} and {laws[1].error[row]:.2f} rms of ln"
            edges = (float(v) for v in (stations.low_mhz[row], stations.high_mhz[row], round(widths[row], 4)))
            lines.append(
                (region, place, stations.service[row], stations.band[row], *edges, *figures, MARK, note)
            )
    return csv_text(HEADER, lines)


def made_from() -> str:
    """Return the beginning of the checksum of what the table is made from: stations, regions and rhythms."""
    whole = hashlib.sha256()
    for name in ("sky_stations.csv", "sky_regions.csv", "sky_rhythms.csv"):
        whole.update((files("spurplan") / "data" / name).read_bytes())
    return whole.hexdigest()[:12]


def record_text(table: str) -> str:
    """Return the source record of a table just made."""
    data = table.encode()
    places = "; ".join(f"region {region} {place_text(*PLACES[region])}" for region in REGIONS)
    return f'''\
document = "Worked out by python -m spurplan.occupancy.sky.activity_table"
edition = "from the stations, regions and rhythms of checksum {made_from()}"
section = "{places}; smoothed sunspot number {SUNSPOTS:g}; every hour of twelve months"
date = "2026"
changed = """\\
Typical: median hour, level by level; busy: mean of the best tenth; number, median and spread of the
normal law that comes nearest. Sporadic E is left out. Stations and powers are estimates."""
from_memory = []
rows = {table.count(chr(10)) - 1}
sha256 = "{hashlib.sha256(data).hexdigest()}"
'''


def place_text(lat: float, lon: float) -> str:
    """Return a place as 50N 10E."""
    return f"{abs(lat):g}{'N' if lat >= 0 else 'S'} {abs(lon):g}{'E' if lon >= 0 else 'W'}"


def main() -> None:
    """Write the table and its source record where the package reads them, or to the path given."""
    shipped = Path(str(files("spurplan") / "data" / "activity.csv"))
    path = Path(sys.argv[1]) if len(sys.argv) > 1 else shipped
    table = table_text()
    write_text(path, table)
    write_text(path.with_suffix(".source.toml"), record_text(table))


if __name__ == "__main__":
    main()

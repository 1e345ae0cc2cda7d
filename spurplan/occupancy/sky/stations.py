"""Where stations are, how many are on the air and with how much power: estimates, in editable tables.

`sky_regions.csv` says where the stations of each kind stand, `sky_stations.csv` how many of each
service and band are on the air at the fullest hour of an ordinary day, and `sky_rhythms.csv` what share of
them is at each hour of local time. All of them are estimates and marked so.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np
import numpy.typing as npt

from spurplan.csvfile import Cells, FaultList, read_csv
from spurplan.errors import BadValue, Fault, did_you_mean
from spurplan.files import read_shipped
from spurplan.occupancy.band_rows import SERVICES
from spurplan.occupancy.sky.geometry import Points
from spurplan.units import parse_decimal, parse_signed_decimal

Floats = npt.NDArray[np.float64]

KINDS = ("broadcast", "amateur", "other", "standard_frequency", "long_wave")
HOURS = tuple(f"h{hour:02d}" for hour in range(0, 24, 2))


@dataclass(frozen=True)
class Regions:
    """Regions of the world.

    Attributes
    ----------
    names : tuple of str, n of them.
    at : Points, shape (n,). Their middles. [rad]
    share : array, shape (n, kinds). The share of the world's stations of each of `KINDS`.
    """

    names: tuple[str, ...]
    at: Points
    share: Floats


@dataclass(frozen=True)
class Stations:
    """Services by band; arrays of shape (rows,).

    Attributes
    ----------
    service, band : tuples of str.
    low_mhz, high_mhz : limits of the row. [MHz]
    frequency_mhz : where its propagation is worked out. [MHz]
    kind : int array. Index into `KINDS`.
    number : stations of the world on the air at the fullest hour of an ordinary day.
    eirp_dbkw : of the median one; below 1.7 MHz power into a short monopole. [dB(kW)]
    spread_db : of their powers, one sigma. [dB]
    local : stations within 20 km, on the air at once.
    rhythm : array, shape (rows, 12). Share of the number by two hours of local time from 00.
    busy_factor, busy_share : how many times as many there are on a busy day, and the share of such days.
    distant_only : bool array. Whether the row says nothing of what stands near, which counts for more.
    """

    service: tuple[str, ...]
    band: tuple[str, ...]
    low_mhz: Floats
    high_mhz: Floats
    frequency_mhz: Floats
    kind: npt.NDArray[np.int64]
    number: Floats
    eirp_dbkw: Floats
    spread_db: Floats
    local: Floats
    rhythm: Floats
    busy_factor: Floats
    busy_share: Floats
    distant_only: npt.NDArray[np.bool_]

    def __len__(self) -> int:
        return len(self.service)

    def on_the_air(self, local_h: Floats) -> Floats:
        """Return the share of each row's stations on the air at local hours, shape (n, rows)."""
        # a value stands at the middle of its two hours
        position = (np.asarray(local_h) / 2 - 0.5) % 12
        before = position.astype(int) % 12
        part = (position - np.floor(position))[:, None]
        return np.asarray(self.rhythm[:, before].T * (1 - part) + self.rhythm[:, (before + 1) % 12].T * part)


@cache
def shipped_regions() -> Regions:
    """Return the regions that come with the package."""
    return regions_of(_shipped("sky_regions.csv", ("region", "lat", "lon", *KINDS)))


@cache
def shipped_stations() -> Stations:
    """Return the services and bands that come with the package."""
    rhythms = rhythms_of(_shipped("sky_rhythms.csv", ("rhythm", *HOURS)))
    return stations_of(_shipped("sky_stations.csv", ("service", *_NUMBERS)), rhythms)


def _shipped(name: str, needed: tuple[str, ...]) -> Cells:
    return read_csv(name, needed, data=read_shipped(files("spurplan") / "data" / name))


def regions_of(cells: Cells) -> Regions:
    """Return regions from a table.

    Raises
    ------
    Refused  with every number that is none or outside its limits.
    """
    faults = FaultList()
    lat = cells.parsed("lat", _within(-90, 90), faults)
    lon = cells.parsed("lon", _within(-180, 180), faults)
    counts = [cells.parsed(kind, parse_decimal, faults) for kind in KINDS]
    faults.check()
    weights = np.array(counts, float).T
    for kind, total in zip(KINDS, weights.sum(0), strict=True):
        if total <= 0:
            faults.add(
                Fault(f"{cells.name}, column {kind}", "is nowhere above 0", remedy="say where they are")
            )
    faults.check()
    at = Points(np.radians(np.array(lat, float)), np.radians(np.array(lon, float)))
    return Regions(tuple(cells.columns["region"]), at, weights / weights.sum(0))


def rhythms_of(cells: Cells) -> dict[str, Floats]:
    """Return the courses of the day by name, each shape (12,).

    Raises
    ------
    Refused  with every value that is not from 0 to 1.
    """
    faults = FaultList()
    columns = [cells.parsed(hour, _within(0, 1), faults) for hour in HOURS]
    faults.check()
    return dict(zip(cells.columns["rhythm"], np.array(columns, float).T, strict=True))


_NUMBERS = (
    "low_mhz", "high_mhz", "freq_mhz", "stations", "eirp_dbkw", "spread_db", "local",
    "busy_factor", "busy_share",
)  # fmt: skip


def stations_of(cells: Cells, rhythms: dict[str, Floats]) -> Stations:
    """Return services and bands from a table.

    Raises
    ------
    Refused  with every number that is none, unknown word, and frequency outside its limits.
    """
    faults = FaultList()
    number = {name: cells.parsed(name, parse_signed_decimal, faults) for name in _NUMBERS}
    known = {"service": SERVICES, "where": KINDS, "rhythm": tuple(rhythms), "distant_only": ("yes", "no")}
    words = {name: cells.parsed(name, _one_of(choices), faults) for name, choices in known.items()}
    faults.check()
    for index in range(len(cells)):
        low, at, high = (number[name][index] for name in ("low_mhz", "freq_mhz", "high_mhz"))
        if not 0 < low <= at <= high:
            rule = f"does not lie from low_mhz {low:g} to high_mhz {high:g}"
            faults.add(Fault(cells.place(index, "freq_mhz"), rule, f"{at:g}", "give a frequency of the band"))
    faults.check()
    arrays = {name: np.array(values, float) for name, values in number.items()}
    return Stations(
        service=tuple(words["service"]),
        band=tuple(cells.columns["band"]),
        low_mhz=arrays["low_mhz"],
        high_mhz=arrays["high_mhz"],
        frequency_mhz=arrays["freq_mhz"],
        kind=np.array([KINDS.index(word) for word in words["where"]]),
        number=arrays["stations"],
        eirp_dbkw=arrays["eirp_dbkw"],
        spread_db=arrays["spread_db"],
        local=arrays["local"],
        rhythm=np.array([rhythms[word] for word in words["rhythm"]]),
        busy_factor=arrays["busy_factor"],
        busy_share=arrays["busy_share"],
        distant_only=np.array([word == "yes" for word in words["distant_only"]]),
    )


def _within(low: float, high: float) -> Callable[[str], float]:
    def parse(text: str) -> float:
        value = parse_signed_decimal(text)
        if not low <= value <= high:
            raise BadValue(text, f"is not from {low:g} to {high:g}", "give one inside")
        return value

    return parse


def _one_of(known: tuple[str, ...]) -> Callable[[str], str]:
    def parse(text: str) -> str:
        if text not in known:
            raise BadValue(text, "is not known here", did_you_mean(text, known))
        return text

    return parse

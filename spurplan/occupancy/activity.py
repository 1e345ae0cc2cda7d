"""How many stations are on the air, and how loud: by service and frequency, at a typical or a busy hour.

A band row or raster stands for n stations a MHz, each at m dBm with a spread of s dB (one sigma);
a spot for one station that is on with a chance and has a level and spread of its own. The figures of
short wave come from the sky model (``python -m spurplan.occupancy.sky.activity_table`` makes them
anew); what no model knows stands beside them as an estimate, in a file to be edited.

Levels stand at a matched lossless aerial, as the noise of Rec. ITU-R P.372 does.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from itertools import pairwise
from typing import Any, Literal, NamedTuple

import numpy as np
import numpy.typing as npt

from spurplan.csvfile import Cells, FaultList, read_csv
from spurplan.errors import BadValue, Fault, did_you_mean
from spurplan.files import read_shipped
from spurplan.occupancy.band_rows import SERVICES
from spurplan.units import parse_decimal, parse_signed_decimal

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

Hour = Literal["typical", "busy"]
HOURS: tuple[Hour, Hour] = ("typical", "busy")
REGIONS = (1, 2, 3)
# what a service that the table does not know is taken for: unknown must never look like clear
LOUDEST = "broadcast"

FIGURES = tuple(f"{hour}_{figure}" for hour in HOURS for figure in ("n_per_mhz", "m_dbm", "s_db"))
COLUMNS = ("region", "service", "band", "low_mhz", "high_mhz", *FIGURES, "mark")
OWN_LEVEL, OWN_PATH, OTHER = "level of its own", "path of its own", "other"
# after the name of a service that keeps to the hours it is listed with
AT_ITS_HOURS = "at its hours"


class OnTheAir(NamedTuple):
    """What a band row or raster stands for; arrays of shape (n,).

    Attributes
    ----------
    n_per_mhz : stations above -120 dBm on the air at once. [1/MHz]
    m_dbm : their median level. [dBm]
    s_db : spread of their levels, one sigma. [dB]
    row : int array. Row of the table the figures come from.
    """

    n_per_mhz: Floats
    m_dbm: Floats
    s_db: Floats
    row: npt.NDArray[np.intp]


class Spots(NamedTuple):
    """What single stations stand for; arrays of shape (n,).

    Attributes
    ----------
    chance : that it is on the air.
    level_dbm : its median level. [dBm]
    spread_db : of its level, one sigma. [dB]
    """

    chance: Floats
    level_dbm: Floats
    spread_db: Floats


@dataclass(frozen=True)
class ActivityTable:
    """Stations on the air by region, service and band; arrays of shape (rows,).

    Attributes
    ----------
    region : int array. 1 to 3, as in the Radio Regulations.
    service, band, mark : tuples of str; a mark of "[est]" is an estimate, "model" is not.
    low_mhz, high_mhz : limits of the row. Within a region rows of a service share an edge at most. [MHz]
    width_mhz : what the service has of it. [MHz]
    n_per_mhz, m_dbm, s_db : arrays, shape (2, rows), for each of `HOURS`.
    spot_chance : dict of service, "SERVICE at its hours", "other" and "level of its own" to the chance
        that a spot is on.
    own_level_spread_db, own_path_spread_db : float. Spread of a station whose level is known, and of one
        whose level was worked out from its place and power. [dB]
    """

    region: Ints
    service: tuple[str, ...]
    band: tuple[str, ...]
    mark: tuple[str, ...]
    low_mhz: Floats
    high_mhz: Floats
    width_mhz: Floats
    n_per_mhz: Floats
    m_dbm: Floats
    s_db: Floats
    spot_chance: dict[str, float]
    own_level_spread_db: float
    own_path_spread_db: float

    def rows_for(
        self, service: npt.NDArray[Any], services: Sequence[str], frequency_hz: Any, region: int
    ) -> npt.NDArray[np.intp]:
        """Return the row of each occupant: of its service in that region, the nearest by log frequency.

        Parameters
        ----------
        service : int array, shape (n,). Index into `services`.
        services : names of services; one the table does not know takes the rows of broadcasting.
        frequency_hz : array, shape (n,). [Hz]
        region : int. 1 to 3.

        Raises
        ------
        ValueError  when there is no such region.
        """
        if region not in REGIONS:
            raise ValueError(f"there is no region {region}")
        mhz = np.asarray(frequency_hz) / 1e6
        of_each = np.zeros(len(service), np.intp)
        for code, name in enumerate(services):
            here = np.flatnonzero(service == code)
            if len(here):
                rows = self._rows(name if name in self.service else LOUDEST, region)
                # half way between two rows, by log frequency
                edges = np.sqrt(self.high_mhz[rows[:-1]] * self.low_mhz[rows[1:]])
                of_each[here] = rows[np.searchsorted(edges, mhz[here])]
        return of_each

    def _rows(self, service: str, region: int) -> npt.NDArray[np.intp]:
        rows = np.array(
            [i for i, name in enumerate(self.service) if name == service and self.region[i] == region],
            np.intp,
        )
        return rows[np.argsort(self.low_mhz[rows])]

    def on_the_air(
        self,
        service: npt.NDArray[Any],
        services: Sequence[str],
        frequency_hz: Any,
        region: int = 1,
        hour: Hour = "typical",
    ) -> OnTheAir:
        """Return numbers, levels and spreads of band rows and rasters at their frequencies.

        Parameters are those of `rows_for`; a row of a band that is wider than the table's own is
        asked for at the frequency that matters.
        """
        rows = self.rows_for(service, services, frequency_hz, region)
        at = HOURS.index(hour)
        return OnTheAir(self.n_per_mhz[at, rows], self.m_dbm[at, rows], self.s_db[at, rows], rows)

    def as_listed(self, service: str) -> float:
        """Return the chance that a station is on in its listed hours; NaN of a service that keeps to none."""
        return self.spot_chance.get(f"{service} {AT_ITS_HOURS}", np.nan)

    def spots(
        self,
        service: npt.NDArray[Any],
        services: Sequence[str],
        frequency_hz: Any,
        region: int = 1,
        hour: Hour = "typical",
        own_level_dbm: Floats | None = None,
        hours_share: Floats | None = None,
    ) -> Spots:
        """Return chance, level and spread of single stations.

        Parameters
        ----------
        service, services, frequency_hz, region, hour : as in `on_the_air`.
        own_level_dbm : array, shape (n,). The level of those whose level somebody knows, else NaN. [dBm]
        hours_share : array, shape (n,). On which share of the days the hours they are listed with hold the
            time asked about, -1 where they do not tell. It counts for services that keep to such hours.
        """
        _, level, spread, _ = self.on_the_air(service, services, frequency_hz, region, hour)
        by_service = [self.spot_chance.get(name, self.spot_chance[OTHER]) for name in services]
        chance = np.array(by_service)[np.asarray(service)]
        if hours_share is not None:
            as_listed = np.array([self.as_listed(name) for name in services])[np.asarray(service)]
            kept = (hours_share >= 0) & ~np.isnan(as_listed)
            chance = np.where(kept, as_listed * hours_share, chance)
        if own_level_dbm is None:
            return Spots(chance, level, spread)
        own = ~np.isnan(own_level_dbm)
        return Spots(
            np.where(own, self.spot_chance[OWN_LEVEL], chance),
            np.where(own, own_level_dbm, level),
            np.where(own, self.own_level_spread_db, spread),
        )


@cache
def shipped_activity() -> ActivityTable:
    """Return the figures that come with the package: those of the model, and the estimates beside them."""
    tables = [
        read_csv(name, COLUMNS, data=read_shipped(files("spurplan") / "data" / name))
        for name in ("activity.csv", "activity_estimates.csv")
    ]
    name = "spot_activity.csv"
    spots = read_csv(
        name, ("kind", "chance", "spread_db"), data=read_shipped(files("spurplan") / "data" / name)
    )
    return activity_table(tables, spots)


def activity_table(tables: Sequence[Cells], spots: Cells) -> ActivityTable:
    """Return the activity in tables with `COLUMNS`, and the chances of spots.

    Raises
    ------
    Refused  with every fault: a number that is none, an unknown service or region, limits the wrong way
        round, and rows of one service and region that overlap.
    """
    faults = FaultList()
    parts: list[dict[str, Any]] = []
    for cells in tables:
        columns = {
            "region": cells.parsed("region", _regions, faults),
            "service": cells.parsed("service", _service, faults),
            "low_mhz": cells.parsed("low_mhz", _above_zero, faults),
            "high_mhz": cells.parsed("high_mhz", _above_zero, faults),
            **{
                name: cells.parsed(
                    name, parse_signed_decimal if name.endswith("m_dbm") else parse_decimal, faults
                )
                for name in FIGURES
            },
        }
        if "width_mhz" in cells.columns:
            columns["width_mhz"] = cells.parsed("width_mhz", _above_zero, faults)
        else:
            columns["width_mhz"] = [None] * len(cells)
        for index in range(len(cells)):
            row = {name: values[index] for name, values in columns.items()}
            row |= {name: cells.columns[name][index] for name in ("band", "mark")}
            row["place"] = cells.place(index)
            parts.append(row)
    chances = dict(zip(spots.columns["kind"], spots.parsed("chance", _share, faults), strict=True))
    for kind in (OTHER, OWN_LEVEL, OWN_PATH):
        if kind not in chances:
            faults.add(Fault(spots.name, f'has no row "{kind}"', remedy="add it"))
    faults.check()
    rows = [{**row, "region": region} for row in parts for region in row["region"]]
    _check_limits(rows, faults)
    own_spread, path_spread = (
        parse_decimal(spots.columns["spread_db"][spots.columns["kind"].index(kind)])
        for kind in (OWN_LEVEL, OWN_PATH)
    )

    def figures(figure: str) -> Floats:
        return np.array([[row[f"{hour}_{figure}"] for row in rows] for hour in HOURS], float)

    return ActivityTable(
        region=np.array([row["region"] for row in rows]),
        service=tuple(row["service"] for row in rows),
        band=tuple(row["band"] for row in rows),
        mark=tuple(row["mark"] for row in rows),
        low_mhz=np.array([row["low_mhz"] for row in rows], float),
        high_mhz=np.array([row["high_mhz"] for row in rows], float),
        width_mhz=np.array([row["width_mhz"] or row["high_mhz"] - row["low_mhz"] for row in rows], float),
        n_per_mhz=figures("n_per_mhz"),
        m_dbm=figures("m_dbm"),
        s_db=figures("s_db"),
        spot_chance=chances,
        own_level_spread_db=own_spread,
        own_path_spread_db=path_spread,
    )


def _check_limits(rows: list[dict[str, Any]], faults: FaultList) -> None:
    for row in rows:
        if row["low_mhz"] >= row["high_mhz"]:
            rule = f"is not below high_mhz {row['high_mhz']:g}"
            faults.add(
                Fault(
                    row["place"] + ", column low_mhz",
                    rule,
                    f"{row['low_mhz']:g}",
                    "give the lower edge first",
                )
            )
    ordered = sorted(rows, key=lambda row: (row["region"], row["service"], row["low_mhz"]))
    for before, after in pairwise(ordered):
        same = (before["region"], before["service"]) == (after["region"], after["service"])
        if same and after["low_mhz"] < before["high_mhz"]:
            rule = f"overlaps {before['place']}, of the same service and region"
            faults.add(Fault(after["place"], rule, remedy="let them share an edge at most"))
    faults.check()


def _regions(text: str) -> tuple[int, ...]:
    parts = text.split(";")
    if not all(part in {str(region) for region in REGIONS} for part in parts):
        raise BadValue(text, "is not a list of regions", 'write "1", or "1;3"')
    return tuple(map(int, parts))


def _service(text: str) -> str:
    if text not in SERVICES:
        raise BadValue(text, "is not a service", did_you_mean(text, SERVICES))
    return text


def _above_zero(text: str) -> float:
    value = parse_decimal(text)
    if value <= 0:
        raise BadValue(text, "is not above 0", "give megahertz")
    return value


def _share(text: str) -> float:
    value = parse_decimal(text)
    if value > 1:
        raise BadValue(text, "is above 1", "give a chance from 0 to 1")
    return value

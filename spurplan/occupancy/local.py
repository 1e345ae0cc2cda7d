"""Local stations: what everybody at a place knows to be on the air, beside the tables."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

import numpy as np

from spurplan.errors import BadValue, Fault, Refused, did_you_mean
from spurplan.occupancy.band_rows import MODES, SERVICES, Vocabulary, Words
from spurplan.occupancy.bands import Bands, TableInfo
from spurplan.occupancy.shipped import NO_RECORD
from spurplan.units import parse_level

# the name of their table in answers: no file is called so
LOCAL_TABLE = "[[local]]"


class LocalStation(Protocol):
    """One station.

    Attributes
    ----------
    frequency_hz : int. [Hz]
    level : str. At the aerial terminals, "-13 dBm" or "S9+60".
    label : str.
    service : str. One of the known services.
    mode, hours : str or None. As in a band table.
    """

    @property
    def frequency_hz(self) -> int: ...
    @property
    def level(self) -> str: ...
    @property
    def label(self) -> str: ...
    @property
    def service(self) -> str: ...
    @property
    def mode(self) -> str | None: ...
    @property
    def hours(self) -> str | None: ...


def with_local(bands: Bands, stations: Sequence[LocalStation]) -> Bands:
    """Return band tables with local stations as a last table of their own.

    Parameters
    ----------
    bands : Bands.
    stations : sequence of LocalStation.

    Raises
    ------
    Refused  with every service, mode and time that is none.
    """
    if not stations:
        return bands
    words = Vocabulary(
        services=Words(bands.services), labels=Words(bands.labels), modes=Words(bands.modes),
        levels=Words(bands.levels),
        schedules=Words(
            (schedule, *texts) for schedule, texts in zip(bands.schedules, bands.schedule_texts, strict=True)
        ),
    )  # fmt: skip
    faults: list[Fault] = []
    rows = [_coded(station, number, words, faults) for number, station in enumerate(stations, start=1)]
    if faults:
        raise Refused(faults)
    count = len(rows)
    hz = np.array([station.frequency_hz for station in stations], dtype=np.int64)
    none = np.full(count, -1)
    fresh = {
        "low_hz": hz, "high_hz": hz, "raster_hz": none * 0, "bandwidth_hz": none * 0,
        "region": none, "site": none, "note": none, "source": none,
        "table": none * 0 + len(bands.tables), "row": np.arange(1, count + 1),
        **{
            name: np.array([row[name] for row in rows])
            for name in ("service", "label", "mode", "level", "schedule")
        },
    }  # fmt: skip
    schedules = words.schedules.words()
    info = TableInfo(LOCAL_TABLE, count, 0, (), (), None, NO_RECORD)
    return bands.replace(
        **{
            name: np.append(getattr(bands, name), values).astype(getattr(bands, name).dtype)
            for name, values in fresh.items()
        },
        services=words.services.words(),
        labels=words.labels.words(),
        modes=words.modes.words(),
        levels=words.levels.words(),
        schedules=tuple(schedule for schedule, *_ in schedules),
        schedule_texts=tuple((hours, days, slot) for _, hours, days, slot in schedules),
        tables=(*bands.tables, info),
    )


def _coded(station: LocalStation, number: int, words: Vocabulary, faults: list[Fault]) -> dict[str, int]:
    """Return the codes of a station's words; what is nothing of its kind is added to the faults."""
    place = f"local[{number}]"
    if station.service not in SERVICES:
        remedy = did_you_mean(station.service, SERVICES)
        faults.append(Fault(f"{place}.service", "is not a known service", station.service, remedy))
    if station.mode is not None and station.mode not in MODES:
        faults.append(
            Fault(f"{place}.mode", "is not a mode", station.mode, did_you_mean(station.mode, MODES))
        )
    schedule = -1
    try:
        schedule = words.code_schedule(station.hours or "", "", "")
    except BadValue as bad:
        faults.append(bad.at(f"{place}.hours"))
    if faults:
        return {}
    return {
        "service": words.services.code(station.service),
        "label": words.labels.code(station.label),
        "mode": -1 if station.mode is None else words.modes.code(station.mode),
        "level": words.levels.code(parse_level(station.level)),
        "schedule": schedule,
    }

"""From rows of band tables to occupants: rasters laid out, widths and hours applied, levels found."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from spurplan.columns import distinct
from spurplan.csvfile import left_alone
from spurplan.emissions import emission_of
from spurplan.errors import BadValue, Fault, Refused, did_you_mean, text_of
from spurplan.occupancy.band_rows import SERVICES, level_of
from spurplan.occupancy.bands import Bands
from spurplan.occupancy.hours import Moment, parse_moment
from spurplan.occupancy.occupants import FROM_ASSUMED, FROM_SKY, Occupants
from spurplan.occupancy.typical_levels import (
    Levels,
    LevelTable,
    Resolved,
    option_levels,
    resolve,
    short_aerial_db,
    typical_levels,
)
from spurplan.units import S_CHANGE_HZ, Level, db_of, flag_faults, pythons_own

if TYPE_CHECKING:
    from spurplan.occupancy.sky import HereAndNow

# What one question may be asked about; rasters multiply rows.
MOST_OCCUPANTS = 5_000_000


def occupants_of(
    bands: Bands,
    *,
    region: int | None = None,
    utc: str | None = None,
    day: str | None = None,
    levels: Levels = None,
    antenna_gain_db: float = 0.0,
    now: HereAndNow | None = None,
    terminals: bool = False,
) -> Occupants:
    """Return what may be on the air, one entry a station, carrier or band.

    Parameters
    ----------
    bands : Bands.
    region : 1, 2, 3 or None for all rows.
    utc : "HHMM", "HH:MM", "HH:MM:SS" or None. Without a time no row is silent.
    day : "mon" to "sun" or None for any.
    levels : mapping of service to Level or text ("S9+20", "-53 dBm"), a path of a
        table like the typical levels, or None.
    antenna_gain_db : float. Added to the typical levels. [dB]
    now : HereAndNow or None. The place and hour whose levels stand for the typical ones.
    terminals : bool. Whether noise was measured at the terminals of the real aerial; levels of the sky
        below 15 MHz are then lower by what a short aerial loses there.

    Raises
    ------
    Refused  for an option that can not be understood.
    """
    _check_objects(bands, now)
    terminals = pythons_own(terminals)
    moment, options, antenna_gain_db = _checked_options(bands, utc, day, levels, antenna_gain_db, terminals)
    in_region = bands.in_region(region)
    kept = np.flatnonzero(in_region & _may_be_on(bands, moment))
    rows, carrier_hz, last_hz = _laid_out(bands, kept)
    half_hz = -(-bands.bandwidth_hz[rows] // 2)  # rounded up: no part of a station is lost
    low_hz = np.maximum(carrier_hz - half_hz, 1)
    high_hz = last_hz + half_hz
    order = np.lexsort((bands.row[rows], bands.table[rows], high_hz, low_hz))
    rows, carrier_hz, last_hz = rows[order], carrier_hz[order], last_hz[order]
    service = bands.service[rows]
    level = resolve(
        _given_dbm(bands, rows, carrier_hz),
        service,
        bands.services,
        carrier_hz,
        last_hz,
        options,
        typical_levels(),
        antenna_gain_db,
    )
    own_paths: frozenset[tuple[int, int]] = frozenset()
    if now is not None:
        middle = np.sqrt(low_hz[order].astype(np.float64) * high_hz[order])
        aerial_db = antenna_gain_db - (short_aerial_db(middle) if terminals else 0.0)
        level, path = _at_hour(bands, rows, middle, level, now, 1 if region is None else region, aerial_db)
        own_paths = frozenset(
            zip(bands.table[rows[path]].tolist(), bands.row[rows[path]].tolist(), strict=True)
        )
    emission = _emissions(bands)[service, bands.mode[rows]]
    return Occupants(
        low_hz=low_hz[order],
        high_hz=high_hz[order],
        level_dbm=level.dbm,
        level_from=level.origin,
        service=service,
        label=bands.label[rows],
        mode=bands.mode[rows],
        region=bands.region[rows],
        table=bands.table[rows],
        row=bands.row[rows],
        sound=emission[:, 1].astype(np.int8),
        width_hz=emission[:, 0],
        spot=_single(bands, rows),
        hours_share=_hours_share(bands, rows, moment),
        raster_hz=bands.raster_hz[rows],
        services=bands.services,
        labels=bands.labels,
        modes=bands.modes,
        regions=bands.regions,
        tables=tuple(info.name for info in bands.tables),
        unknown_services=bands.unknown_services,
        reach=bands.reach(region),
        own_paths=own_paths,
        assumptions=(
            *unread(bands),
            *_unused(bands, options),
            *regions_taken(bands, region),
            *idle_moment(bands, region, moment),
            *_of_sky(level, len(own_paths), now),
            *_assumptions(bands, rows, moment, level, antenna_gain_db),
        ),
    )


def _check_objects(bands: object, now: object) -> None:
    """Pass for tables that were read, and for an hour of a place or None.

    Raises
    ------
    Refused  for anything else.
    """
    faults = []
    if not isinstance(bands, Bands):
        remedy = "read them first, by read_bands"
        faults.append(Fault("bands", "is no table that was read", text_of(bands), remedy))
    if now is not None:
        from spurplan.occupancy.sky import HereAndNow  # dear to import

        if not isinstance(now, HereAndNow):
            faults.append(Fault("now", "is no hour of a place", text_of(now), "give a HereAndNow, or None"))
    if faults:
        raise Refused(faults)


def _emissions(bands: Bands) -> npt.NDArray[np.int32]:
    """Return (width, sound) by service and mode, shape (S, M + 1, 2); mode -1, unsaid, is the last."""
    modes = (*bands.modes, "")
    return np.array(
        [[emission_of(service, mode) for mode in modes] for service in bands.services], dtype=np.int32
    ).reshape(-1, len(modes), 2)


def _checked_options(
    bands: Bands, utc: str | None, day: str | None, levels: Levels, antenna_gain_db: float, terminals: bool
) -> tuple[Moment, dict[str, Level] | LevelTable, float]:
    """Return the moment, the levels and the gain that were asked for. [dB]

    Raises
    ------
    Refused  with all that can not be understood.
    """
    faults: list[Fault] = []
    moment = Moment()
    options: dict[str, Level] | LevelTable = {}
    for name, value in (("utc", utc), ("day", day)):
        try:
            parse_moment(value if name == "utc" else None, value if name == "day" else None)
        except BadValue as bad:
            faults.append(bad.at(name))
    if not faults:
        moment = parse_moment(utc, day)
    faults += flag_faults(terminals, "terminals")
    try:
        antenna_gain_db = db_of(antenna_gain_db)
    except BadValue as bad:
        faults.append(bad.at("antenna_gain_db"))
    try:
        options = option_levels(levels, bands.services)
    except Refused as refused:
        faults += refused.faults
    if faults:
        raise Refused(faults)
    return moment, options, antenna_gain_db


def _may_be_on(bands: Bands, moment: Moment) -> npt.NDArray[np.bool_]:
    # one question a distinct schedule; the spare True answers code -1, no schedule
    on = [schedule.may_be_on(moment) for schedule in bands.schedules]
    return np.array([*on, True])[bands.schedule]


def _single(bands: Bands, rows: npt.NDArray[np.intp]) -> npt.NDArray[np.bool_]:
    """Return which rows are one station on one frequency."""
    single: npt.NDArray[np.bool_] = (bands.raster_hz[rows] == 0) & (bands.low_hz[rows] == bands.high_hz[rows])
    return single


def _hours_share(bands: Bands, rows: npt.NDArray[np.intp], moment: Moment) -> npt.NDArray[np.float64]:
    """Return on which share of the days a station's own hours hold the moment, -1 where they do not tell."""
    shares = [schedule.share_at(moment) for schedule in bands.schedules]
    of_schedule = np.array([*(-1.0 if share is None else share for share in shares), -1.0])
    return np.where(_single(bands, rows), of_schedule[bands.schedule[rows]], -1.0)


def _laid_out(
    bands: Bands, kept: npt.NDArray[np.intp]
) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    """Return row, first and last frequency of every occupant, before widening."""
    counts = bands.carriers()[kept]
    total = int(counts.sum())
    if total > MOST_OCCUPANTS:
        rule = f"make {total:,} stations and carriers, more than {MOST_OCCUPANTS:,}"
        raise Refused(Fault("bands", rule, remedy="take fewer tables, a region, or wider rasters"))
    rows = np.repeat(kept, counts)
    number = np.arange(total) - np.repeat(np.cumsum(counts) - counts, counts)
    first_hz = bands.low_hz[rows] + number * bands.raster_hz[rows]
    last_hz = np.where(bands.raster_hz[rows] > 0, first_hz, bands.high_hz[rows])
    return rows, first_hz, last_hz


def _given_dbm(
    bands: Bands, rows: npt.NDArray[np.intp], at_hz: npt.NDArray[np.int64]
) -> npt.NDArray[np.float64]:
    """Return the levels the tables give, S units at the occupant's own frequency."""
    low, high = level_of(bands.levels)
    code = bands.level[rows]
    return np.where(at_hz <= S_CHANGE_HZ, low[code], high[code])


def _at_hour(
    bands: Bands,
    rows: npt.NDArray[np.intp],
    at_hz: npt.NDArray[np.float64],
    level: Resolved,
    now: HereAndNow,
    region: int,
    aerial_db: npt.NDArray[np.float64] | float,
) -> tuple[Resolved, npt.NDArray[np.bool_]]:
    """Return levels with those of an hour for the assumed ones, and which are of their own path.

    Notes
    -----
    A band, and a station nobody knows the place of, stands at the loudest of its service there.
    """
    heard = now.loudest_dbm(bands.service[rows], bands.services, at_hz, region)
    assumed = level.origin == FROM_ASSUMED
    path = np.zeros(len(rows), dtype=np.bool_)
    sited = np.flatnonzero(assumed & (bands.site[rows] >= 0))
    if len(sited):
        where = bands.sites[bands.site[rows[sited]]]
        own = now.own_path_dbm(where[:, 0], where[:, 1], where[:, 2], at_hz[sited])
        path[sited] = ~np.isnan(own)
        heard[sited] = np.where(np.isnan(own), heard[sited], own)
    known = assumed & ~np.isnan(heard)
    return (
        level.replace(
            dbm=np.where(known, heard + aerial_db, level.dbm),
            origin=np.where(known, FROM_SKY, level.origin).astype(np.uint8),
            class_changes=level.class_changes & ~known,
        ),
        path,
    )


def _of_sky(level: Resolved, own_paths: int, now: HereAndNow | None) -> list[str]:
    """Say which levels are of the hour asked about, and what that rests on."""
    if now is None:
        return []
    count = int(np.count_nonzero(level.origin == FROM_SKY))
    sentence = f"levels: {count:,} of {len(level):,} stations and bands as the sky has them at that hour"
    own = f", {counted(own_paths)} by the own path" if own_paths else ""
    return [*now.assumptions, sentence + own]


def unread(bands: Bands) -> list[str]:
    """Say which columns of the band tables nothing reads."""
    return [text for info in bands.tables for text in left_alone(info.name, info.other_columns)]


def regions_taken(bands: Bands, region: int | None) -> list[str]:
    """Say that nobody chose a region, where it would make a difference."""
    if region is not None or all(bands.in_region(itu_region).all() for itu_region in (1, 2, 3)):
        return []
    return ["no region given: the rows of all three ITU regions are taken; --region takes those of one"]


def idle_moment(bands: Bands, region: int | None, moment: Moment) -> list[str]:
    """Say where a time or a day was given and no row knows any: the answer is that of every time."""
    codes = bands.schedule[bands.in_region(region)]
    sentences = []
    for given, name, known in (
        (moment.second, "time", [bool(hours or slot) for hours, _, slot in bands.schedule_texts]),
        (moment.day, "day", [bool(days) for _, days, _ in bands.schedule_texts]),
    ):
        if given is not None and not np.array([*known, False])[codes].any():
            its = "hours or turns" if name == "time" else "days"
            sentences.append(
                f"no row of the tables in use has {its} of its own: the {name} given changes nothing"
            )
    return sentences


def _unused(bands: Bands, options: dict[str, Level] | LevelTable) -> list[str]:
    """Say which columns and services of a file of levels nothing reads: one misspelt would go unseen."""
    if not isinstance(options, LevelTable):
        return []
    return left_alone(options.name, options.others) + [
        f'levels: no table has the service "{name}" of {options.name}{_hint(name, bands.services)}'
        for name in options.services
        if name not in bands.services
    ]


def _hint(service: str, known: Sequence[str]) -> str:
    near = did_you_mean(service, known)
    return f" ({near})" if near.startswith("did") else ""


def _assumptions(
    bands: Bands,
    rows: npt.NDArray[np.intp],
    moment: Moment,
    level: Resolved,
    antenna_gain_db: float,
) -> list[str]:
    assumptions = []
    assumed = int(np.count_nonzero(level.origin == FROM_ASSUMED))
    if assumed:
        gain = f", {antenna_gain_db:+g} dB for the aerial" if antenna_gain_db else ""
        part = f"{assumed:,} of {len(rows):,} stations and bands"
        assumptions.append(f"levels: {part} at a typical level (an estimate{gain})")
    if level.class_changes.any():
        names = dict.fromkeys(bands.labels[c] for c in bands.label[rows[level.class_changes]].tolist())
        assumptions.append(
            f"the typical level changes inside {listed(list(names))}: the one at the low edge is taken"
        )
    guessed = distinct(bands.service[rows[level.origin == FROM_ASSUMED]])
    for service in (bands.services[code] for code in guessed.tolist() if code >= len(SERVICES)):
        hint = _hint(service, SERVICES)
        assumptions.append(f'service "{service}" is not known{hint}: it takes the loudest typical level')
    assumptions += _unsaid_times(bands, rows, moment)
    return assumptions


def _unsaid_times(bands: Bands, rows: npt.NDArray[np.intp], moment: Moment) -> list[str]:
    codes = bands.schedule[rows]
    timed = int(np.count_nonzero(codes >= 0))
    if not timed:
        return []
    if moment.second is None:
        return [f"no time given: {counted(timed)} with hours or turns of their own may be on the air"]
    sentences = []
    if moment.day is None:
        days = np.array([*(bool(days) for _, days, _ in bands.schedule_texts), False])
        count = int(np.count_nonzero(days[codes]))
        if count:
            sentences.append(f"no day given: {counted(count)} with days of their own may be on the air")
    short = [s.slot is not None and s.slot[0] < moment.length for s in bands.schedules]
    count = int(np.count_nonzero(np.array([*short, False])[codes]))
    if count:
        sentences.append(
            f"the time has no seconds: {counted(count)} of those that take turns may be on the air"
        )
    return sentences


def counted(stations: int) -> str:
    """Return "1 station" or "1,200 stations"."""
    return f"{stations:,} station" + ("" if stations == 1 else "s")


def listed(names: Sequence[str], shown: int = 3) -> str:
    """Return "a, b, c and 4 more"."""
    head = ", ".join(names[:shown])
    return head + (f" and {len(names) - shown} more" if len(names) > shown else "")

"""Who is on the air at one hour, in the form of the table that ships."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from spurplan.occupancy.activity import ActivityTable, shipped_activity
from spurplan.occupancy.sky.services import Listening

MARK = "sky"


def activity_at(
    listening: Listening, *, month: int, utc_hour: float, table: ActivityTable | None = None
) -> ActivityTable:
    """Return a table of activity with the figures of an hour in the place of the yearly ones.

    Parameters
    ----------
    listening : Listening. The place and sunspot number.
    month, utc_hour : 1 to 12, and hours UTC.
    table : ActivityTable. The one that ships, without.

    Notes
    -----
    Rows are matched by service and band, in every region: the place decides, not the region's middle. What
    no model knows, and what says nothing of neighbours, keeps its row. Busy is the same hour on a busy day.
    """
    table = shipped_activity() if table is None else table
    heard = listening.heard(month, utc_hour)
    stations = heard.stations
    of_row = {
        (service, band): row
        for row, (service, band) in enumerate(zip(stations.service, stations.band, strict=True))
        if not stations.distant_only[row]
    }
    keys = list(zip(table.service, table.band, strict=True))
    rows = np.array([row for row, key in enumerate(keys) if key in of_row], np.intp)
    source = np.array([of_row[keys[row]] for row in rows], np.intp)
    number, median, spread = table.n_per_mhz.copy(), table.m_dbm.copy(), table.s_db.copy()
    for hour, heard_number in enumerate((heard.law.number, heard.busy_number)):
        number[hour, rows] = heard_number[source] / table.width_mhz[rows]
        median[hour, rows] = heard.law.median_dbm[source]
        spread[hour, rows] = heard.law.spread_db[source]
    marks = list(table.mark)
    for row in rows:
        marks[row] = MARK
    return replace(table, n_per_mhz=number, m_dbm=median, s_db=spread, mark=tuple(marks))

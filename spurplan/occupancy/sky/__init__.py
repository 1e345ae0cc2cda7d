"""The sky: the field a station lays down here at this month and hour, noise, and who is on the air.

Paths after Rec. ITU-R P.533 on the maps of P.1239, night waves below 1.7 MHz after the shape of
P.1147, noise after P.372; stations, powers and hours of work are estimates in editable tables. Good
for hour, season and sunspots; absolute levels to no better than 15 dB. Sporadic E is left out: in
summer, 24 MHz and above is open more often than the answers say.
"""

from __future__ import annotations

from spurplan.occupancy.sky.field import field_dbuv
from spurplan.occupancy.sky.noise import Noise, atmospheric_fa_db
from spurplan.occupancy.sky.own_station import station_dbm
from spurplan.occupancy.sky.place import Place, parse_month, parse_place, parse_sunspots
from spurplan.occupancy.sky.services import Heard, Listening
from spurplan.occupancy.sky.this_hour import activity_at

__all__ = [
    "Heard",
    "Listening",
    "Noise",
    "Place",
    "activity_at",
    "atmospheric_fa_db",
    "field_dbuv",
    "parse_month",
    "parse_place",
    "parse_sunspots",
    "station_dbm",
]

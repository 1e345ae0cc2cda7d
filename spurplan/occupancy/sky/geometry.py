"""Great circles on a spherical Earth, and the triangles of a hop between ground and mirror.

Angles are in radians, distances in kilometres. The triangles are those of Rec. ITU-R P.533, section 5.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

EARTH_RADIUS_KM = 6371.0
# P.533: no ray leaves lower than this
LOWEST_ELEVATION = np.radians(3.0)


class Points(NamedTuple):
    """Points on the Earth.

    Attributes
    ----------
    lat, lon : arrays of one shape. North and east positive. [rad]
    """

    lat: Floats
    lon: Floats


def bearing_and_distance(start: Points, end: Points) -> tuple[Floats, Floats]:
    """Return the azimuth at `start` [rad] and the shorter great-circle distance to `end`. [km]"""
    east = end.lon - start.lon
    haversine = (
        np.sin((end.lat - start.lat) / 2) ** 2 + np.cos(start.lat) * np.cos(end.lat) * np.sin(east / 2) ** 2
    )
    azimuth = np.arctan2(
        np.sin(east) * np.cos(end.lat),
        np.cos(start.lat) * np.sin(end.lat) - np.sin(start.lat) * np.cos(end.lat) * np.cos(east),
    )
    return azimuth, 2 * EARTH_RADIUS_KM * np.arcsin(np.sqrt(np.clip(haversine, 0, 1)))


def destination(start: Points, azimuth: Floats, distance_km: Any) -> Points:
    """Return the points at a distance from `start` along the great circle of an azimuth [rad]."""
    arc = distance_km / EARTH_RADIUS_KM
    sine = np.sin(start.lat) * np.cos(arc) + np.cos(start.lat) * np.sin(arc) * np.cos(azimuth)
    lat = np.arcsin(np.clip(sine, -1, 1))
    east = np.arctan2(
        np.sin(azimuth) * np.sin(arc) * np.cos(start.lat), np.cos(arc) - np.sin(start.lat) * np.sin(lat)
    )
    return Points(lat, start.lon + east)


def elevation(hop_km: Any, mirror_height_km: Any) -> Any:
    """Return the elevation of a ray over `hop_km` by a mirror at that height. [rad]"""
    half_arc = hop_km / (2 * EARTH_RADIUS_KM)
    ratio = EARTH_RADIUS_KM / (EARTH_RADIUS_KM + mirror_height_km)
    return np.arctan(1 / np.tan(half_arc) - ratio / np.sin(half_arc))


def incidence(elevation_rad: Any, height_km: Any) -> Any:
    """Return the angle of incidence, from the vertical, of a ray at a height. [rad]"""
    return np.arcsin(EARTH_RADIUS_KM * np.cos(elevation_rad) / (EARTH_RADIUS_KM + height_km))


def ground_to_height_km(elevation_rad: Any, height_km: Any) -> Any:
    """Return the distance over ground from the start of a ray to where it passes a height. [km]"""
    return EARTH_RADIUS_KM * (np.pi / 2 - elevation_rad - incidence(elevation_rad, height_km))


def slant_km(hop_km: Any, elevation_rad: Any) -> Any:
    """Return the length of one hop along the ray. [km]"""
    half_arc = hop_km / (2 * EARTH_RADIUS_KM)
    return np.abs(2 * EARTH_RADIUS_KM * np.sin(half_arc) / np.cos(elevation_rad + half_arc))

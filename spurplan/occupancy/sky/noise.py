"""Atmospheric radio noise.

References
----------
[1] Rec. ITU-R P.372, atmospheric noise.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from spurplan.occupancy.sky.coefficients import published
from spurplan.occupancy.sky.limits import refuse_outside

Floats = npt.NDArray[np.float64]

LOWEST_HZ, HIGHEST_HZ = 100_000, 30_000_000
_BLOCK_H, _BLOCKS = 4, 6
# deciles are given to 20 MHz [1]
_DECILES_TO_MHZ = 20.0


class Noise(NamedTuple):
    """External noise of an hour over a month of days.

    Attributes
    ----------
    fa_db : array. Median over kT0B in a matched lossless aerial. [dB]
    upper_db, lower_db : arrays. Decile deviations from it. [dB]
    """

    fa_db: Floats
    upper_db: Floats
    lower_db: Floats


def atmospheric_fa_db(
    lat: npt.ArrayLike,
    *,
    lon: npt.ArrayLike,
    month: npt.ArrayLike,
    utc_hour: npt.ArrayLike,
    frequency_hz: npt.ArrayLike,
) -> Noise:
    """Return the noise of thunderstorms at a place [1]; all arguments broadcast.

    Parameters
    ----------
    lat, lon : float. North and east positive. [deg]
    month : int. 1 to 12.
    utc_hour : float. 0 to 24. [h]
    frequency_hz : float. 100 kHz to 30 MHz. [Hz]

    Raises
    ------
    Refused  for every argument with a value outside these limits.

    Notes
    -----
    [1] gives one value for each block of four hours local time. Here it stands at the middle of its
    block and is interpolated; the season does change in one step. Grid values are whole decibels.
    """
    arrays = [np.asarray(v, float) for v in (lat, lon, month, utc_hour, frequency_hz)]
    given = np.broadcast_arrays(*arrays)
    limits = {
        "lat": (-90, 90), "lon": (-360, 360), "month": (1, 12), "utc_hour": (0, 24),
        "frequency_hz": (LOWEST_HZ, HIGHEST_HZ),
    }  # fmt: skip
    refuse_outside(dict(zip(limits, given, strict=True)), limits)
    north, east, months, hours, hz = given
    season = months.astype(int) % 12 // 3
    local_h = (hours + east / 15) % 24
    # in blocks from the middle of the last block of the day before
    position = (local_h / _BLOCK_H - 0.5) % _BLOCKS
    block = position.astype(int) % _BLOCKS
    after = position - block
    earlier = _in_block(season, block, north, east, hz / 1e6)
    later = _in_block(season, (block + 1) % _BLOCKS, north, east, hz / 1e6)
    return Noise(*((1 - after) * a + after * b for a, b in zip(earlier, later, strict=True)))


def _in_block(
    season: npt.NDArray[np.int64], block: npt.NDArray[np.int64], lat: Floats, lon: Floats, mhz: Floats
) -> tuple[Floats, Floats, Floats]:
    tables = published("p372")
    row = block + _BLOCKS * (lat < 0)
    # [1] normalizes the map before it applies the law of frequency
    slope, offset = _frequency_law(season, row, np.full(mhz.shape, -0.75))
    map_db = _at_1_mhz(season, block, lat, lon) * (2 - slope) - offset
    slope, offset = _frequency_law(season, row, (8 * 2 ** np.log10(mhz) - 11) / 4)
    log_mhz = np.log10(np.minimum(mhz, _DECILES_TO_MHZ))
    upper, lower = (_polynomial(tables["deciles"][season, side, row], log_mhz) for side in (0, 1))
    return map_db * slope + offset, upper, lower


def _at_1_mhz(
    season: npt.NDArray[np.int64], block: npt.NDArray[np.int64], lat: Floats, lon: Floats
) -> Floats:
    """Return the grid of Fam at 1 MHz, bilinear between 10 deg of latitude and 15 of longitude. [dB]"""
    grid = published("p372")["fa_1mhz"]
    y, x = (lat + 90) / 10, (lon % 360) / 15
    south = np.minimum(y.astype(int), grid.shape[2] - 2)
    west = x.astype(int) % grid.shape[3]
    east = (west + 1) % grid.shape[3]
    up, right = y - south, x % 1
    low = grid[season, block, south, west] * (1 - right) + grid[season, block, south, east] * right
    high = grid[season, block, south + 1, west] * (1 - right) + grid[season, block, south + 1, east] * right
    return np.asarray(low * (1 - up) + high * up)


def _frequency_law(
    season: npt.NDArray[np.int64], row: npt.NDArray[np.int64], at: Floats
) -> tuple[Floats, Floats]:
    coefficients = published("p372")["frequency_law"][season, row]
    return _polynomial(coefficients[..., :7], at), _polynomial(coefficients[..., 7:], at)


def _polynomial(coefficients: Floats, at: Floats) -> Floats:
    """Return polynomials, highest power first along the last axis, each at its own place."""
    value = np.zeros_like(at)
    for power in range(coefficients.shape[-1]):
        value = value * at + coefficients[..., power]
    return value

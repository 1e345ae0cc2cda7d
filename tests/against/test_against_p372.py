"""External noise against Recommendation ITU-R P.372.

c and d of Fam = c - d*log10(f/MHz) as in the table of part 6 of the Recommendation (unchanged in
editions 8, 2003, to 17, 2024) and s. 4.1 (galactic); the decibels below were worked out from them
beside the code [calc]. Pn = Fa + 10*log10(b) - 174 dBm.
"""

from __future__ import annotations

import math

import pytest

from spurplan.receiver.description import Conversion, Filter, Receiver
from spurplan.receiver.noise import GALACTIC, MAN_MADE, Floor, compile_floor
from tests.outside import Differences, against

# f in MHz, category, Fam in dB, Pn in dBm in 1, 500 and 2400 Hz
ROWS = [
    (3, "city", 63.58, (-110.42, -83.43, -76.61)),
    (3, "residential", 59.28, (-114.72, -87.73, -80.91)),
    (3, "rural", 53.98, (-120.02, -93.03, -86.21)),
    (3, "quiet_rural", 39.95, (-134.05, -107.06, -100.24)),
    (10, "city", 49.10, (-124.90, -97.91, -91.10)),
    (10, "residential", 44.80, (-129.20, -102.21, -95.40)),
    (10, "rural", 39.50, (-134.50, -107.51, -100.70)),
    (10, "quiet_rural", 25.00, (-149.00, -122.01, -115.20)),
    (28, "city", 36.71, (-137.29, -110.30, -103.48)),
    (28, "residential", 32.41, (-141.59, -114.60, -107.78)),
    (28, "rural", 27.11, (-146.89, -119.90, -113.08)),
    (28, "quiet_rural", 12.21, (-161.79, -134.80, -127.99)),
]
GALACTIC_ROWS = [
    (10, 29.00, (-145.00, -118.01, -111.20)),
    (28, 18.72, (-155.28, -128.29, -121.48)),
]
WIDTHS = (1, 500, 2400)
CENT = 0.0101  # the table is rounded to 0.01 dB


def silent_set(environment: str) -> Floor:
    """A set that adds no noise of its own, so that its floor is the Recommendation's noise."""
    conversion = Conversion(injection="high", if_hz=455_000, filter=Filter(bandwidth_hz=2400))
    receiver = Receiver.from_dict(
        {
            "name": "silent",
            "conversions": (conversion,),
            "ranges": ({"name": "1", "coverage": ["1 MHz", "30 MHz"]},),
            "environment": environment,
            "noise_figure_db": 0.0,
        }
    )
    return compile_floor(receiver)


def as_powers(*levels: float) -> float:
    return 10 * math.log10(sum(10 ** (level / 10) for level in levels))


@against("Rec. ITU-R P.372, part 6", "man-made noise figures", unit="dB", tolerance=CENT)
def test_man_made_noise_figures() -> Differences:
    for mhz, category, fam, _ in ROWS:
        yield f"{mhz} MHz, {category}", MAN_MADE[category].figure_db(mhz * 1e6) - fam


@against("Rec. ITU-R P.372, part 6 and s. 4.1", "noise floor in 1, 500, 2400 Hz", unit="dB", tolerance=CENT)
def test_man_made_noise() -> Differences:
    """Alone below 10 MHz; with galactic noise as powers from there on."""
    galactic = {row[0]: row[2] for row in GALACTIC_ROWS}
    for mhz, category, _, pn in ROWS:
        for width, level, index in zip(WIDTHS, pn, range(3), strict=True):
            expected = level if mhz < 10 else as_powers(level, galactic[mhz][index])
            found = silent_set(category).floor_dbm(mhz * 1_000_000, width)
            yield f"{mhz} MHz, {category}, {width} Hz", found - expected


@against("Rec. ITU-R P.372, s. 4.1", "galactic noise figures", unit="dB", tolerance=CENT)
def test_galactic_noise() -> Differences:
    for mhz, fam, pn in GALACTIC_ROWS:
        found = GALACTIC.figure_db(mhz * 1e6)
        yield f"{mhz} MHz", found - fam
        for width, level in zip(WIDTHS, pn, strict=True):
            yield f"{mhz} MHz, {width} Hz", found + 10 * math.log10(width) - 174 - level


@pytest.mark.parametrize(("category", "low_mhz", "high_mhz"), [("city", 0.3, 250), ("quiet_rural", 0.3, 30)])
def test_lines_are_held_where_their_validity_ends(category: str, low_mhz: float, high_mhz: float) -> None:
    """0.3 to 250 MHz, quiet rural to 30 MHz (upper limit of that curve from memory)."""
    line = MAN_MADE[category]
    assert line.figure_db(low_mhz * 1e5) == line.figure_db(low_mhz * 1e6)
    assert line.figure_db(high_mhz * 1e7) == line.figure_db(high_mhz * 1e6)
    assert line.figure_db(high_mhz * 1e6 * 0.99) > line.figure_db(high_mhz * 1e6)

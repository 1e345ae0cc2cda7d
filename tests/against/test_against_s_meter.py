"""S units against the Recommendation that defines them."""

from __future__ import annotations

from spurplan.units import parse_level, s_text
from tests.outside import Differences, against

# IARU Region 1 Technical Recommendation R.1 (Brighton 1981, Torremolinos 1990): S9 is -73 dBm
# of available power below 30 MHz and -93 dBm above, one S unit is 6 dB
S9_DBM = {7_000_000: -73, 145_000_000: -93}
R1 = "IARU Region 1 Technical Recommendation R.1"


@against(R1, "levels of S1 to S9, below and above 30 MHz", unit="dB", tolerance=1e-9)
def test_level_of_an_s_unit() -> Differences:
    for hz, nine in S9_DBM.items():
        for s in range(1, 10):
            yield f"S{s} on {hz} Hz", parse_level(f"S{s}").dbm(hz) - (nine - 6 * (9 - s))


@against(R1, "S units said of a level", unit="S units", tolerance=0)
def test_s_unit_of_a_level() -> Differences:
    for hz, nine in S9_DBM.items():
        for s in range(1, 10):
            yield f"S{s} on {hz} Hz", int(s_text(nine - 6 * (9 - s), hz).removeprefix("S")) - s

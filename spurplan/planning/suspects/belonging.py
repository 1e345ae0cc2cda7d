"""Whether anybody belongs on a dial setting who sends what is heard, and where the nearest of them begins."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from spurplan.occupancy.occupants import Occupants
from spurplan.planning.suspects.weights import kinds_sent
from spurplan.units import hz_text

# from this share of its emissions on a service is one that sends so
SENDS_IT = 0.1
# A pointer is off by less than this part of what it shows; what lies farther is no reading error.
POINTER_OFF = 0.05
# `--dial-error` that is proposed: so many times what it takes, rounded up to this  [Hz]
ROOM, STEP_HZ = 1.25, 5_000
BY_SOUND = {
    "am": "Nobody who sends speech or music with its carrier",
    "ssb": "Nobody who sends speech on one sideband",
    "cw": "Nobody who sends Morse",
    "digital": "Nobody who sends data",
}


@dataclass(frozen=True)
class NobodyBelongs:
    """That no row of the tables at a dial setting sends what is heard; who does is elsewhere.

    Attributes
    ----------
    heard : str. One of the keys of `BY_SOUND`.
    dial_hz : int. [Hz]
    region : int or None. ITU region, where it is known.
    label : str or None. The nearest row that does, None where none is within reach of a pointer that is off.
    edge_hz : int. Its edge towards the dial. [Hz]
    broadcast : bool. Whether only broadcasters send so near by.
    """

    heard: str
    dial_hz: int
    region: int | None
    label: str | None
    edge_hz: int
    broadcast: bool

    @property
    def away_hz(self) -> int:
        """How far the edge lies above the dial, negative below. [Hz]"""
        return self.edge_hz - self.dial_hz

    @property
    def dial_error_hz(self) -> int:
        """What `--dial-error` reaches it, rounded up. [Hz]"""
        return -int(-ROOM * abs(self.away_hz) // STEP_HZ) * STEP_HZ

    @property
    def sentence(self) -> str:
        """A sentence, and what to try."""
        who = "No broadcaster" if self.broadcast else BY_SOUND[self.heard]
        where = "" if self.region is None else f" in Region {self.region}"
        text = f"{who} belongs on {hz_text(self.dial_hz)}{where}"
        if self.label is None:
            return f"{text}, nor near by."
        verb = "begins at" if self.away_hz > 0 else "ends at"
        off = hz_text(-(-abs(self.away_hz) // 1_000) * 1_000)
        return (
            f"{text}; {self.label} {verb} {hz_text(self.edge_hz)}. Is the pointer {off} off? "
            f"Try --dial-error {hz_text(self.dial_error_hz).replace(' ', '')}."
        )


def nobody_belongs(
    heard: str | None, dial_hz: int, off_hz: int, occupants: Occupants, region: int | None
) -> NobodyBelongs | None:
    """Return that nobody belongs there who sends what is heard; None where somebody does, or nothing tells.

    Parameters
    ----------
    heard : str or None. What it sounds like.
    dial_hz, off_hz : int. Where the pointer stands, and how far it may be off. [Hz]
    occupants : those of the tables, at the place.
    region : int or None. ITU region.
    """
    if heard not in BY_SOUND:
        return None
    modes = (*occupants.modes, "")  # the last for -1
    sends = np.array(
        [
            kinds_sent(occupants.services[service], modes[mode], low).get(heard, 0.0) >= SENDS_IT
            for service, mode, low in zip(
                occupants.service.tolist(), occupants.mode.tolist(), occupants.low_hz.tolist(), strict=True
            )
        ],
        dtype=np.bool_,
    )
    low, high = occupants.low_hz, occupants.high_hz
    if (sends & (low <= dial_hz + off_hz) & (high >= dial_hz - off_hz)).any():
        return None
    edge = np.where(low > dial_hz, low, high)
    # a spot is one station, and no band that begins
    reach = sends & ~occupants.spot & (np.abs(edge - dial_hz) <= POINTER_OFF * dial_hz)
    if not reach.any():
        return NobodyBelongs(heard, dial_hz, region, None, dial_hz, heard == "am")
    rows = np.flatnonzero(reach)
    # of those that begin together the widest, which is the band and not a part of it
    away = np.abs(edge[rows] - dial_hz)
    near = int(rows[np.lexsort((low[rows] - high[rows], away))[0]])
    service = occupants.services[int(occupants.service[near])]
    return NobodyBelongs(
        heard, dial_hz, region, occupants.label_of(near) or service, int(edge[near]), service == "broadcast"
    )

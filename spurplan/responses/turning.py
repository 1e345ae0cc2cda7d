"""A set as it is turned through: what intrudes on each range, and each stretch of dial in a word."""

from __future__ import annotations

from dataclasses import dataclass

from spurplan.occupancy.bands import Bands
from spurplan.receiver.chain import compile_chains
from spurplan.receiver.description import Receiver
from spurplan.responses.asking import Settings, loudest_typical_dbm, occupants_of, picked_ranges
from spurplan.responses.beyond import Beyond, beyond_tables
from spurplan.responses.engine import respond
from spurplan.responses.intrusion_table import Response, intruding
from spurplan.responses.listening.dial_words import DialPieces, DialWords, judge_dials
from spurplan.responses.listening.findings import TYPICAL, RangeFinding
from spurplan.responses.listening.judged import judge_evening_too, place_of


@dataclass(frozen=True)
class TurnedRange:
    """One range of a set.

    Attributes
    ----------
    candidate : int. Its number in the response.
    response : Response. What intrudes on it and on others.
    beyond : Beyond. Where images lie beyond the tables.
    pieces : DialPieces. Its dial as it was judged, piece by piece.
    words : DialWords. Its dial in words.
    typical, busy : RangeFinding. How much of it is usable at a typical hour and on a busy evening.
    """

    candidate: int
    response: Response
    beyond: Beyond
    pieces: DialPieces
    words: DialWords
    typical: RangeFinding
    busy: RangeFinding

    @property
    def name(self) -> str:
        """The name of the range."""
        return self.busy.range

    @property
    def low_hz(self) -> int:
        """First dial frequency. [Hz]"""
        return int(self.response.chains.low_hz[self.candidate])

    @property
    def high_hz(self) -> int:
        """Last dial frequency. [Hz]"""
        return int(self.response.chains.high_hz[self.candidate])


def turned_ranges(receiver: Receiver, bands: Bands, settings: Settings) -> list[TurnedRange]:
    """Return the ranges of a set as they are turned through, in the order of the set.

    Raises
    ------
    Refused  as `responses.ranges`.
    """
    picked = picked_ranges(receiver, settings.range)
    occupants = occupants_of(receiver, bands, settings)
    stranger_dbm = loudest_typical_dbm(receiver)
    place = place_of(receiver, occupants, settings)
    out = {}
    for chains in compile_chains([(receiver, range_) for range_ in picked]):
        response = intruding(respond(chains, occupants, settings))
        beyond = beyond_tables(chains, occupants, settings, stranger_dbm)
        pieces = judge_dials(response, place, settings)
        for v, (typical, busy) in enumerate(judge_evening_too(chains, place, settings, TYPICAL)):
            out[busy.range] = TurnedRange(v, response, beyond, pieces[v], pieces[v].words, typical, busy)
    return [out[range_.name] for range_ in picked]

"""What bench and ear say of a suspect: how well each observation fits, and which test would tell most.

A suspect predicts how fast it moves with the dial, how far it falls with a pad, whether its
sideband is inverted, which way the front end must be tuned to peak it, where on the dial it is
loudest, whether other stations near by have it behind them, what it sounds like, how strong it is,
what a whistle's pitch does, whether it fades, whether it goes with the aerial, and where another set
has it. An observation weighs each suspect
by how likely it is if that suspect is the cause; none ever rules one out altogether, since people
mishear. What is seen in one go, with the hand on the dial, with the aerial lead in it or on one round
over another set, is one test; what it sounds like is heard meanwhile.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from typing import Any

import numpy as np
import numpy.typing as npt

from spurplan import units
from spurplan.errors import BadValue, Fault, Refused
from spurplan.normal_law import share_below
from spurplan.planning.suspects.motion import WORDS, Motion, expected_words, motion_of
from spurplan.planning.suspects.weights import HEARD_WORDS, figure
from spurplan.units import Level, dial_text, flag_faults, hz_text, is_number, listed_text, pythons_own

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

PAD_DB = 10.0
TRIMMER_WORDS = ("up", "down", "same")
LOUDEST_WORDS = ("here", "up", "down", "everywhere")
AERIAL_WORDS = ("stays", "goes")
YES_NO = ("yes", "no")
# A test that would tell less is not worth proposing. [bit]
LEAST_BITS = 0.02
# A bit told besides is worth so much of being right at once.
BITS_WORTH = 0.1
# What makes a test worth so little more is not made in one go with it.
LEAST_WORTH = 1e-6
# On one round so many frequencies are listened on at most.
MOST_ON_A_ROUND = 4
# So many, the likeliest, are thought of for it.
MOST_THOUGHT_OF = 8
# Chance of an observation of which a suspect predicts nothing, where there are two.
_NOTHING_KNOWN = 0.5


@dataclass(frozen=True)
class Traits:
    """What one suspect predicts; NaN, None or "" where nothing is known.

    Attributes
    ----------
    moves : float. Against the wanted signal's 1.
    pad_db_per_db : float. 0 for what is made inside the set.
    inverted : bool or None. None where that can not be heard: it has no sideband, or both.
    off : float. How far from the dial frequency it enters, as a part of that; 0 for what no circuit peaks.
    heard : chance of each of `HEARD_WORDS`; empty where nothing is known.
    level_dbm, level_spread_db : float. How strong it is heard, and how sure that is. [dBm, dB]
    pitch_hz : float. Of a whistle. [Hz]
    pitch_from_hz, pitch_to_hz : float. Between which a whistle is where its pitch is not known. [Hz]
    fading : float. Chance that it fades.
    stays : float. Chance that it stays without the aerial.
    elsewhere_hz : where another set has it. [Hz]
    on_dial_hz : where this set has it besides, on any of its ranges. [Hz]
    saturates : bool. It is where a stage is overloaded; `moves` says whether it is all over the dial, 0, or
        on what is tuned in, 1.
    beside : "up", "down" or both. On which side of the dial setting it is tuned in; () for what is met there.
    rides : bool. It is on every carrier that passes the stage where a strong station does its mischief.
    """

    moves: float = math.nan
    pad_db_per_db: float = math.nan
    inverted: bool | None = None
    off: float = math.nan
    heard: Mapping[str, float] = field(default_factory=dict)
    level_dbm: float = math.nan
    level_spread_db: float = 10.0
    pitch_hz: float = math.nan
    pitch_from_hz: float = 0.0
    pitch_to_hz: float = math.inf
    fading: float = math.nan
    stays: float = math.nan
    elsewhere_hz: tuple[int, ...] = ()
    on_dial_hz: tuple[int, ...] = ()
    saturates: bool = False
    beside: tuple[str, ...] = ()
    rides: bool = False


@dataclass(frozen=True)
class Evidence:
    """What was observed; None for what was not tried.

    Attributes
    ----------
    moves : Motion or None. It may be given as a word, a number or its text: see `motion_of`.
    pad_drop_db : float or None. How far it fell with a 10 dB pad. [dB]
    inverted : bool or None.
    trimmer : str or None. "up", "down" or "same".
    heard : str or None. One of `HEARD_WORDS`.
    strength : str or None. A level, as "S7" or "-80 dBm".
    pitch_hz : int or None. [Hz]
    pitch_moves : bool or None. Whether its pitch changes while the dial is turned.
    fading : str or None. "yes" or "no".
    aerial_off : str or None. "stays" or "goes".
    also_on, not_on : tuple of int. Where another set has it, and where it has not. [Hz]
    loudest : str or None. "here", "up", "down" or "everywhere", the dial turned some kilohertz either way.
    found_at, not_at : tuple of int. Where else on its dial this set has it, and where it has not. [Hz]
    behind_others : str or None. "yes" or "no": whether other stations near by, tuned in, have it behind them.

    Raises
    ------
    Refused  for words that mean nothing, all at once.
    """

    moves: Motion | str | float | None = None
    pad_drop_db: float | None = None
    inverted: bool | None = None
    trimmer: str | None = None
    heard: str | None = None
    strength: str | None = None
    pitch_hz: int | None = None
    pitch_moves: bool | None = None
    fading: str | None = None
    aerial_off: str | None = None
    also_on: tuple[int, ...] = ()
    not_on: tuple[int, ...] = ()
    loudest: str | None = None
    found_at: tuple[int, ...] = ()
    not_at: tuple[int, ...] = ()
    behind_others: str | None = None

    def __post_init__(self) -> None:
        for name in ("pad_drop_db", "inverted", "pitch_moves"):
            object.__setattr__(self, name, pythons_own(getattr(self, name)))
        faults = []
        if self.moves is not None:
            try:
                object.__setattr__(self, "moves", motion_of(self.moves))
            except BadValue as bad:
                faults.append(bad.at("--moves"))
        drop = self.pad_drop_db
        if drop is not None and not (is_number(drop) and -20.0 <= drop <= 120.0):
            drop_text = f"{drop} dB" if is_number(drop) else str(drop)
            faults.append(Fault("--pad-drop", "is no drop", drop_text, "give -20 to 120 dB, for a 10 dB pad"))
        for place, flag in (("--inverted", self.inverted), ("--pitch-moves", self.pitch_moves)):
            if flag is not None:
                faults += flag_faults(flag, place)
        for place, word, known in (
            ("--trimmer", self.trimmer, TRIMMER_WORDS), ("--loudest", self.loudest, LOUDEST_WORDS),
            ("--heard", self.heard, HEARD_WORDS),
            ("--fading", self.fading, YES_NO), ("--behind-others", self.behind_others, YES_NO),
            ("--aerial-off", self.aerial_off, AERIAL_WORDS),
        ):  # fmt: skip
            if word is not None and str(word) not in known:
                remedy = f"say {', '.join(known[:-1])} or {known[-1]}"
                faults.append(Fault(place, _NO_SUCH[place], str(word), remedy))
        if self.strength is not None:
            try:
                units.level_of(self.strength, needs_unit=True)
            except BadValue as bad:
                faults.append(bad.at("--strength"))
        for place, other, on_hz, off_hz in (
            ("--also-on", "--not-on", self.also_on, self.not_on),
            ("--found-at", "--not-at", self.found_at, self.not_at),
        ):
            if both := sorted(set(on_hz) & set(off_hz)):
                remedy = "say it of one of them"
                faults.append(Fault(place, f"is said of {other} too", hz_text(both[0]), remedy))
        if faults:
            raise Refused(faults)

    @property
    def motion(self) -> Motion | None:
        """How it moves; None where that was not tried."""
        return None if self.moves is None else motion_of(self.moves)

    def strength_dbm(self, dial_hz: int) -> float:
        """Return the strength at a dial setting; NaN where none was told. [dBm]"""
        if self.strength is None:
            return math.nan
        level: Level = units.level_of(self.strength, needs_unit=True)
        return level.dbm(dial_hz)


_NO_SUCH = {
    "--trimmer": "is no direction",
    "--loudest": "is no place on the dial",
    "--heard": "is nothing that is heard",
    "--fading": "is neither yes nor no",
    "--behind-others": "is neither yes nor no",
    "--aerial-off": "is neither stays nor goes",
}


@dataclass(frozen=True)
class Listening:
    """A set on which it is listened for where it may really be.

    Attributes
    ----------
    name, option : str. What to do, and where its outcome is told.
    where, nowhere : str. What is said of frequencies on it, and of something on none of several.
    heard : str. The figure that says how often a station is heard there that should be.
    """

    name: str
    option: str
    where: str
    nowhere: str
    heard: str

    def places_hz(self, traits: Traits) -> tuple[int, ...]:
        """Return where a suspect is heard on it. [Hz]"""
        return traits.elsewhere_hz if self is ANOTHER_SET else traits.on_dial_hz

    def on_and_off(self, evidence: Evidence) -> tuple[tuple[int, ...], tuple[int, ...]]:
        """Return where it was heard on it, and where it was not. [Hz]"""
        if self is ANOTHER_SET:
            return evidence.also_on, evidence.not_on
        return evidence.found_at, evidence.not_at

    def __reduce__(self) -> str:
        # there are two, and each is known by which it is
        return "ANOTHER_SET" if self is ANOTHER_SET else "THIS_SET"


ANOTHER_SET = Listening(
    "listen on another set", "--also-on or --not-on", "on {} on another set", "nowhere on another set",
    "elsewhere_heard",
)  # fmt: skip
THIS_SET = Listening(
    "tune this set elsewhere", "--found-at or --not-at", "on {} too", "nowhere else", "on_dial_heard"
)


@dataclass(frozen=True)
class Test:
    """One thing to try at the bench.

    Attributes
    ----------
    name : str. What to do.
    option : str. Where its outcome is told.
    observed : the observation in some evidence, None where it was not tried.
    outcomes : the observations that could be made of some suspects.
    chance : how likely an observation is of one suspect, above 0; of what is not in words 1 at the best.
    expects : what a suspect would show, in words.
    fits_from, against_below : float. Chance from which an observation fits, and below which it does not, as
        a part of `likeliest`.
    likeliest : the chance of what a suspect most likely shows, where many things can be shown; 1 elsewhere.
    makes_sense : whether there is anything to hear, by what was observed already.
    effort : str. Its name among the efforts.
    listen_hz : tuple of int. Where a set is to be tuned for it. [Hz]
    listening : Listening or None. On which set.
    parts : the tests that are made by it in one go; () for one by itself.
    """

    name: str
    option: str
    observed: Callable[[Evidence], object]
    outcomes: Callable[[Sequence[Traits]], Sequence[object]]
    chance: Callable[[Traits, object], float]
    expects: Callable[[Traits], str]
    fits_from: float
    against_below: float
    makes_sense: Callable[[Evidence], bool] = lambda _: True
    effort: str = ""
    listen_hz: tuple[int, ...] = ()
    listening: Listening | None = None
    parts: tuple[Test, ...] = ()
    likeliest: Callable[[Traits], float] = lambda _: 1.0

    def sits(self, traits: Traits, seen: object) -> str:
        """Return whether an observation "fits" a suspect, is "against it" or leaves it "open"."""
        chance = self.chance(traits, seen) / self.likeliest(traits)
        if chance >= self.fits_from:
            return FITS
        return AGAINST if chance < self.against_below else OPEN

    def __reduce__(self) -> tuple[Callable[..., Test], tuple[Any, ...]]:
        # its functions have no names: copied and sent away it is the one of its name
        if self.parts:
            return _in_one_go, (self.name, *self.parts)
        if self.listening is not None:
            return _round, (self.listening, self.listen_hz)
        return _test_named, (self.name,)

    @property
    def places_hz(self) -> tuple[int, ...]:
        """Where a set is to be tuned for it, or for what is made in one go with it. [Hz]"""
        return (*self.listen_hz, *(hz for part in self.parts for hz in part.places_hz))

    @property
    def cost_bits(self) -> float:
        """What the trouble of it is worth. [bit]"""
        if self.parts:
            return sum(part.cost_bits for part in self.parts)
        more = max(len(self.listen_hz) - 1, 0) * figure("test", "on one frequency more")
        return figure("test", self.effort or self.name) + more


FITS, OPEN, AGAINST = "fits", "open", "against it"


def _weight(name: str) -> float:
    return figure("evidence", name)


def _moves_chance(traits: Traits, seen: object) -> float:
    assert isinstance(seen, Motion)
    right = _weight("moves_right")
    if math.isnan(traits.moves):
        return 0.25
    return right if seen.is_of(traits.moves, _weight("moves_near")) else (1.0 - right) / 3.0


def _moves_outcomes(all_: Sequence[Traits]) -> list[object]:
    rates = {t.moves for t in all_ if not math.isnan(t.moves) and abs(t.moves) not in (0.0, 1.0, 2.0)}
    return [*WORDS.values(), *(Motion(rate) for rate in sorted(rates))]


def _moves_words(traits: Traits) -> str:
    if traits.saturates:
        return "is there all over the dial, or moves with it"
    return "motion unknown" if math.isnan(traits.moves) else expected_words(traits.moves)


def _pad_chance(traits: Traits, seen: object) -> float:
    assert is_number(seen)
    if math.isnan(traits.pad_db_per_db):
        return 0.25
    spread, misread = _weight("pad_spread_db"), _weight("pad_misread")
    # all as densities, so that a cause that may show many readings does not gain by it
    unit_db = spread * math.sqrt(2.0 * math.pi)
    if traits.saturates:
        # what is overloaded no longer falls as a power of the pad: anything from twice its decibels on
        low, reach = 2.0 * PAD_DB, _weight("pad_overload_reach_db")
        inside = share_below((seen - low) / spread) - share_below((seen - low - reach) / spread)
        shown = inside * unit_db / reach
    else:
        off = (seen - PAD_DB * traits.pad_db_per_db) / spread
        shown = math.exp(-0.5 * off * off)
    return misread * unit_db / _weight("pad_misread_reach_db") + (1.0 - misread) * shown


def _pad_outcomes(all_: Sequence[Traits]) -> Sequence[object]:
    drops = {PAD_DB * t.pad_db_per_db for t in all_ if not math.isnan(t.pad_db_per_db)}
    far = 2.0 * PAD_DB + _weight("pad_overload_reach_db")
    return sorted(drops | ({far} if any(t.saturates for t in all_) else set()))


def _pad_words(traits: Traits) -> str:
    if traits.saturates:
        return f"falls {2.0 * PAD_DB:.0f} dB or more"
    if math.isnan(traits.pad_db_per_db):
        return "fall unknown"
    return f"falls {PAD_DB * traits.pad_db_per_db:.0f} dB"


def _either(name: str, predicted: bool | None, seen: object) -> float:
    if predicted is None:
        return _NOTHING_KNOWN
    return _weight(name) if predicted == seen else 1.0 - _weight(name)


def _inverted_chance(traits: Traits, seen: object) -> float:
    return _either("inverted_right", traits.inverted, seen)


def _inverted_words(traits: Traits) -> str:
    if traits.inverted is None:
        return "has no sideband of its own to tell by"
    return "sideband inverted" if traits.inverted else "sideband as it should be"


def _trimmer_chance(traits: Traits, seen: object) -> float:
    if math.isnan(traits.off):
        return 1.0 / 3.0
    right, turned = _weight("trimmer_right"), _weight("trimmer_turned")
    # how sure the peak is seen to move
    shown = traits.off**2 / (traits.off**2 + _weight("trimmer_shift") ** 2)
    way = "up" if traits.off > 0.0 else "down"
    if seen == "same":
        return (1.0 - right - turned) * shown + right * (1.0 - shown)
    beside = 0.5 * (1.0 - right) * (1.0 - shown)
    return (right if seen == way else turned) * shown + beside


def _trimmer_words(traits: Traits) -> str:
    if math.isnan(traits.off):
        return "peak unknown"
    if abs(traits.off) <= _weight("trimmer_shift"):
        return "peaks where the circuits are, or not at all"
    return f"peaks with the circuits tuned {'up' if traits.off > 0.0 else 'down'}"


def _loudest_shown(traits: Traits) -> Mapping[str, float]:
    """Return where on the dial something is loudest, by `LOUDEST_WORDS`, nothing being misread."""
    if traits.beside:
        return {side: 1.0 / len(traits.beside) for side in traits.beside}
    if math.isnan(traits.moves):
        return dict.fromkeys(LOUDEST_WORDS, 1.0 / len(LOUDEST_WORDS))
    return {"here" if traits.moves else "everywhere": 1.0}


def _loudest_chance(traits: Traits, seen: object) -> float:
    right = _weight("loudest_right")
    shown = _loudest_shown(traits).get(str(seen), 0.0)
    return shown * right + (1.0 - shown) * (1.0 - right) / (len(LOUDEST_WORDS) - 1.0)


def _loudest_words(traits: Traits) -> str:
    if traits.beside:
        return f"grows {listed_text(traits.beside, 'or')} the dial"
    if traits.saturates:
        return "the same all over the dial, or loudest here"
    if math.isnan(traits.moves):
        return "where it is loudest unknown"
    return "loudest here" if traits.moves else "the same all over the dial"


def _is_behind(traits: Traits) -> bool | None:
    """Return whether other stations near by have it behind them, nothing being misheard."""
    if traits.rides:
        return True
    # what stays put is there wherever the dial stands
    return None if math.isnan(traits.moves) else traits.moves == 0.0


def _behind_chance(traits: Traits, seen: object) -> float:
    behind = _is_behind(traits)
    if behind is None:
        return _NOTHING_KNOWN
    heard = _weight("behind_heard") if behind else _weight("behind_taken")
    return heard if seen == "yes" else 1.0 - heard


def _behind_words(traits: Traits) -> str:
    behind = _is_behind(traits)
    if behind is None:
        return "whether others have it too unknown"
    return "behind other stations too" if behind else "behind no other station"


def _heard_chance(traits: Traits, seen: object) -> float:
    if not traits.heard:
        return 1.0 / len(HEARD_WORDS)
    return max(traits.heard[str(seen)], 0.01)


def _heard_words(traits: Traits) -> str:
    if not traits.heard:
        return "sound unknown"
    likely = max(traits.heard, key=lambda word: traits.heard[word])
    # somebody in no table sends this or that
    return f"sounds like {SOUND_WORDS[likely]}" if traits.heard[likely] >= 0.5 else "may sound like anything"


SOUND_WORDS = {
    "am": "a programme or speech with its carrier",
    "ssb": "speech on one sideband",
    "cw": "Morse",
    "digital": "data",
    "carrier": "a bare carrier",
    "noise": "noise",
    "whistle": "a whistle",
}


@dataclass(frozen=True)
class _Strength:
    """A strength as it is compared: told in S units, it is a level by the dial. [dBm]"""

    dbm: float


def _strength_chance(traits: Traits, seen: object) -> float:
    assert isinstance(seen, _Strength)
    least = _weight("strength_least")
    if math.isnan(traits.level_dbm):
        return 0.5 * (1.0 + least)
    spread = math.hypot(traits.level_spread_db, _weight("strength_spread_db"))
    off = (seen.dbm - traits.level_dbm) / spread
    return least + (1.0 - least) * math.exp(-0.5 * off * off)


def _strength_words(traits: Traits) -> str:
    if math.isnan(traits.level_dbm):
        return "strength unknown"
    return f"expected at {traits.level_dbm:.0f} dBm, give or take {traits.level_spread_db:.0f} dB"


def _pitch_chance(traits: Traits, seen: object) -> float:
    assert is_number(seen)
    least = _weight("pitch_least")
    if math.isnan(traits.pitch_hz):
        return _NOTHING_KNOWN if traits.pitch_from_hz <= seen <= traits.pitch_to_hz else least
    off = (seen - traits.pitch_hz) / (_weight("pitch_spread") * max(traits.pitch_hz, 300.0))
    return least + (1.0 - least) * math.exp(-0.5 * off * off)


def _pitch_words(traits: Traits) -> str:
    if not math.isnan(traits.pitch_hz):
        return f"whistles at {traits.pitch_hz:.0f} Hz"
    if math.isinf(traits.pitch_to_hz):
        return "pitch unknown"
    return f"whistles at {traits.pitch_from_hz:.0f} to {traits.pitch_to_hz:.0f} Hz"


@dataclass(frozen=True)
class _PitchMotion:
    """Whether a pitch moves; a whistle beats with the wanted carrier, everything else with the BFO."""

    moves: bool
    whistle: bool


def _pitch_moves_chance(traits: Traits, seen: object) -> float:
    assert isinstance(seen, _PitchMotion)
    if math.isnan(traits.moves) or traits.saturates:
        return _NOTHING_KNOWN
    return _either("pitch_moves_right", traits.moves != (1.0 if seen.whistle else 0.0), seen.moves)


def _fading_chance(traits: Traits, seen: object) -> float:
    if math.isnan(traits.fading):
        return _NOTHING_KNOWN
    return traits.fading if seen == "yes" else 1.0 - traits.fading


def _fading_words(traits: Traits) -> str:
    if math.isnan(traits.fading):
        return "fading unknown"
    return "may fade" if traits.fading >= 0.5 else "stands steady, mostly"


def _aerial_chance(traits: Traits, seen: object) -> float:
    if math.isnan(traits.stays):
        return _NOTHING_KNOWN
    return traits.stays if seen == "stays" else 1.0 - traits.stays


def _aerial_words(traits: Traits) -> str:
    if math.isnan(traits.stays):
        return "unknown without the aerial"
    return "stays without the aerial" if traits.stays >= 0.5 else "goes with the aerial"


def _there(listening: Listening, traits: Traits, listened_hz: Sequence[int]) -> npt.NDArray[np.bool_]:
    """Return at which of the frequencies listened on a suspect is, by what it predicts."""
    within = _weight("elsewhere_within_hz")
    places = listening.places_hz(traits)
    return np.array([any(abs(hz - place_hz) <= within for place_hz in places) for hz in listened_hz])


def _listening_chance(
    listening: Listening, there: npt.NDArray[np.bool_], heard: npt.NDArray[np.bool_]
) -> Floats:
    """Return how likely it is that something is heard so.

    Notes
    -----
    A station that closed down, or does not reach another set, is gone from all its frequencies at once;
    what is there may be missed on one of them, and something else taken for it where it is not.

    Parameters
    ----------
    there, heard : bool, broadcast together, the last axis being the frequencies.
    """
    missed, erred, on = _weight("elsewhere_missed"), _weight("elsewhere_erred"), _weight(listening.heard)
    absent = np.where(heard, erred, 1.0 - erred)
    sent = np.where(there, np.where(heard, 1.0 - missed, missed), absent).prod(axis=-1)
    none_sent = absent.prod(axis=-1)
    chance: Floats = np.where(there.any(axis=-1), on * sent + (1.0 - on) * none_sent, none_sent)
    return chance


def _round(listening: Listening, listened_hz: tuple[int, ...]) -> Test:
    """Return the test of listening on some frequencies, one after the other."""

    def chance(traits: Traits, seen: object) -> float:
        assert isinstance(seen, frozenset)
        heard = np.array([hz in seen for hz in listened_hz])
        return float(_listening_chance(listening, _there(listening, traits, listened_hz), heard))

    def likeliest(traits: Traits) -> float:
        there = _there(listening, traits, listened_hz)
        return float(_listening_chance(listening, there, there))

    def expects(traits: Traits) -> str:
        there = _there(listening, traits, listened_hz).tolist()
        on = [dial_text(hz) for hz, is_there in zip(listened_hz, there, strict=True) if is_there]
        if on:
            return listening.where.format(listed_text(on))
        return f"not {listening.where.format(listed[0])}" if len(listed) == 1 else listening.nowhere

    def observed(evidence: Evidence) -> object:
        on, off = listening.on_and_off(evidence)
        return frozenset(on) & set(listened_hz) if {*on, *off} >= set(listened_hz) else None

    listed = [dial_text(hz) for hz in listened_hz]
    name = "tune this set to {}" if listening is THIS_SET else "listen on {} on another set"
    return Test(
        name.format(listed_text(listed)),
        f"{listening.option} {listed[0]}{', and so on' if len(listed) > 1 else ''}", observed,
        lambda _: _heard_sets(listened_hz), chance, expects, 0.6, 0.25, effort=listening.name,
        listen_hz=listened_hz, listening=listening, likeliest=likeliest,
    )  # fmt: skip


def _heard_sets(listened_hz: tuple[int, ...]) -> list[frozenset[int]]:
    """Return every set of frequencies on which it may be heard, in the order of `_heard_or_not`."""
    rows = _heard_or_not(len(listened_hz)).tolist()
    return [frozenset(itertools.compress(listened_hz, row)) for row in rows]


@cache
def _heard_or_not(number: int) -> npt.NDArray[np.bool_]:
    """Return what may be heard on so many frequencies, shape (outcomes, number)."""
    return np.array(list(itertools.product([False, True], repeat=number)))


def _in_one_go(name: str, *parts: Test) -> Test:
    """Return the test that makes several at once."""

    def observed(evidence: Evidence) -> object:
        shown = tuple(part.observed(evidence) for part in parts)
        return None if None in shown else shown

    def outcomes(all_: Sequence[Traits]) -> Sequence[object]:
        return list(itertools.product(*(part.outcomes(all_) for part in parts)))

    def chance(traits: Traits, seen: object) -> float:
        assert isinstance(seen, tuple)
        return math.prod(part.chance(traits, outcome) for part, outcome in zip(parts, seen, strict=True))

    return Test(
        name, ", ".join(part.option for part in parts), observed, outcomes, chance,
        lambda traits: ", ".join(part.expects(traits) for part in parts), 0.0, 0.0, parts=parts,
    )  # fmt: skip


# what has no beat oscillator behind it, as far as is known
_BEATS = (None, "whistle", "am")

MOVES = Test(
    "turn the dial a little",
    "--moves",
    lambda e: e.motion,
    _moves_outcomes,
    _moves_chance,
    _moves_words,
    0.45,
    0.2,
)
PAD = Test(
    "put a 10 dB pad at the aerial", "--pad-drop", lambda e: e.pad_drop_db, _pad_outcomes, _pad_chance,
    _pad_words, 0.35, 0.2,
)  # fmt: skip
LOUDEST = Test(
    "find where on the dial it is loudest", "--loudest", lambda e: e.loudest, lambda _: list(LOUDEST_WORDS),
    _loudest_chance, _loudest_words, 0.45, 0.2,
)  # fmt: skip
SIDEBAND = Test(
    "listen to its sideband", "--inverted or --not-inverted", lambda e: e.inverted, lambda _: [False, True],
    _inverted_chance, _inverted_words, 0.6, 0.4, lambda e: e.heard in (None, "ssb"),
)  # fmt: skip
TRIMMER = Test(
    "rock the front-end trimmers", "--trimmer", lambda e: e.trimmer, lambda _: list(TRIMMER_WORDS),
    _trimmer_chance, _trimmer_words, 0.45, 0.3,
)  # fmt: skip
HEARD = Test(
    "say what it sounds like", "--heard", lambda e: e.heard, lambda _: list(HEARD_WORDS),
    _heard_chance, _heard_words, 0.25, 0.08,
)  # fmt: skip
PITCH_MOVES = Test(
    "listen whether its pitch moves with the dial", "--pitch-moves or --pitch-stays",
    lambda e: None if e.pitch_moves is None else _PitchMotion(e.pitch_moves, e.heard in _BEATS),
    lambda _: [_PitchMotion(True, True), _PitchMotion(False, True)],
    _pitch_moves_chance, _moves_words, 0.6, 0.4,
    lambda e: e.heard == "whistle",
)  # fmt: skip
FADING = Test(
    "listen whether it fades", "--fading", lambda e: e.fading, lambda _: list(YES_NO),
    _fading_chance, _fading_words, 0.6, 0.25,
)  # fmt: skip
AERIAL = Test(
    "take the aerial off", "--aerial-off", lambda e: e.aerial_off, lambda _: list(AERIAL_WORDS),
    _aerial_chance, _aerial_words, 0.6, 0.25,
)  # fmt: skip
PITCH = Test(
    "tell its pitch", "--pitch", lambda e: e.pitch_hz, lambda _: [], _pitch_chance, _pitch_words, 0.6, 0.3,
    lambda _: False,
)  # fmt: skip
BEHIND = Test(
    "tune in other stations near by", "--behind-others", lambda e: e.behind_others, lambda _: list(YES_NO),
    _behind_chance, _behind_words, 0.6, 0.25,
)  # fmt: skip
TESTS = (MOVES, LOUDEST, BEHIND, PAD, SIDEBAND, TRIMMER, HEARD, PITCH_MOVES, FADING, AERIAL, PITCH)
# What is seen with the dial in the hand. With the aerial lead in it, to put a pad in, one sees what is left
# without the aerial, too; and the ear is open all the while.
AT_THE_DIAL = (MOVES, LOUDEST, PITCH_MOVES)
# Of several in one go the turn in which they are made.
_IN_TURN = (HEARD, *AT_THE_DIAL, BEHIND, AERIAL, PAD)
# What the turns of the dial are called together.
TURNS = "turn the dial some kilohertz either way"


def _strength_at(dial_hz: int) -> Test:
    """Return the reading of the S-meter as a test; nobody is sent to make it, everybody has it."""

    def observed(evidence: Evidence) -> object:
        return None if evidence.strength is None else _Strength(evidence.strength_dbm(dial_hz))

    return Test(
        "read the S-meter", "--strength", observed, lambda _: [], _strength_chance, _strength_words,
        0.6, 0.45, lambda _: False,
    )  # fmt: skip


def _test_named(name: str) -> Test:
    return next(test for test in TESTS if test.name == name)


def made_tests(evidence: Evidence, dial_hz: int) -> list[tuple[Test, object]]:
    """Return the tests that were made, and what each showed.

    Parameters
    ----------
    dial_hz : int. Where a strength in S units was read. [Hz]
    """
    rounds = [
        _round(listening, (*on, *off))
        for listening in (THIS_SET, ANOTHER_SET)
        for on, off in [listening.on_and_off(evidence)]
        if on or off
    ]
    every = [*TESTS, _strength_at(dial_hz), *rounds]
    return [(test, seen) for test in every if (seen := test.observed(evidence)) is not None]


def fits_of(traits: Traits, evidence: Evidence, dial_hz: int = 0) -> list[str]:
    """Return in words how each observation sits with one suspect."""
    return [
        f"{test.sits(traits, seen)}: {test.expects(traits)}" for test, seen in made_tests(evidence, dial_hz)
    ]


def contradicted(traits: Traits, evidence: Evidence, dial_hz: int = 0) -> bool:
    """Return whether any observation speaks against a suspect."""
    return any(test.sits(traits, seen) == AGAINST for test, seen in made_tests(evidence, dial_hz))


@dataclass(frozen=True)
class Proposed:
    """A test not made yet.

    Attributes
    ----------
    test : Test.
    tells_bits : float. How much it would tell: the expected fall of the entropy of the causes. [bit]
    right_after : float. How likely the cause that is first after it is the true one.
    """

    test: Test
    tells_bits: float
    right_after: float

    @property
    def worth(self) -> float:
        """What ranks it: how often it names the true one, then what it tells besides, less its trouble."""
        return self.right_after + BITS_WORTH * (self.tells_bits - self.test.cost_bits)


@dataclass(frozen=True)
class Weights:
    """Suspects of one range as they stand.

    Attributes
    ----------
    weight : float64, shape (n,). They add to 1.
    traits : what each predicts.
    cause : int64, shape (n,). Ascending; those of the same number are one way in: which of them it is, is
        not asked.
    """

    weight: Floats
    traits: Sequence[Traits]
    cause: Ints


def proposed_tests(suspected: Sequence[Weights], evidence: Evidence) -> list[Proposed]:
    """Return the untried tests that would tell the causes apart, the one that is worth most first.

    Parameters
    ----------
    suspected : the suspects of each range, one or more.

    Notes
    -----
    Over the outcomes a test can have: how likely the first cause then is the true one, and the expected
    fall of the entropy of the causes; of several ranges the mean. Less than `LEAST_BITS` is no test.
    """
    untried = [test for test in TESTS if test.observed(evidence) is None and test.makes_sense(evidence)]
    at_dial = tuple(test for test in untried if test in AT_THE_DIAL)
    besides = {
        # with the aerial lead in the hand, and with the dial in it
        PAD: [test for test in untried if test in (HEARD, AERIAL)],
        AERIAL: [test for test in untried if test is HEARD],
    }
    proposals = [
        _with_more(suspected, _made_by_itself(suspected, test), besides.get(test, ())).proposed
        for test in untried
        if test not in (*at_dial, BEHIND, PITCH)
    ]
    # with the dial in hand the set is tuned elsewhere, too
    more = [test for test in untried if test in (HEARD, BEHIND)]
    here = _longest_worth(suspected, evidence, THIS_SET, at_dial)
    if here is None and BEHIND in untried:
        here, more = _made_by_itself(suspected, BEHIND), [test for test in more if test is not BEHIND]
    rounds = (
        None if here is None else _with_more(suspected, here, more),
        _longest_worth(suspected, evidence, ANOTHER_SET),
    )
    proposals += [joint.proposed for joint in rounds if joint is not None]
    worthwhile = [proposal for proposal in proposals if proposal.tells_bits >= LEAST_BITS]
    return sorted(worthwhile, key=lambda proposal: -proposal.worth)


@dataclass(frozen=True)
class _Tried:
    """A proposal, and of each range how likely each outcome is of each suspect, (suspects, outcomes)."""

    proposed: Proposed
    chances: Sequence[Floats]

    @property
    def parts(self) -> tuple[Test, ...]:
        return self.proposed.test.parts or (self.proposed.test,)


def _made_by_itself(suspected: Sequence[Weights], test: Test) -> _Tried:
    chances = [_chances(test, some.traits) for some in suspected]
    return _Tried(_proposed(suspected, (test,), chances), chances)


def _turn(test: Test) -> int:
    """Return when a test is made of several in one go: a round comes last."""
    return len(_IN_TURN) if test.listening is not None else _IN_TURN.index(test)


def _with_more(suspected: Sequence[Weights], tried: _Tried, more: Sequence[Test]) -> _Tried:
    """Return a proposal with each test that is worth making in one go with it."""
    for test in more:
        chances = [
            _joined([now, _chances(test, some.traits)], some)
            for now, some in zip(tried.chances, suspected, strict=True)
        ]
        parts = sorted((*tried.parts, test), key=_turn)
        longer = _Tried(_proposed(suspected, tuple(parts), chances), chances)
        if longer.proposed.worth > tried.proposed.worth + LEAST_WORTH:
            tried = longer
    return tried


def _proposed(suspected: Sequence[Weights], parts: tuple[Test, ...], chances: Sequence[Floats]) -> Proposed:
    """Return what tests made in one go would tell, the mean of the ranges.

    Parameters
    ----------
    chances : float64, shape (suspects, outcomes), of each range. How likely each outcome is of each suspect.
    """
    pairs = zip(suspected, chances, strict=True)
    bits, right = np.mean([_told_by(some, chance) for some, chance in pairs], axis=0)
    return Proposed(_together(parts), float(bits), float(right))


def _together(parts: tuple[Test, ...]) -> Test:
    """Return tests made in one go as one."""
    if len(parts) == 1:
        return parts[0]
    turns = [test for test in parts if test in AT_THE_DIAL]
    names = [TURNS if test in turns and len(turns) > 1 else test.name for test in parts]
    return _in_one_go(", then ".join(dict.fromkeys(names)), *parts)


def _longest_worth(
    suspected: Sequence[Weights],
    evidence: Evidence,
    listening: Listening,
    before: tuple[Test, ...] = (),
) -> _Tried | None:
    """Return the round that is worth most, with what is seen on the way; None where there is nothing to see.

    Parameters
    ----------
    before : tests that are made in one go with it, and by themselves where no round is worth more.

    Notes
    -----
    Of the likeliest places one after the other is put on the round, that which makes it worth most, as long
    as any does. What is nearer to one of them than dials are read is one place.
    """
    by_hz: dict[int, float] = {}
    for some in suspected:
        for weight, traits in zip(some.weight.tolist(), some.traits, strict=True):
            for hz in listening.places_hz(traits):
                by_hz[hz] = by_hz.get(hz, 0.0) + weight
    within = _weight("elsewhere_within_hz")
    listened_hz = [hz for some in listening.on_and_off(evidence) for hz in some]
    places: list[int] = []
    for hz in sorted(by_hz, key=lambda hz: -by_hz[hz]):
        if all(abs(hz - other) > within for other in (*listened_hz, *places)):
            places.append(hz)
    places = places[:MOST_THOUGHT_OF]
    known = [[_chances(test, some.traits) for test in before] for some in suspected]
    there = [np.array([_there(listening, traits, places) for traits in some.traits]) for some in suspected]
    together = [_joined(chances, some) for chances, some in zip(known, suspected, strict=True)]
    best = _Tried(_proposed(suspected, before, together), together) if before else None
    listened: list[int] = []
    while len(listened) < min(MOST_ON_A_ROUND, len(places)):
        heard = _heard_or_not(len(listened) + 1)
        longer = []
        for i in sorted(set(range(len(places))) - set(listened)):
            which = [*listened, i]
            heard_so = [
                _listening_chance(listening, chances_there[:, None, which], heard[None])
                for chances_there in there
            ]
            chances = [_joined(pair, some) for *pair, some in zip(together, heard_so, suspected, strict=True)]
            test = _round(listening, tuple(places[j] for j in which))
            longer.append((_Tried(_proposed(suspected, (*before, test), chances), chances), i))
        longest, added = max(longer, key=lambda pair: pair[0].proposed.worth)
        if best is not None and longest.proposed.worth <= best.proposed.worth:
            break
        best = longest
        listened.append(added)
    return best


def _joined(chances: Sequence[Floats], suspected: Weights) -> Floats:
    """Return how likely outcomes of several tests are together, shape (suspects, outcomes)."""
    together: Floats = np.ones((len(suspected.traits), 1))
    for more in chances:
        together = (together[:, :, None] * more[:, None, :]).reshape(len(together), -1)
    return together


def _chances(test: Test, traits: Sequence[Traits]) -> Floats:
    """Return how likely each outcome of a test is of each suspect, (suspects, outcomes); rows add to 1."""
    outcomes = test.outcomes(traits)
    chance = np.array([[test.chance(traits, outcome) for outcome in outcomes] for traits in traits])
    shares: Floats = chance / chance.sum(axis=1, keepdims=True)
    return shares


def _told_by(suspected: Weights, chance: Floats) -> tuple[float, float]:
    """Return the expected fall of entropy, and how likely the first cause is the true one after it."""
    starts = np.flatnonzero(np.diff(suspected.cause, prepend=-1))
    joint = np.add.reduceat(suspected.weight[:, None] * chance, starts, axis=0)
    # of a cause, an outcome, and of both: H(cause) + H(outcome) - H(both)
    fall = _entropy(joint.sum(axis=1)) + _entropy(joint.sum(axis=0)) - _entropy(joint)
    return fall, float(joint.max(axis=0).sum())


def _entropy(weight: Floats) -> float:
    some = weight[weight > 0]
    return float(-(some * np.log2(some)).sum())


def observed_words(evidence: Evidence) -> Mapping[str, Any]:
    """Return what was observed by its option's name, for the answer; only what was told."""
    observed = {name: getattr(evidence, name) for name in Evidence.__dataclass_fields__}
    observed["moves"] = None if evidence.motion is None else evidence.motion.as_typed
    return {name: list(value) if isinstance(value, tuple) else value for name, value in observed.items()}

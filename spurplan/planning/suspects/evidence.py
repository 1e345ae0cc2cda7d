"""What bench and ear say of a suspect: how well each observation fits, and which test would tell most.

A suspect predicts how fast it moves with the dial, how far it falls with a pad, whether its
sideband is inverted, which way the front end must be tuned to peak it, what it sounds like, how
strong it is, what a whistle's pitch does, whether it fades, whether it goes with the aerial, and
where another set has it. An observation weighs each suspect by how likely it is if that suspect is
the cause; none ever rules one out altogether, since people mishear.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

from spurplan import units
from spurplan.errors import BadValue, Fault, Refused
from spurplan.planning.suspects.motion import WORDS, Motion, expected_words, motion_of
from spurplan.planning.suspects.weights import HEARD_WORDS, figure
from spurplan.units import Level, flag_faults, hz_text, is_number, pythons_own

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

PAD_DB = 10.0
TRIMMER_WORDS = ("up", "down", "same")
AERIAL_WORDS = ("stays", "goes")
YES_NO = ("yes", "no")
# A test that would tell less is not worth proposing. [bit]
LEAST_BITS = 0.02
# A bit told besides is worth so much of being right at once.
BITS_WORTH = 0.1
# Where another set is asked about, so many frequencies are thought of.
MOST_ELSEWHERE = 6
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
    saturates : bool. It is where a stage is overloaded: anywhere on the dial.
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
    saturates: bool = False


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
            said = f"{drop} dB" if is_number(drop) else str(drop)
            faults.append(Fault("--pad-drop", "is no drop", said, "give -20 to 120 dB, for a 10 dB pad"))
        for place, flag in (("--inverted", self.inverted), ("--pitch-moves", self.pitch_moves)):
            if flag is not None:
                faults += flag_faults(flag, place)
        for place, word, known in (
            ("--trimmer", self.trimmer, TRIMMER_WORDS), ("--heard", self.heard, HEARD_WORDS),
            ("--fading", self.fading, YES_NO), ("--aerial-off", self.aerial_off, AERIAL_WORDS),
        ):  # fmt: skip
            if word is not None and str(word) not in known:
                remedy = f"say {', '.join(known[:-1])} or {known[-1]}"
                faults.append(Fault(place, _NO_SUCH[place], str(word), remedy))
        if self.strength is not None:
            try:
                units.level_of(self.strength, needs_unit=True)
            except BadValue as bad:
                faults.append(bad.at("--strength"))
        if both := sorted(set(self.also_on) & set(self.not_on)):
            remedy = "say it of one of them"
            faults.append(Fault("--also-on", "is said of --not-on too", hz_text(both[0]), remedy))
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
    "--heard": "is nothing that is heard",
    "--fading": "is neither yes nor no",
    "--aerial-off": "is neither stays nor goes",
}


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
    fits_from, against_below : float. Chance from which an observation fits, and below which it does not.
    makes_sense : whether there is anything to hear, by what was observed already.
    effort : str. Its name among the efforts.
    listen_hz : int or None. Where another set is to be tuned for it. [Hz]
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
    listen_hz: int | None = None

    def sits(self, traits: Traits, seen: object) -> str:
        """Return whether an observation "fits" a suspect, is "against it" or leaves it "open"."""
        chance = self.chance(traits, seen)
        if chance >= self.fits_from:
            return FITS
        return AGAINST if chance < self.against_below else OPEN

    def __reduce__(self) -> tuple[Callable[..., Test], tuple[str, int | None]]:
        # its functions have no names: copied and sent away it is the one of its name
        return _test_named, (self.name, self.listen_hz)

    @property
    def cost_bits(self) -> float:
        """What the trouble of it is worth. [bit]"""
        return figure("test", self.effort or self.name)


FITS, OPEN, AGAINST = "fits", "open", "against it"


def _weight(name: str) -> float:
    return figure("evidence", name)


def _moves_chance(traits: Traits, seen: object) -> float:
    assert isinstance(seen, Motion)
    right = _weight("moves_right")
    if traits.saturates:
        stays = _weight("overload_stays")
        return {0.0: stays, 1.0: (1.0 - stays) * right}.get(seen.rate, 1.0 - right)
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
    expected = PAD_DB * traits.pad_db_per_db
    # what is overloaded no longer falls as a power of the pad: from twice its decibels on anything goes
    off = min(seen - 2.0 * PAD_DB, 0.0) if traits.saturates else seen - expected
    off /= _weight("pad_spread_db")
    misread = _weight("pad_misread")
    return misread + (1.0 - misread) * math.exp(-0.5 * off * off)


def _pad_outcomes(all_: Sequence[Traits]) -> Sequence[object]:
    return sorted({PAD_DB * t.pad_db_per_db for t in all_ if not math.isnan(t.pad_db_per_db)})


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


def _elsewhere(hz: int) -> Test:
    """Return the test of listening on one frequency on another set."""

    def chance(traits: Traits, seen: object) -> float:
        within = _weight("elsewhere_within_hz")
        there = any(abs(hz - one) <= within for one in traits.elsewhere_hz)
        heard = _weight("elsewhere_heard") if there else _weight("elsewhere_erred")
        return heard if seen is True else 1.0 - heard

    def expects(traits: Traits) -> str:
        there = any(abs(hz - one) <= _weight("elsewhere_within_hz") for one in traits.elsewhere_hz)
        return f"is on {hz_text(hz)} on another set{'' if there else ' not'}"

    def observed(evidence: Evidence) -> object:
        return True if hz in evidence.also_on else False if hz in evidence.not_on else None

    return Test(
        f"listen on {hz_text(hz)} on another set", f"--also-on or --not-on {hz_text(hz)}", observed,
        lambda _: [True, False], chance, expects, 0.6, 0.25, effort="listen on another set", listen_hz=hz,
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
TESTS = (MOVES, PAD, SIDEBAND, TRIMMER, HEARD, PITCH_MOVES, FADING, AERIAL, PITCH)


def _strength_at(dial_hz: int) -> Test:
    """Return the reading of the S-meter as a test; nobody is sent to make it, everybody has it."""

    def observed(evidence: Evidence) -> object:
        return None if evidence.strength is None else _Strength(evidence.strength_dbm(dial_hz))

    return Test(
        "read the S-meter", "--strength", observed, lambda _: [], _strength_chance, _strength_words,
        0.6, 0.45, lambda _: False,
    )  # fmt: skip


def _test_named(name: str, listen_hz: int | None) -> Test:
    if listen_hz is not None:
        return _elsewhere(listen_hz)
    return next(test for test in TESTS if test.name == name)


def made_tests(evidence: Evidence, dial_hz: int) -> list[tuple[Test, object]]:
    """Return the tests that were made, and what each showed.

    Parameters
    ----------
    dial_hz : int. Where a strength in S units was read. [Hz]
    """
    every = [*TESTS, _strength_at(dial_hz), *map(_elsewhere, (*evidence.also_on, *evidence.not_on))]
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
    cause : int64, shape (n,). Those of the same number are one way in: which of them it is, is not asked.
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
    every = [*TESTS, *(_elsewhere(hz) for hz in _worth_listening(suspected))]
    untried = [test for test in every if test.observed(evidence) is None and test.makes_sense(evidence)]
    found = []
    for test in untried:
        told = np.mean([_told_by(one, test) for one in suspected], axis=0)
        if told[0] >= LEAST_BITS:
            found.append(Proposed(test, float(told[0]), float(told[1])))
    return sorted(found, key=lambda one: -one.worth)


def _worth_listening(suspected: Sequence[Weights]) -> list[int]:
    """Return the frequencies at which another set would tell something, by the weight of who is there."""
    by_hz: dict[int, float] = {}
    for some in suspected:
        for weight, traits in zip(some.weight.tolist(), some.traits, strict=True):
            for hz in traits.elsewhere_hz:
                by_hz[hz] = by_hz.get(hz, 0.0) + weight
    return sorted(by_hz, key=lambda hz: -by_hz[hz])[:MOST_ELSEWHERE]


def _told_by(suspected: Weights, test: Test) -> tuple[float, float]:
    """Return the expected fall of entropy, and how likely the first cause is the true one after it."""
    outcomes = test.outcomes(suspected.traits)
    if not outcomes:
        return 0.0, 0.0
    chance = np.array([[test.chance(t, outcome) for outcome in outcomes] for t in suspected.traits])
    chance /= chance.sum(axis=1, keepdims=True)
    joint = np.zeros((int(suspected.cause.max()) + 1, len(outcomes)))
    np.add.at(joint, suspected.cause, suspected.weight[:, None] * chance)
    # of a cause, an outcome, and of both: H(cause) + H(outcome) - H(both)
    fall = _entropy(joint.sum(axis=1)) + _entropy(joint.sum(axis=0)) - _entropy(joint)
    return fall, float(joint.max(axis=0).sum())


def _entropy(weight: Floats) -> float:
    some = weight[weight > 0]
    return float(-(some * np.log2(some)).sum())


def observed_words(evidence: Evidence) -> Mapping[str, Any]:
    """Return what was observed by its option's name, for the answer; only what was told."""
    told = {name: getattr(evidence, name) for name in Evidence.__dataclass_fields__}
    told["moves"] = None if evidence.motion is None else evidence.motion.told
    return {name: list(value) if isinstance(value, tuple) else value for name, value in told.items()}

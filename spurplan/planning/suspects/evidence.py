"""What the bench says of a suspect: how well each observation fits, and which test would tell most.

A suspect predicts four things: how fast it moves with the dial, how far it falls
with a pad at the aerial, whether its sideband is inverted, and which way the
front end must be tuned to peak it. An observation weighs each suspect by how
likely it is if that suspect is the cause; no observation ever rules one out
altogether, since people mishear.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from spurplan.errors import Fault, Refused
from spurplan.units import flag_faults, is_number, pythons_own

Floats = npt.NDArray[np.float64]

PAD_DB = 10.0
# Chances, from practice at the bench and not from any source: one observation in
# ten of a pointer's motion is misread, one in seven of a sideband or a trimmer.
MOVES_RIGHT = 0.9
INVERTED_RIGHT = 0.85
TRIMMER_RIGHT = 0.85
# Reading a drop by ear or S-meter against a 10 dB pad. [dB]
PAD_SPREAD_DB = 3.0
MISREAD = 0.02
SAME_MOTION = 0.25
MOVES_WORDS = ("with", "against", "twice", "not")
TRIMMER_WORDS = ("up", "down", "same")


@dataclass(frozen=True)
class Traits:
    """What one suspect predicts.

    Attributes
    ----------
    moves : float. Against the wanted signal's 1; NaN where nothing is known.
    pad_db_per_db : float. 0 for what is made inside the set; NaN where nothing is known.
    inverted : bool or None. None where that can not be heard: it has no sideband, or both.
    trimmer : str. "up", "down" or "same": which way the circuits are tuned to peak it; "" where
        nothing is known.
    """

    moves: float
    pad_db_per_db: float
    inverted: bool | None
    trimmer: str


# What nobody knows anything of.
NO_TRAITS = Traits(math.nan, math.nan, None, "")


@dataclass(frozen=True)
class Evidence:
    """What was observed; None for what was not tried.

    Attributes
    ----------
    moves : str or None. "with", "against", "twice", "not" or a number as text.
    pad_drop_db : float or None. How far it fell with a 10 dB pad. [dB]
    inverted : bool or None.
    trimmer : str or None. "up", "down" or "same".

    Raises
    ------
    Refused  for words that mean nothing, all at once.
    """

    moves: str | None = None
    pad_drop_db: float | None = None
    inverted: bool | None = None
    trimmer: str | None = None

    def __post_init__(self) -> None:
        for name in ("pad_drop_db", "inverted"):
            object.__setattr__(self, name, pythons_own(getattr(self, name)))
        faults = []
        if self.moves is not None and self.moves not in MOVES_WORDS and _number(self.moves) is None:
            faults.append(
                Fault(
                    "--moves", "is no motion", self.moves, "say with, against, twice, not, or a number as -2"
                )
            )
        drop = self.pad_drop_db
        if drop is not None and not (is_number(drop) and -20.0 <= drop <= 120.0):
            said = f"{drop} dB" if is_number(drop) else str(drop)
            faults.append(Fault("--pad-drop", "is no drop", said, "give -20 to 120 dB, for a 10 dB pad"))
        if self.inverted is not None:
            faults += flag_faults(self.inverted, "--inverted")
        if self.trimmer is not None and str(self.trimmer) not in TRIMMER_WORDS:
            faults.append(Fault("--trimmer", "is no direction", str(self.trimmer), "say up, down or same"))
        if faults:
            raise Refused(faults)


def _number(text: str) -> float | None:
    try:
        value = float(text)
    except ValueError:
        return None
    return value if math.isfinite(value) and abs(value) <= 1000.0 else None


@dataclass(frozen=True)
class Test:
    """One thing to try at the bench.

    Attributes
    ----------
    name : str. What to do.
    observed : the observation in some evidence, None where it was not tried.
    outcomes : the observations that could be made of some suspects.
    chance : how likely an observation is of one suspect, 0 to 1.
    expects : what a suspect would show, in words.
    right : the chance of an observation of a suspect that predicts just that.
    untold : whether nothing is known of what a suspect would show.
    """

    name: str
    observed: Callable[[Evidence], object]
    outcomes: Callable[[Sequence[Traits]], Sequence[object]]
    chance: Callable[[Traits, object], float]
    expects: Callable[[Traits], str]
    right: float
    untold: Callable[[Traits], bool]


def _moves_chance(traits: Traits, seen: object) -> float:
    if math.isnan(traits.moves):
        return 0.5
    word = str(seen)
    if word == "twice":
        right = abs(abs(traits.moves) - 2.0) < SAME_MOTION
    else:
        value = {"with": 1.0, "against": -1.0, "not": 0.0}.get(word)
        value = float(word) if value is None else value
        right = abs(traits.moves - value) < SAME_MOTION
    return MOVES_RIGHT if right else (1.0 - MOVES_RIGHT) / 3.0


def _moves_words(traits: Traits) -> str:
    words = {
        1.0: "moves with the dial like a wanted signal",
        -1.0: "moves against the dial",
        0.0: "stays put",
    }
    if math.isnan(traits.moves):
        return "motion unknown"
    if abs(traits.moves) == 2.0:
        return f"moves twice as fast{'' if traits.moves > 0 else ', backwards'}"
    return words.get(traits.moves, f"moves {traits.moves:g} times as fast")


def _pad_chance(traits: Traits, seen: object) -> float:
    assert is_number(seen)
    if math.isnan(traits.pad_db_per_db):
        return 0.5
    off = (seen - PAD_DB * traits.pad_db_per_db) / PAD_SPREAD_DB
    return MISREAD + (1.0 - MISREAD) * math.exp(-0.5 * off * off)


def _pad_words(traits: Traits) -> str:
    if math.isnan(traits.pad_db_per_db):
        return "fall unknown"
    return f"falls {PAD_DB * traits.pad_db_per_db:.0f} dB"


def _inverted_chance(traits: Traits, seen: object) -> float:
    if traits.inverted is None:
        return 0.5
    return INVERTED_RIGHT if traits.inverted == seen else 1.0 - INVERTED_RIGHT


def _inverted_words(traits: Traits) -> str:
    if traits.inverted is None:
        return "has no sideband of its own to tell by"
    return "sideband inverted" if traits.inverted else "sideband as it should be"


def _trimmer_chance(traits: Traits, seen: object) -> float:
    if not traits.trimmer:
        return 0.5
    return TRIMMER_RIGHT if traits.trimmer == seen else (1.0 - TRIMMER_RIGHT) / 2.0


def _trimmer_words(traits: Traits) -> str:
    return {
        "": "peak unknown",
        "up": "peaks with the circuits tuned up",
        "down": "peaks with the circuits tuned down",
        "same": "peaks where the circuits are, or not at all",
    }[traits.trimmer]


TESTS = (
    Test(
        "move the dial a little",
        lambda e: e.moves,
        lambda _: list(MOVES_WORDS),
        _moves_chance,
        _moves_words,
        MOVES_RIGHT,
        lambda t: math.isnan(t.moves),
    ),
    Test(
        "put a 10 dB pad at the aerial",
        lambda e: e.pad_drop_db,
        lambda all_: sorted({PAD_DB * t.pad_db_per_db for t in all_ if not math.isnan(t.pad_db_per_db)}),
        _pad_chance,
        _pad_words,
        1.0,
        lambda t: math.isnan(t.pad_db_per_db),
    ),
    Test(
        "listen to its sideband",
        lambda e: e.inverted,
        lambda _: [False, True],
        _inverted_chance,
        _inverted_words,
        INVERTED_RIGHT,
        lambda t: t.inverted is None,
    ),
    Test(
        "rock the front-end trimmers",
        lambda e: e.trimmer,
        lambda _: list(TRIMMER_WORDS),
        _trimmer_chance,
        _trimmer_words,
        TRIMMER_RIGHT,
        lambda t: not t.trimmer,
    ),
)


def weigh(prior: Floats, traits: Sequence[Traits], evidence: Evidence) -> Floats:
    """Return the weight of each suspect after the evidence, shape (n,); they add to 1.

    Parameters
    ----------
    prior : float64, shape (n,). Weights before it, above 0.
    traits : what each predicts.
    """
    weight = prior.astype(np.float64).copy()
    for test in TESTS:
        seen = test.observed(evidence)
        if seen is not None:
            weight *= [test.chance(t, seen) for t in traits]
    total: float = weight.sum()
    return weight / total if total > 0 else weight


def fits_of(traits: Traits, evidence: Evidence) -> list[str]:
    """Return in words how each observation sits with one suspect."""
    return [
        f"{_sits(test, traits, seen)}: {test.expects(traits)}"
        for test in TESTS
        if (seen := test.observed(evidence)) is not None
    ]


def _sits(test: Test, traits: Traits, seen: object) -> str:
    if test.untold(traits):
        return "open"
    return "fits" if _fits(test, traits, seen) else "against it"


def contradicted(traits: Traits, evidence: Evidence) -> bool:
    """Return whether any observation speaks against a suspect."""
    return any(
        not _fits(test, traits, seen) for test in TESTS if (seen := test.observed(evidence)) is not None
    )


def _fits(test: Test, traits: Traits, seen: object) -> bool:
    return test.chance(traits, seen) >= 0.5 * test.right


def best_test(suspected: Sequence[tuple[Floats, Sequence[Traits]]], evidence: Evidence) -> Test | None:
    """Return the untried test that would tell the suspects apart best; None where none would.

    Parameters
    ----------
    suspected : the weights and traits of the suspects of each range, one or more.

    Notes
    -----
    The expected fall of the entropy of the weights, over the outcomes a test can have; of several
    ranges the mean.
    """
    untried = [test for test in TESTS if test.observed(evidence) is None]
    gains = [
        (sum(_gain(weight, traits, test) for weight, traits in suspected) / len(suspected), -number)
        for number, test in enumerate(untried)
    ]
    if not gains or max(gains)[0] < 0.01:
        return None
    return untried[-max(gains)[1]]


def _gain(weight: Floats, traits: Sequence[Traits], test: Test) -> float:
    outcomes = test.outcomes(traits)
    chance = np.array([[test.chance(t, outcome) for outcome in outcomes] for t in traits])
    chance /= chance.sum(axis=1, keepdims=True)
    joint = weight[:, None] * chance
    of_outcome = joint.sum(axis=0)
    after = joint / np.where(of_outcome > 0, of_outcome, 1.0)
    return float(_entropy(weight) - (of_outcome * np.array([_entropy(column) for column in after.T])).sum())


def _entropy(weight: Floats) -> float:
    some = weight[weight > 0]
    return float(-(some * np.log2(some)).sum())

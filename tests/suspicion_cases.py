"""Synthetic cases for `suspects`: a set, a dial setting, a true cause, one observation.

The distribution, stated. A set is one of three: single conversion at 455 kHz with
one tuned circuit of Q 40, single conversion at 465 kHz with two of Q 55, double
conversion at 1.6 MHz and 455 kHz. Its dial setting d is uniform on 14-30 MHz, to
1 kHz. On the air are three stations no others can be mistaken for: the one that
belongs on d at -53 dBm, and two strong ones at -15 dBm, so that what is said to be
heard can be heard: one on the image (d + 2 IF), one on the second harmonic of the
oscillator less the IF. The true cause is one of the three, drawn
with the priors 3 : 1 : 1 that the tool itself states for the station and for
intrusions. The observation is how it moves with the dial, seen right 19 times in
20, else one of the three wrong readings, evenly.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

import spurplan
from spurplan.receiver.description import Receiver

PRIORS = {"station": 3.0, "image": 1.0, "harmonic": 1.0}
MOVES = {"station": "with", "image": "against", "harmonic": "twice"}
LEVELS = {"station": "-53 dBm", "image": "-15 dBm", "harmonic": "-15 dBm"}
READ_RIGHT = 0.95


def _set(ifs: list[int], circuits: int, q: float) -> Receiver:
    conversions = [{"injection": "high", "if_hz": hz, "filter": {"bandwidth_hz": 6_000}} for hz in ifs]
    tuning = {
        "name": "1", "low_hz": 14_000_000, "high_hz": 30_000_000,
        "front_end": [{"circuits": circuits, "q": q}],
    }  # fmt: skip
    return Receiver.from_dict({"name": "case", "conversions": conversions, "ranges": [tuning]})


SETS = (
    (_set([455_000], 1, 40.0), 455_000),
    (_set([465_000], 2, 55.0), 465_000),
    (_set([1_600_000, 455_000], 1, 50.0), 1_600_000),
)


@dataclass(frozen=True)
class Case:
    receiver: Receiver
    dial_hz: int
    places: dict[str, int]
    cause: str
    evidence: dict[str, Any]


def cases(count: int, seed: int) -> Iterator[Case]:
    """Yield cases drawn as this module states."""
    rng = np.random.default_rng(seed)
    causes = list(PRIORS)
    chance = np.array(list(PRIORS.values())) / sum(PRIORS.values())
    for _ in range(count):
        receiver, if_hz = SETS[int(rng.integers(len(SETS)))]
        dial_hz = int(rng.integers(14_000, 28_001)) * 1_000
        lo = dial_hz + if_hz
        places = {"station": dial_hz, "image": lo + if_hz, "harmonic": 2 * lo - if_hz}
        cause = causes[int(rng.choice(len(causes), p=chance))]
        yield Case(receiver, dial_hz, places, cause, _observed(rng, cause))


def _observed(rng: np.random.Generator, cause: str) -> dict[str, Any]:
    right = rng.random() < READ_RIGHT
    wrong = [word for word in ("with", "against", "twice", "not") if word != MOVES[cause]]
    return {"moves": MOVES[cause] if right else wrong[int(rng.integers(len(wrong)))]}


def table(case: Case, folder: Path) -> Path:
    """Write the three stations of a case as a band table."""
    rows = [f"{hz / 1000:.3f},fixed_mobile,{name},{LEVELS[name]}" for name, hz in case.places.items()]
    path = folder / "stations.csv"
    path.write_text("freq_khz,service,label,level\n" + "\n".join(rows) + "\n", encoding="utf-8")
    return path


def judge(count: int, seed: int, folder: Path) -> tuple[Counter[tuple[str, str]], int]:
    """Return how often each true cause was taken for each, and how often it was listed at all."""
    taken: Counter[tuple[str, str]] = Counter()
    listed = 0
    for case in cases(count, seed):
        answer = spurplan.suspects(case.receiver, table(case, folder), case.dial_hz, **case.evidence)
        labels = answer.suspects["label"].tolist()
        taken[case.cause, labels[0] or "not listed"] += 1
        listed += case.cause in labels
    return taken, listed

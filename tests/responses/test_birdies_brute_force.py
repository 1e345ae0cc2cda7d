"""Birdies in closed form against trying every combination at every dial setting.

Sets at random (tests/oracle/sets.py) with a beat oscillator and two more in the
box. A combination is heard at a dial setting where its frequency, worked out in
whole numbers, is no further than half the bandwidth from what it lands on. Of
combinations that cross the dial at one place the package lists the simplest.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import product
from math import gcd, prod
from typing import Any

import numpy as np

from spurplan.receiver.chain import compile_chains
from spurplan.receiver.description import Receiver
from spurplan.responses.birdies.harmonics import self_heard
from spurplan.responses.birdies.oscillators import oscillators_in
from tests.oracle import plain, sets
from tests.oracle.exact import PlainChain, walk
from tests.outside import Differences, against, agreed

ORDER = {1: 12, 2: 7, 3: 5, 4: 4}
DIALS = {"single": 3_000, "double": 800, "converter": 800}  # wide enough to meet something; others 150
Combination = tuple[tuple[tuple[str, int], ...], int]  # ((oscillator, harmonic), ...), landing on


def boxed(rng: np.random.Generator, kind: str) -> dict[str, Any]:
    """A random set with a beat oscillator and two oscillators beside it."""
    made = sets.receiver(rng, kind, dials=DIALS.get(kind, 150))
    made["bfo"] = {"offset": f"{int(rng.integers(-3, 4))} Hz"}
    made["internal"] = [
        {"name": name, "frequency": f"{int(rng.integers(20, 3_000))} Hz"} for name in ("clock", "marker")
    ]
    return made


class Box:
    """One range of a set on the bench: what oscillates, times a whole number that makes all of it whole."""

    def __init__(self, made: dict[str, Any], position: dict[str, Any], chain: PlainChain) -> None:
        self.chain = chain
        n = len(chain.oscillators)
        self.names = ["LO"] if n == 1 else [f"LO{i + 1}" for i in range(n)]
        lines = {
            name: (Fraction(o.a, o.h), Fraction(o.b, o.h))
            for name, o in zip(self.names, chain.oscillators, strict=True)
        }
        self.crystal_of = {}
        for i, conversion in enumerate(plain.conversions(made, position)):
            if conversion.get("multiplier", 1) > 1:
                name = "crystal" if n == 1 else f"crystal{i + 1}"
                lines[name] = (Fraction(0), Fraction(plain.hertz(conversion["crystal"])))
                self.crystal_of[name] = self.names[i]
        lines["BFO"] = (Fraction(0), Fraction(chain.if_hz + plain.hertz(made["bfo"]["offset"])))
        for one in made["internal"]:
            lines[one["name"]] = (Fraction(0), Fraction(plain.hertz(one["frequency"])))
        lines["IF" if n == 1 else f"IF{n}"] = (Fraction(0), Fraction(chain.if_hz))
        self.lines = lines
        self.scale = prod(o.h for o in chain.oscillators)
        self.dials = np.arange(chain.low_hz, chain.high_hz + 1, dtype=np.int64)
        self.at = {
            name: np.array([int((a * int(d) + b) * self.scale) for d in self.dials])
            for name, (a, b) in lines.items()
        }
        wanted = [self.dials * self.scale]
        for oscillator, (lo, rf) in zip(self.names, chain.wanted, strict=True):
            wanted.append(lo * self.at[oscillator] + rf * wanted[-1])
        self.wanted = wanted
        self.internal = made["internal"]
        self.highest_hz = max(int(w.max()) for w in wanted) // self.scale + chain.bandwidth_hz

    def combinations(self, order: int) -> Iterator[tuple[Combination, int]]:
        """Every combination worth asking about, with its order."""
        n = len(self.names)
        spread = range(-order, order + 1)
        for factors in product(spread, repeat=n):
            size = sum(map(abs, factors))
            if 0 < size <= order:
                terms = tuple((name, k) for name, k in zip(self.names, factors, strict=True) if k)
                yield from (((terms, target), size) for target in range(n + 1))
        for name in self.lines:
            if name in self.names:
                continue
            at_last = name == "BFO" or name.startswith("IF")
            own = [one["name"] for one in self.internal]
            reach = max(order, self.highest_hz // self.lines[name][1] + 1) if name in own else order
            for k in range(2 if name.startswith("IF") else 1, int(reach) + 1):
                yield from (((((name, k),), t), k) for t in range(n + 1) if not (at_last and t == n))
            if name.startswith("IF"):
                continue
            for mixing in self.names:
                if self.crystal_of.get(name) == mixing:
                    continue
                for k1, k2 in product(spread, repeat=2):
                    if k1 and k2 and abs(k1) + abs(k2) <= order:
                        terms = ((mixing, k1), (name, k2))
                        last = n if name == "BFO" else n + 1
                        # with the first oscillator the dial is the first IF and a harmonic more or less
                        first = 1 if mixing == self.names[0] else 0
                        yield from (((terms, t), abs(k1) + abs(k2)) for t in range(first, last))

    def against_bfo(self, order: int) -> Iterator[tuple[Combination, int]]:
        """k LO that meets z BFO: k LO - (z - 1) BFO on the last IF."""
        n = len(self.names)
        for mixing, oscillator in zip(self.names, self.chain.oscillators, strict=True):
            for k, z in product(range(1, order), range(2, order)):
                if gcd(k, z) == 1 and k + z <= order and not (n == 1 and k == oscillator.h):
                    yield (((mixing, k), ("BFO", 1 - z)), n), k + z

    def stretch(self, combination: Combination) -> tuple[int, int] | None:
        """First and last dial setting on which a combination is heard, by trying each."""
        terms, target = combination
        made = sum(k * self.at[name] for name, k in terms)
        off = made - self.wanted[target]
        heard = np.flatnonzero((2 * np.abs(off) <= self.chain.bandwidth_hz * self.scale) & (made > 0))
        if not len(heard):
            return None
        assert len(heard) == heard[-1] - heard[0] + 1
        return int(self.dials[heard[0]]), int(self.dials[heard[-1]])

    def place(self, combination: Combination) -> tuple[str, Fraction, tuple[str, ...]]:
        """Where it crosses the dial exactly, or how far off it stays; and what else it needs."""
        terms, target = combination
        beside = tuple(name for name, _ in terms if name not in self.names and name not in self.crystal_of)
        a = sum(k * self.lines[name][0] for name, k in terms)
        b = sum(k * self.lines[name][1] for name, k in terms)
        want_a, want_b = Fraction(1), Fraction(0)
        for name, (lo, rf) in list(zip(self.names, self.chain.wanted, strict=True))[:target]:
            want_a = lo * self.lines[name][0] + rf * want_a
            want_b = lo * self.lines[name][1] + rf * want_b
        a, b = a - want_a, b - want_b
        return ("crosses", -b / a, beside) if a else ("stays", abs(b), beside)


def listed(made: dict[str, Any], order: dict[int, int]) -> dict[str, list[tuple[Combination, int, int, int]]]:
    """What the package lists, by name of the range: combination, order, first and last dial."""
    receiver = Receiver.from_dict(made)
    out: dict[str, list[tuple[Combination, int, int, int]]] = {one.name: [] for one in receiver.ranges}
    for chains in compile_chains([(receiver, one) for one in receiver.ranges]):
        oscillators = oscillators_in(receiver, chains)
        found, combinations = self_heard(chains, oscillators, order[chains.conversions])
        for i in range(len(found)):
            p = int(found.combination[i])
            factors = combinations.factors[p].tolist()
            terms = tuple((name, k) for name, k in zip(oscillators.names, factors, strict=True) if k)
            row = (
                (terms, int(combinations.target[p])),
                int(combinations.order[p]),
                int(found.dial_low_hz[i]),
                int(found.dial_high_hz[i]),
            )
            out[chains.names[int(chains.name_code[int(found.candidate[i])])]].append(row)
    return out


def compare(rng: np.random.Generator, kind: str) -> int:
    """Hold one random set against the scan; return how many combinations were heard."""
    made = boxed(rng, kind)
    answers = listed(made, ORDER)
    heard_in_all = 0
    for position, chain in zip(made["range"], plain.chains(made), strict=True):
        box = Box(made, position, chain)
        order = ORDER[len(chain.oscillators)]
        rows = answers[chain.name]
        asked = {}
        for combination, size in [*box.combinations(order), *box.against_bfo(order)]:
            asked[combination] = min(size, asked.get(combination, size))
        heard = {c: (size, span) for c, size in asked.items() if (span := box.stretch(c)) is not None}
        places: dict[Any, list[tuple[int, int, int]]] = {}
        for combination, size, low, high in rows:
            assert heard.get(combination) == (size, (low, high)), (combination, size, low, high, made)
            places.setdefault(box.place(combination), []).append((size, low, high))
        for combination, (size, (low, high)) in heard.items():
            same = places.get(box.place(combination), [])
            covered = any(s <= size and a <= low and high <= b for s, a, b in same)
            assert covered, (combination, size, low, high, made)
        for same in places.values():
            for size, low, high in same:
                simpler = [s for s, a, b in same if s <= size and a <= low and high <= b]
                assert len(simpler) == 1, (same, made)
        heard_in_all += len(heard)
    return heard_in_all


SCAN = "every combination of oscillators tried at every dial setting"


@against(SCAN, "birdies of random sets", unit="birdies", tolerance=0)
def test_birdies_equal_the_scan() -> Differences:
    """Every combination heard anywhere on the dial, on the first and last hertz of it, the simplest once."""
    for kind in sets.KINDS:
        rng = np.random.default_rng(400 + sets.KINDS.index(kind))
        counts = [compare(rng, kind) for _ in range(12)]
        assert sum(counts) > 150  # the comparison is not an empty one
        assert sum(count > 0 for count in counts) > 7
        yield kind, agreed(sum(counts))


@against(SCAN, "birdies of 400 random sets", unit="birdies", tolerance=0, long=True)
def test_birdies_equal_the_scan_many_times() -> Differences:
    """The same for some hundred sets."""
    rng = np.random.default_rng(499)
    heard = sum(compare(rng, str(rng.choice(sets.KINDS))) for _ in range(400))
    assert heard > 5_000
    yield "all", agreed(heard)


def test_many_candidates_are_as_each_by_itself() -> None:
    """A hundred chains in one call give what a hundred calls give."""
    rng = np.random.default_rng(77)
    pairs = []
    while len(pairs) < 100:
        receiver = Receiver.from_dict(sets.receiver(rng, "converter"))
        pairs += [(receiver, one) for one in receiver.ranges]
    for chains in compile_chains(pairs):
        together, _ = self_heard(chains, None, 6)
        rows = []
        for v in range(len(chains)):
            alone, _ = self_heard(chains.take(np.array([v])), None, 6)
            rows += [(v, *row) for row in zip(*(getattr(alone, n).tolist() for n in FIELDS), strict=True)]
        expected = list(zip(*(getattr(together, n).tolist() for n in ("candidate", *FIELDS)), strict=True))
        assert rows == expected


FIELDS = ("combination", "dial_low_hz", "dial_high_hz", "a", "b", "h")


def test_frequencies_used_here_are_those_of_the_rule() -> None:
    """The wanted frequencies of the scan are those that a wanted signal takes on its way."""
    rng = np.random.default_rng(5)
    for kind in sets.KINDS:
        made = boxed(rng, kind)
        for position, chain in zip(made["range"], plain.chains(made), strict=True):
            box = Box(made, position, chain)
            on_the_way = walk(chain, chain.low_hz, chain.wanted, chain.low_hz)
            assert [Fraction(int(w[0]), box.scale) for w in box.wanted[1:]] == on_the_way

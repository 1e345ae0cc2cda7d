"""``python -m tests.mutation [MODULE ...] [--sample N] [--matching TEXT]``: see `tests.mutation`."""

from __future__ import annotations

import argparse
import os
import sys
import time
from collections import Counter
from dataclasses import dataclass
from functools import cache
from zlib import crc32

from tests.mutation.explained import explanations, stale_in
from tests.mutation.mutants import Mutant, mutants_of
from tests.mutation.reach import Reach
from tests.mutation.targets import TARGETS
from tests.mutation.trial import Seen, passes, path_of, prepare, survey
from tests.places import file_of
from tests.turns import turn_of

LONGEST_S = 600
# processor time of the tests that one change is given, quickest first: of a first lot, and in all
FIRST_S = 4.0
MOST_S = 60.0
SEEN, SURVIVED, OPEN = "seen", "survive", "open"


@dataclass(frozen=True)
class Asked:
    """Which changes are tried, and for how long.

    Attributes
    ----------
    matching : str. Only changes with this in their line.
    sample : int. So many of a module, drawn; 0 for all.
    seed : str. What they are drawn by.
    until : float. When to begin no more trials, by `time.monotonic`.
    quick : bool. Whether by the quick tests alone.
    """

    matching: str = ""
    sample: int = 0
    seed: str = ""
    until: float = float("inf")
    quick: bool = False

    @property
    def late(self) -> bool:
        """Whether the time is over."""
        return time.monotonic() > self.until

    def chosen(self, every: list[Mutant]) -> list[Mutant]:
        """Return those that are tried, where a sample is drawn in the order drawn."""
        matching = [mutant for mutant in every if self.matching in mutant.change]
        if not self.sample:
            return matching
        drawn = sorted(matching, key=lambda mutant: crc32(" ".join((self.seed, *mutant.key)).encode()))
        return drawn[: self.sample]


def paths(tests: tuple[str, ...]) -> list[str]:
    """Return the tests as pytest takes them."""
    named = [test.partition("::") for test in tests]
    return [f"{file_of(module)}{colons}{name}" for module, colons, name in named]


class Trials:
    """Trials of the changes of one module: what its tests run through is found once."""

    def __init__(self, module: str, asked: Asked) -> None:
        self.module = module
        self.asked = asked
        self.reach = Reach(path_of(module).read_text(encoding="utf-8"))

    @cache  # noqa: B019 (a process has one of them)
    def seen_by(self, wide: bool) -> list[Seen]:
        """Return the quick tests of the module, or the wide ones, as they run on it unchanged."""
        target = TARGETS[self.module]
        tests = paths(target.wide if wide else target.quick)
        found = survey(self.module, tests, LONGEST_S) if tests else []
        if found is None:
            sys.exit(f"{self.module}: the tests fail on the module as it is")
        return found

    def becomes_of(self, mutant: Mutant) -> str:
        """Return whether a change is seen, survives, or is open still when the time is over."""
        for wide in (False,) if self.asked.quick else (False, True):
            if self.asked.late:
                return OPEN
            for tests, limit_s in self._batches(mutant, self.seen_by(wide)):
                if self.asked.late:
                    return OPEN
                if not passes(self.module, mutant.text, tests, limit_s):
                    return SEEN
        return SURVIVED

    def _batches(self, mutant: Mutant, seen: list[Seen]) -> list[tuple[list[str], float]]:
        """Return the tests that run through a change, in two lots: those of seconds, then more."""
        meeting = [one for one in seen if self.reach.meets(mutant.line, one.lines)]
        quick: list[Seen] = []
        more: list[Seen] = []
        spent_s = 0.0
        for one in meeting:
            spent_s += one.seconds
            if spent_s <= FIRST_S or not quick:
                quick.append(one)
            elif spent_s <= MOST_S:
                more.append(one)
        # a change that makes the tests take much longer counts as seen; others may be at work on the machine
        return [
            ([one.test for one in lot], 30 + 8 * sum(one.seconds for one in lot))
            for lot in (quick, more)
            if lot
        ]


def examined(module: str, asked: Asked) -> bool:
    """Try changes of one module; report; return whether none survived unexplained."""
    every = mutants_of(path_of(module).read_text(encoding="utf-8"))
    stale = stale_in(module, every)
    for function, change in stale:
        print(f"{module}: explained.toml names a change that is not there: {function}: {change}")
    explained = explanations(module)
    chosen = [mutant for mutant in asked.chosen(every) if mutant.compiles]
    trials = Trials(module, asked)
    count: Counter[str] = Counter()
    for number, mutant in enumerate(chosen, start=1):
        if mutant.key in explained:
            count["explained"] += 1
            continue
        becomes = trials.becomes_of(mutant)
        count[becomes] += 1
        if becomes == SURVIVED:
            print(f"{module}:{mutant.line} {mutant.function}: {mutant.change}", flush=True)
        if sys.stderr.isatty():
            print(f"  {number} of {len(chosen)}", end="\r", file=sys.stderr)
    told = ", ".join(f"{count[word]} {word}" for word in (SEEN, "explained", SURVIVED, OPEN))
    print(f"{module}: {len(every)} changes, {len(chosen)} asked about: {told}", flush=True)
    return not count[SURVIVED] and not stale


def holds(module: str, asked: Asked) -> bool:
    """Examine a module in a process of its own, for what it has imported stands on other modules."""
    child = os.fork()
    if child == 0:
        status = 2
        try:
            prepare(module)
            status = 0 if examined(module, asked) else 1
        except SystemExit as end:
            print(end, file=sys.stderr)
        finally:
            sys.stdout.flush()
            os._exit(status)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0


def main() -> int:
    """Return 0 when every change is seen by a test or explained."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutation")
    parser.add_argument("module", nargs="*", help=f"{', '.join(TARGETS)}; default: all")
    parser.add_argument("--matching", default="", metavar="TEXT", help="only changes with this in their line")
    parser.add_argument("--sample", type=int, default=0, metavar="N", help="only so many of a module, drawn")
    parser.add_argument("--quick", action="store_true", help="by the quick tests alone")
    parser.add_argument("--seed", default="", metavar="TEXT", help="what the sample is drawn by")
    parser.add_argument("--within", type=float, metavar="SECONDS", help="begin no trial when they are over")
    parser.add_argument(
        "--turn", metavar="COMMIT", help="only the module whose turn it is, its changes as drawn"
    )
    options = parser.parse_args()
    until = float("inf") if options.within is None else time.monotonic() + options.within
    modules, seed, sample = options.module or list(TARGETS), options.seed, options.sample
    if options.turn is not None:
        named = list(TARGETS)
        modules, seed, sample = [named[turn_of(options.turn, len(named))]], options.turn, sample or 1_000
    unknown = set(modules) - set(TARGETS)
    if unknown:
        parser.error(f"no tests are chosen for {', '.join(sorted(unknown))}")
    asked = Asked(options.matching, sample, seed, until, options.quick)
    verdicts = [holds(module, asked) for module in modules]
    return 0 if all(verdicts) else 1


if __name__ == "__main__":
    sys.exit(main())

"""``python -m tests.mutation [MODULE ...] [--matching TEXT]``: see `tests.mutation`."""

from __future__ import annotations

import argparse
import sys
import time
import tomllib
from dataclasses import dataclass
from pathlib import Path

from tests.mutation.mutants import Mutant, mutants_of
from tests.mutation.trial import REPOSITORY, passes, prepare
from tests.places import file_of
from tests.turns import part_of, turn_of

EXPLAINED = Path(__file__).with_name("explained.toml")
LONGEST_S = 600
# the changes of a module are tried in so many parts where it has its turn at a commit: a minute or two each
SAMPLES = 24
SAME = "test_engine_mutants::test_the_right_answer_shows_no_difference"
LEVELS = "test_engine_levels::test_levels_and_grades"
PRUNING = "test_engine_levels::test_pruning_loses_nothing"
READING = ("test_description", "test_receiver_damages")


@dataclass(frozen=True)
class Target:
    """A module of the core and its tests: some of seconds, and those for what they let pass."""

    quick: tuple[str, ...]
    wide: tuple[str, ...]


TARGETS = {
    "rows": Target(("test_rows",), ("test_join", "test_grades", "test_converter_candidates")),
    "schema": Target(READING, ("test_schema", "test_receiver_file", "test_receiver_schema", "test_cures")),
    "schema_faults": Target(READING, ("test_receiver_file",)),
    "units": Target(("test_units",), ("test_receiver_file", "test_bands", "test_cli_words")),
    "responses/join": Target(("test_join",), ("test_engine_mutants", "test_engine_brute_force")),
    "responses/lines": Target(("test_lines",), (SAME, PRUNING, "test_engine_brute_force")),
    "receiver/selectivity": Target(("test_selectivity",), ("test_against_scipy", LEVELS)),
    "receiver/mixers": Target(("test_against_published_mixer_tables", "test_mixers"), (LEVELS, PRUNING)),
    "responses/levels": Target(("test_levels",), ("test_level_properties", LEVELS, PRUNING)),
    "responses/grades": Target(("test_grades",), ("test_level_properties", "test_engine_levels")),
    "responses/curves": Target(("test_grades",), ("test_level_properties", "test_engine_levels")),
}


def explanations(module: str) -> dict[tuple[str, str], str]:
    """Return why some changes of a module alter nothing, by function and change."""
    entries = tomllib.loads(EXPLAINED.read_text(encoding="utf-8")).get(module, [])
    return {(entry["function"], change): entry["why"] for entry in entries for change in entry["changes"]}


def paths(tests: tuple[str, ...]) -> list[str]:
    """Return the tests as pytest takes them."""
    named = [test.partition("::") for test in tests]
    return [f"{file_of(module)}{colons}{name}" for module, colons, name in named]


def sample(commit: str) -> tuple[str, int, int]:
    """Return the module whose turn it is at a commit, and which of how many parts of its changes."""
    modules = list(TARGETS)
    turn = turn_of(commit, len(modules) * SAMPLES)
    return modules[turn % len(modules)], turn // len(modules), SAMPLES


def survivors_of(module: str, text: str, tried: list[Mutant]) -> list[Mutant]:
    """Return the changes that no test saw, each printed as it is found."""
    target = TARGETS[module]
    stages = []
    for tests in (paths(target.quick), paths(target.wide)):
        started = time.monotonic()
        if not passes(module, text, tests, LONGEST_S):
            sys.exit(f"{module}: the tests fail on the module as it is")
        # a change that makes the tests take much longer counts as seen
        stages.append((tests, 15 + 4 * (time.monotonic() - started)))
    survived = []
    for number, mutant in enumerate(tried, start=1):
        if all(passes(module, mutant.text, tests, limit_s) for tests, limit_s in stages):
            survived.append(mutant)
            print(f"{module}:{mutant.line} {mutant.function}: {mutant.change}", flush=True)
        if sys.stderr.isatty():
            print(f"  {number} of {len(tried)}", end="\r", file=sys.stderr)
    return survived


def examined(module: str, matching: str, part: int = 0, parts: int = 1) -> bool:
    """Try the changes of one module, or a part of them; report; return whether none survived unexplained."""
    text = (REPOSITORY / f"spurplan/{module}.py").read_text(encoding="utf-8")
    every = mutants_of(text)
    explained = explanations(module)
    stale = explained.keys() - {mutant.key for mutant in every}
    for function, change in sorted(stale):
        print(f"{module}: explained.toml names a change that is not there: {function}: {change}")
    chosen = [
        mutant
        for mutant in every
        if matching in mutant.change and part_of(" ".join(mutant.key), parts) == part
    ]
    tried = [mutant for mutant in chosen if mutant.key not in explained]
    survived = survivors_of(module, text, tried)
    print(
        f"{module}: {len(chosen)} changes, {len(tried) - len(survived)} seen, "
        f"{len(chosen) - len(tried)} explained, {len(survived)} survive",
        flush=True,
    )
    return not survived and not stale


def main() -> int:
    """Return 0 when every change is seen by a test or explained."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutation")
    parser.add_argument("module", nargs="*", help=f"{', '.join(TARGETS)}; default: all")
    parser.add_argument("--matching", default="", metavar="TEXT", help="only changes with this in their line")
    parser.add_argument("--turn", metavar="COMMIT", help="only the module and the part whose turn it is")
    options = parser.parse_args()
    unknown = set(options.module) - set(TARGETS)
    if unknown:
        parser.error(f"no tests are chosen for {', '.join(sorted(unknown))}")
    prepare()
    if options.turn is not None:
        module, part, parts = sample(options.turn)
        return 0 if examined(module, "", part, parts) else 1
    verdicts = [examined(module, options.matching) for module in options.module or TARGETS]
    return 0 if all(verdicts) else 1


if __name__ == "__main__":
    sys.exit(main())

"""How good the intervals of a fit are: coverage over 500 logs of twenty sets, and width over the bound.

python -m tests.benchmarks.readings [LOGS [FIRST]]
"""

from __future__ import annotations

import sys
import time
from collections.abc import Sequence

import numpy as np

from tests.bench_sets import Case, cases

LOGS = 500
# kinds of figures with fewer cases than this are not judged
ENOUGH = 400


def run(logs: int = LOGS, first: int = 0) -> list[Case]:
    """Return what became of every figure of some logs."""
    return [case for number in range(first, first + logs) for case in cases(number)]


def decided_by_readings(found: Sequence[Case]) -> list[Case]:
    """Return the figures that readings told something of: the others rest on the description alone."""
    return [case for case in found if case.rests_on != "description"]


def summary(found: Sequence[Case]) -> dict[str, tuple[int, float, float]]:
    """Return by kind of figure: how many, share covered, median width over the Cramer-Rao bound."""
    out = {}
    for kind in sorted({case.kind for case in found}):
        own = [case for case in found if case.kind == kind]
        out[kind] = (
            len(own),
            float(np.mean([case.covered for case in own])),
            float(np.median([case.width for case in own])),
        )
    return out


def main() -> None:
    logs = int(sys.argv[1]) if len(sys.argv) > 1 else LOGS
    first = int(sys.argv[2]) if len(sys.argv) > 2 else 0
    started = time.process_time()
    found = run(logs, first)
    print(f"{logs} logs, {time.process_time() - started:.0f} s of processor time")
    for title, some in (
        ("told by readings", decided_by_readings(found)),
        ("all, the described ones among them", found),
    ):
        print(title)
        for kind, (count, covered, width) in summary(some).items():
            print(f"  {kind:10s} {count:5d} covered {covered:6.1%}  median width/bound {width:.2f}")


if __name__ == "__main__":
    main()

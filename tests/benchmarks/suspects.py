"""How often `suspects` puts the true cause first with one piece of evidence, and the confusion table.

python -m tests.benchmarks.suspects
"""

from __future__ import annotations

import tempfile
from pathlib import Path

from tests.suspicion_cases import PRIORS, judge

CASES = 600


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        taken, listed = judge(CASES, 2024, Path(folder))
    first = sum(count for (cause, said), count in taken.items() if cause == said)
    print(f"{CASES} cases, one observation each: true cause first in {first / CASES:.1%}, listed in {listed}")
    said_of = sorted({said for _, said in taken})
    print("true cause   " + "".join(f"{said:>12}" for said in said_of))
    for cause in PRIORS:
        print(f"{cause:<13}" + "".join(f"{taken[cause, said]:>12}" for said in said_of))


if __name__ == "__main__":
    main()

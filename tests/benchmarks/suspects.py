"""How often `suspects` puts the true way in first in drawn cases, before and after the test it proposes.

python -m tests.benchmarks.suspects            # the cases of the file
python -m tests.benchmarks.suspects 27182      # as many, drawn anew with another seed
"""

from __future__ import annotations

import sys
from collections import Counter

from tests.suspects.cases import cases_of, drawn_cases, judge
from tests.suspects.draw import CAUSES


def main() -> None:
    out = judge(cases_of(int(sys.argv[1])) if sys.argv[1:] else drawn_cases())
    unclear = [one for one in out if one.case.ambiguous]
    for name, some in (("all cases", out), ("ambiguous at first", unclear)):
        count = len(some)
        first = [sum(one.ranks[i] == 1 for one in some) / count for i in range(3)]
        within = sum(one.printed for one in some) / count
        print(f"{count} {name}: first in {first[0]:.1%} before any test is proposed, in {first[1]:.1%} after")
        print(f"  the one proposed, in {first[2]:.1%} after the next; printed in {within:.1%}")
    for cause in CAUSES:
        own = [one for one in out if one.case.row["cause"] == cause]
        said = Counter("first" if one.after == 1 else one.said for one in own)
        print(f"{cause:<22}{said['first'] / len(own):>6.0%}  {dict(said.most_common(5))}")


if __name__ == "__main__":
    main()

"""Measure every figure and print the table in Markdown.

python -m tests.benchmarks             # some ten minutes; leave the machine alone meanwhile
python -m tests.benchmarks join        # the figures with that word
python -m tests.benchmarks --readme    # put the table into README
"""

from __future__ import annotations

import sys
from pathlib import Path

from tests.benchmarks import table

README = Path(__file__).parents[2] / "README.md"


def main(words: list[str]) -> None:
    wanted = [word for word in words if not word.startswith("--")]
    lines = [table.machine() + ".", "", table.HEAD]
    print("\n".join(lines))
    for one in table.figures():
        if all(word in f"{one.what} {one.against}" for word in wanted):
            lines.append(table.row(one))
            print(lines[-1], flush=True)
    if "--readme" in words:
        README.write_text(table.renewed(README.read_text("utf-8"), "\n".join(lines)), "utf-8")


if __name__ == "__main__":
    main(sys.argv[1:])

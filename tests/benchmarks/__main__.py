"""Measure every figure and print the table in Markdown.

python -m tests.benchmarks             # some ten minutes; leave the machine alone meanwhile
python -m tests.benchmarks join        # the figures with that word
python -m tests.benchmarks --write     # put the table into TIMES.md: those with the words, and what is new
"""

from __future__ import annotations

import sys

from tests import papers
from tests.benchmarks import table


def main(words: list[str]) -> None:
    wanted = [word for word in words if not word.startswith("--")]
    written = table.lines_of(papers.between(papers.TIMES.read_text("utf-8"), "benchmarks"))
    lines = [table.machine() + ".", "", table.HEAD]
    print("\n".join(lines))
    for one in table.figures():
        chosen = all(word in f"{one.what} {one.against}" for word in wanted)
        known = written.get((one.what, one.against, one.wanted))
        if not chosen and (known is not None or "--write" not in words):
            lines += [known] if known is not None else []
            continue
        lines.append(table.row(one))
        print(lines[-1], flush=True)
    if "--write" in words:
        papers.write(papers.TIMES, "benchmarks", "\n".join(lines))


if __name__ == "__main__":
    main(sys.argv[1:])

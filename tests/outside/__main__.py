"""Run every outside check and print what was found, in Markdown.

python -m tests.outside             # a minute or two
python -m tests.outside --long      # with the checks that take long
python -m tests.outside --write     # put the table into tests/OUTSIDE.md
"""

from __future__ import annotations

import sys

from tests import papers
from tests.outside.table import table

if __name__ == "__main__":
    if "--write" in sys.argv[1:]:
        papers.write(papers.OUTSIDE, "outside checks", table())
    else:
        print(table(long="--long" in sys.argv[1:]))

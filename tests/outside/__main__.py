"""Run every outside check and print what was found, in Markdown.

python -m tests.outside            # some minutes less than the long profile
python -m tests.outside --long     # with the checks that take minutes
"""

from __future__ import annotations

import sys

from tests.outside.table import table

if __name__ == "__main__":
    print(table(long="--long" in sys.argv[1:]))

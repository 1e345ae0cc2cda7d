"""Run every outside check and print what was found, in Markdown.

python -m tests.outside             # a minute or two
python -m tests.outside --long      # with the checks that take long
python -m tests.outside --readme    # put the table into README
"""

from __future__ import annotations

import sys

from tests.outside import readme
from tests.outside.table import table

if __name__ == "__main__":
    if "--readme" in sys.argv[1:]:
        readme.README.write_text(readme.renewed(readme.README.read_text("utf-8"), table()), "utf-8")
    else:
        print(table(long="--long" in sys.argv[1:]))

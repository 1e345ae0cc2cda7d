"""``python -m spurplan``: the command line."""

import sys

from spurplan.cli import main

if __name__ == "__main__":
    sys.exit(main())

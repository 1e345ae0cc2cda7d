"""``python -m spurplan``: the command line."""

import sys

from spurplan.cli.program import program

if __name__ == "__main__":
    sys.exit(program())

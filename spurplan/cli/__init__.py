"""The command line: options in, one library call, one rendering.

Exit status: 0 done; 1 something was refused (file, value, unwritable output);
2 wrong options; 3 only with ``--fail-on``; 130 interrupted. Results go to
standard output, everything else to standard error; after a refusal standard
output is empty, but where a file could not be moved to its place at the very end.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence

REFUSED = 1
INTERRUPTED = 130


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command line and return its exit status.

    Parameters
    ----------
    arguments : words of the command line without the program's name; those of
        the process where None.
    """
    from spurplan.cli import streams
    from spurplan.cli.words import with_units
    from spurplan.errors import Fault, Refused

    streams.prepare()
    # by itself it says what there is
    words = with_units(list(sys.argv[1:] if arguments is None else arguments)) or ["--help"]
    try:
        status = _run(words)
        streams.flush()
    except Refused as refusal:
        streams.complain(refusal.text())
        return REFUSED
    except KeyboardInterrupt:
        return INTERRUPTED
    except BrokenPipeError:
        # Whoever reads us has seen enough: that is no fault.
        streams.abandon()
        return 0
    except OSError as error:
        # Files are the library's to read and write; what is left without a name is our output.
        streams.abandon()
        place = str(error.filename or "standard output")
        streams.complain(str(Fault(place, f"can not be read or written: {error.strerror}")))
        # wrong options stay wrong options where standard error takes no message
        return getattr(error.__context__, "exit_code", REFUSED)
    return status


def _run(words: list[str]) -> int:
    from spurplan.cli.app import build

    try:
        build()(words, prog_name="spurplan")
    except SystemExit as leaving:
        if isinstance(leaving.__context__, BrokenPipeError):
            raise leaving.__context__ from None  # typer makes it a failure
        return leaving.code if isinstance(leaving.code, int) else int(leaving.code is not None)
    return 0

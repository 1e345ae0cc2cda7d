"""The commands by name: what each answers, and under which heading help lists it.

Help needs these two words of each command and nothing else, so a command's own
module is imported when that command is asked for and at no other time.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Entry:
    """One command.

    Attributes
    ----------
    group : str. What the user is about: listen, decide, measure, files, paper.
    says : str. What it answers, in one line of at most 60 characters.
    """

    group: str
    says: str

    def __post_init__(self) -> None:
        if len(self.says) > 60:
            raise ValueError(f"too long for one line of help: {self.says}")


COMMANDS = {
    "dial": Entry("listen", "what intrudes at this dial setting"),
    "ranges": Entry("listen", "what intrudes across the tuning ranges"),
    "station": Entry("listen", "where on the dial this station turns up"),
    "suspects": Entry("listen", "what is this that I hear"),
    "birdies": Entry("listen", "what it hears with no aerial, and what it radiates"),
    "converter": Entry("decide", "which crystal for a converter in front"),
    "if-change": Entry("decide", "is another intermediate frequency better"),
    "cures": Entry("decide", "what to do about it, and what is worth its evenings"),
    "bench-sheet": Entry("measure", "generator settings to measure the set"),
    "readings": Entry("measure", "the readings back into the description"),
    "bands": Entry("files", "the band tables in use; checks and converts tables"),
    "receiver": Entry("files", "checks a receiver file, or writes one to start from"),
    "card": Entry("paper", "one sheet for the wall: where the dial tells the truth"),
    "report": Entry("paper", "one self-contained page about the set"),
}


def module_of(name: str) -> str:
    """Return the module that holds a command, ``spurplan.cli.if_change`` for if-change."""
    return f"spurplan.cli.{function_of(name)}"


def function_of(name: str) -> str:
    """Return the function in that module, ``if_change`` for if-change."""
    return name.replace("-", "_")

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
    examples : two or three lines of what may follow its name, for its help.
    """

    group: str
    says: str
    examples: tuple[str, ...]

    def __post_init__(self) -> None:
        if len(self.says) > 60:
            raise ValueError(f"too long for one line of help: {self.says}")


COMMANDS = {
    "dial": Entry(
        "listen",
        "what intrudes at this dial setting",
        (
            "set.toml 14.2 MHz",
            "set.toml 28.3 --mode ssb --wanted weak",
            "set.toml 7.1MHz --place 52N,5E --month dec --utc 2000",
        ),
    ),
    "ranges": Entry(
        "listen",
        "what intrudes across the tuning ranges",
        (
            "set.toml",
            "set.toml --cover 28:29.7MHz --chart ten.svg",
            "set.toml --by-hour --place 52N,5E --month 6",
        ),
    ),
    "station": Entry(
        "listen",
        "where on the dial this station turns up",
        (
            "set.toml 15130 kHz",
            'set.toml --label "31 m" --range 4',
        ),
    ),
    "suspects": Entry(
        "listen",
        "what is this that I hear",
        (
            "set.toml 14.2 MHz",
            "set.toml 14.2 MHz --moves against --pad-drop 20",
        ),
    ),
    "birdies": Entry(
        "listen",
        "what it hears with no aerial, and what it radiates",
        (
            "set.toml",
            "set.toml --range 4 --top 0",
        ),
    ),
    "converter": Entry(
        "decide",
        "which crystal for a converter in front",
        (
            "set.toml --cover 50:52MHz",
            "set.toml --cover 21:21.45MHz --crystal 14.318MHz",
            "set.toml --cover 50:52MHz --save-receiver six.toml",
        ),
    ),
    "if-change": Entry(
        "decide",
        "is another intermediate frequency better",
        (
            "set.toml --if 1600kHz",
            "set.toml --scan 400kHz:3MHz --cover 14:14.35MHz",
            "set.toml --rejection 40",
        ),
    ),
    "cures": Entry(
        "decide",
        "what to do about it, and what is worth its evenings",
        (
            "set.toml --cover 28:29.7MHz",
            "set.toml --effort preselector=2 --chart cures.svg",
        ),
    ),
    "bench-sheet": Entry(
        "measure",
        "generator settings to measure the set",
        (
            "set.toml",
            "set.toml --format csv --output log.csv",
            "set.toml --settle 14MHz:14.35MHz",
        ),
    ),
    "readings": Entry(
        "measure",
        "the readings back into the description",
        (
            "set.toml log.csv",
            "set.toml log.csv --save-receiver measured.toml",
        ),
    ),
    "bands": Entry(
        "files",
        "the band tables in use; checks and converts tables",
        (
            "--at 7.1MHz",
            "mine.csv",
            "--import list.csv --column low=Start --output mine.csv",
        ),
    ),
    "receiver": Entry(
        "files",
        "checks a receiver file, or writes one to start from",
        (
            "--ask --output set.toml",
            "--cover 0.53:1.6 --cover 6:18 --if 455 --rf-stages 1",
            "set.toml",
        ),
    ),
    "card": Entry(
        "paper",
        "one sheet for the wall: where the dial tells the truth",
        (
            "set.toml --output card.pdf",
            "set.toml --place 52N,5E --month 6 --utc 2000 -o card.svg",
        ),
    ),
    "report": Entry(
        "paper",
        "one self-contained page about the set",
        (
            "set.toml --output report.html",
            "set.toml --region europe --output report.html",
        ),
    ),
}


def module_of(name: str) -> str:
    """Return the module that holds a command, ``spurplan.cli.if_change`` for if-change."""
    return f"spurplan.cli.{function_of(name)}"


def function_of(name: str) -> str:
    """Return the function in that module, ``if_change`` for if-change."""
    return name.replace("-", "_")

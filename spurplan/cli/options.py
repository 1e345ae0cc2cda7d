"""The options that commands share, declared once.

A command names the ones it takes (`OCCUPANTS`, `ENGINE`, `OUTPUT`, or single
names) and gets them back in one `Options`. Names, meaning and order in help are
those of this class and of nothing else.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, fields
from enum import StrEnum
from typing import Annotated, Any

import typer

from spurplan import units
from spurplan.cli import completing
from spurplan.cli.words import pairs


class Format(StrEnum):
    """How an answer is written."""

    text = "text"
    csv = "csv"
    json = "json"
    md = "md"


class FailOn(StrEnum):
    """What ends a command with status 3: something heard at a grade or louder, or nobody can know."""

    strong = "strong"
    audible = "audible"
    buried = "buried"
    unknown = "unknown"


# each in one line of help
BANDS_HELP = "Band table (CSV; repeat); 'shipped' for ours beside it."
AHEAD_HELP = "Box in the aerial lead (TOML; repeat, outermost first)."
REGION_HELP = "europe or africa 1, americas 2, asia or pacific 3."
LOCAL_HELP = "A station nearby, as 1278kHz=-13dBm,name (repeat)."
LEVEL_HELP = "Level of a service, as broadcast=S9+40 (repeat)."
PLACE_HELP = "Where it stands, as 52N,5E; wants --month, --utc."
MONTH_HELP = "Month there, 1 to 12 or its name."
SAVE_HELP = "Write the set as it would be after the change."
OVERWRITE_HELP = "Let that file take the place of one that is there."
FAIL_HELP = "Exit 3 at this grade or louder, or what is unknown."
TOP = 30


@dataclass(frozen=True, kw_only=True)
class Options:
    """The shared options of one command line; None is "not given".

    The library's defaults are the only defaults: an option that is not given
    is not passed on.

    Raises
    ------
    typer.BadParameter  for options that change nothing beside the others, or
        that undo each other.
    """

    bands: Annotated[
        list[str] | None,
        typer.Option("--bands", metavar="FILE", help=BANDS_HELP, autocompletion=completing.files(".csv")),
    ] = None
    ahead: Annotated[
        list[str] | None,
        typer.Option("--ahead", metavar="FILE", help=AHEAD_HELP, autocompletion=completing.files(".toml")),
    ] = None
    region: Annotated[
        str | None,
        typer.Option("--region", metavar="NAME|1|2|3", help=REGION_HELP, autocompletion=completing.regions),
    ] = None
    utc: Annotated[
        str | None, typer.Option("--utc", metavar="HHMM", help="Time: leaves out who is silent then.")
    ] = None
    day: Annotated[
        str | None,
        typer.Option(
            "--day", metavar="DAY", help="Day of the week, mon to sun (UTC).", autocompletion=completing.days
        ),
    ] = None
    place: Annotated[str | None, typer.Option("--place", metavar="PLACE", help=PLACE_HELP)] = None
    month: Annotated[
        str | None,
        typer.Option("--month", metavar="MONTH", help=MONTH_HELP, autocompletion=completing.months),
    ] = None
    sunspots: Annotated[
        str | None,
        typer.Option("--sunspots", metavar="N", help="Smoothed sunspot number then (default 70)."),
    ] = None
    range: Annotated[
        str | None,
        typer.Option(
            "--range", metavar="NAME", help="This range of the set alone.", autocompletion=completing.ranges
        ),
    ] = None
    level: Annotated[
        list[str] | None,
        typer.Option("--level", metavar="SERVICE=LEVEL", help=LEVEL_HELP, autocompletion=completing.services),
    ] = None
    levels: Annotated[
        str | None,
        typer.Option(
            "--levels",
            metavar="FILE",
            help="Table of typical levels (CSV).",
            autocompletion=completing.files(".csv"),
        ),
    ] = None
    local: Annotated[
        list[str] | None, typer.Option("--local", metavar="FREQ=LEVEL,NAME", help=LOCAL_HELP)
    ] = None
    lo_order: Annotated[
        int | None,
        typer.Option("--lo-order", min=0, metavar="N", help="Highest oscillator harmonic (default 10)."),
    ] = None
    rf_order: Annotated[
        int | None,
        typer.Option("--rf-order", min=1, metavar="N", help="Highest signal harmonic (default 3)."),
    ] = None
    strong_at: Annotated[
        str | None,
        typer.Option("--strong-at", metavar="DB", help="Margin that is called strong (default 10)."),
    ] = None
    audible_at: Annotated[
        str | None,
        typer.Option("--audible-at", metavar="DB", help="Margin that is called audible (default 0)."),
    ] = None
    skirts: Annotated[
        bool, typer.Option("--skirts", help="Signals on the skirts of the last filter too.")
    ] = False
    everything: Annotated[
        bool, typer.Option("--everything", help="Keep what is buried in the noise, too.")
    ] = False
    intermodulation: Annotated[
        bool, typer.Option("--intermodulation", help="Products of two and three stations too.")
    ] = False
    mode: Annotated[
        str | None,
        typer.Option(
            "--mode",
            metavar="am|ssb|cw|fm",
            help="What is listened to (default am).",
            autocompletion=completing.modes,
        ),
    ] = None
    wanted: Annotated[
        str | None,
        typer.Option(
            "--wanted",
            metavar="LEVEL",
            help="weak, fair, good, or a level as S5 (default fair).",
            autocompletion=completing.wanted,
        ),
    ] = None
    activity: Annotated[
        str | None,
        typer.Option(
            "--activity",
            metavar="HOUR",
            help="typical, busy or everybody (default typical).",
            autocompletion=completing.activities,
        ),
    ] = None
    worlds: Annotated[
        int | None, typer.Option("--worlds", metavar="N", help="Worlds drawn to say how sure it is.")
    ] = None
    seed: Annotated[int | None, typer.Option("--seed", metavar="N", help="Which worlds are drawn.")] = None
    format: Annotated[
        Format,
        typer.Option(
            "--format",
            metavar="FORM",
            help="text, csv, json or md (default text).",
            case_sensitive=False,
        ),
    ] = Format.text
    output: Annotated[
        str | None, typer.Option("--output", "-o", metavar="FILE", help="Write to FILE, whole or not at all.")
    ] = None
    assumptions: Annotated[bool, typer.Option("--assumptions", help="Say what is assumed, line by line.")] = (
        False
    )
    chart: Annotated[
        str | None, typer.Option("--chart", metavar="FILE", help="Draw it too: .svg, .png or .pdf.")
    ] = None
    top: Annotated[
        int | None,
        typer.Option("--top", min=0, metavar="N", help=f"Rows to show (default {TOP}); 0 for all."),
    ] = None
    save_receiver: Annotated[str | None, typer.Option("--save-receiver", metavar="FILE", help=SAVE_HELP)] = (
        None
    )
    overwrite: Annotated[bool, typer.Option("--overwrite", help=OVERWRITE_HELP)] = False
    fail_on: Annotated[
        FailOn | None, typer.Option("--fail-on", metavar="GRADE", help=FAIL_HELP, case_sensitive=False)
    ] = None

    def __post_init__(self) -> None:
        if self.format in (Format.csv, Format.json):
            self.leave_out(["top"], f"{self.format} has every row: leave it out")
        if self.format is not Format.text:
            self.leave_out(["assumptions"], f"{self.format} is not shortened: leave it out")
        if self.fail_on is FailOn.buried and not self.everything:
            rule = "what is buried is left out of the answer: add --everything"
            raise typer.BadParameter(rule, param_hint="--fail-on")

    def question(self, *, every_hour: bool = False) -> dict[str, Any]:
        """Return the options that a question of the library takes, as far as they were given.

        Parameters
        ----------
        every_hour : bool. Whether all hours of a day are asked about, and none has to be given.

        Raises
        ------
        Refused  when a value means nothing; typer.BadParameter when it is not
            of the form asked for, or lacks its fellow.
        """
        if self.place is not None:
            needed = ("month",) if every_hour else ("month", "utc")
            missing = [_option(name) for name in needed if not self._given(name)]
            if missing:
                rule = f"what can be heard there hangs on month and hour: add {' and '.join(missing)}"
                raise typer.BadParameter(rule, param_hint="--place")
        given = {name: getattr(self, name) for name in QUESTION if self._given(name)}
        for name in ("strong_at", "audible_at"):
            if name in given:
                given[name] = units.typed_db(given[name], _option(name))
        if "level" in given:
            given["level"] = pairs(given["level"], "--level")
        if "region" in given:
            given["region"] = units.region(given["region"], "--region")
        return given

    def leave_out(self, names: Iterable[str], rule: str) -> None:
        """Refuse shared options that would change nothing in this use of a command.

        Raises
        ------
        typer.BadParameter  for the first of `names` that was given.
        """
        for name in names:
            if self._given(name):
                raise typer.BadParameter(rule, param_hint=_option(name))

    def _given(self, name: str) -> bool:
        # 0 is a number like any other, and equal to False
        return getattr(self, name) is not None and getattr(self, name) is not False


def _option(name: str) -> str:
    return "--" + name.replace("_", "-")


OCCUPANTS = ("bands", "region", "utc", "day", "place", "month", "sunspots", "level", "levels", "local")
# what counts is what is heard: nothing that is buried makes a difference to it
HEARD = ("range", "lo_order", "rf_order", "strong_at", "audible_at", "skirts")
# how much of a dial is usable asks for no grade
JUDGED = ("range", "lo_order", "rf_order", "audible_at")
ENGINE = (*HEARD, "everything")
LISTENER = ("mode", "wanted", "activity")
# how sure a share is; a single setting has a chance, and no share
WORLDS = ("worlds", "seed")
OUTPUT = ("format", "output", "top", "assumptions")
SAVE = ("save_receiver", "overwrite")
SHARED = tuple(field.name for field in fields(Options))
# where help lists a shared option; what a command has of its own comes before these
HEADINGS = {
    "the set": ("range", "ahead", "lo_order", "rf_order", "skirts", "intermodulation"),
    "what is on the air": (*OCCUPANTS, "activity"),
    "what counts": ("mode", "wanted", "strong_at", "audible_at", "everything", "worlds", "seed"),
    "how to show it": (
        "format", "output", "chart", "top", "assumptions", "save_receiver", "overwrite", "fail_on",
    ),
}  # fmt: skip
# the band tables go in as an argument of their own
QUESTION = (*OCCUPANTS[1:], *ENGINE, *LISTENER, *WORLDS, "intermodulation", "ahead")

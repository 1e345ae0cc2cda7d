"""The answer first: what decides stands in the first lines of every command's text."""

from __future__ import annotations

import re
from typing import Any

import pytest

from spurplan.cli import main
from spurplan.cli.commands import COMMANDS
from spurplan.cli.progress import duration_text
from tests.demos import DEMOS

SET = str(DEMOS / "boathouse" / "set.toml")
LOG = str(DEMOS / "boathouse" / "log.csv")
# what a page of each command has to say before a reader has scrolled
DECISIONS = {
    "dial": (["28.3MHz"], r"28\.3 MHz: usable"),
    "ranges": ([], r"Range 4: at a typical hour (over )?\d+ % of it is usable"),
    "station": (["15130kHz"], r"where it does not belong, on 14\.2 MHz by the image"),
    "suspects": (["28.3MHz"], r"likeliest .* of 100\).* The test that would tell most"),
    "birdies": ([], r"\d+ possible birdies"),
    "converter": (["--cover", "50MHz:52MHz"], r"Number 1: crystal [0-9.]+ MHz.*% of it is usable"),
    "if-change": (
        ["--if", "1600kHz"],
        r"(1600 kHz: no, .*; keep 465 kHz|Change to).*% of the dial is usable",
    ),
    "cures": (["--cover", "28MHz:29.7MHz"], r"Nothing to cure|Best for the least"),
    "bench-sheet": ([], r"measuring sheet.*lethal voltages"),
    "readings": ([LOG], r"Range 4: image 19.5 dB at 28.45 MHz, what two circuits should give.* Next: "),
    "bands": ([], r"\d+ band tables"),
    "receiver": ([], r"no faults found"),
}
# what makes a picture or a page of its own prints none
DRAWN = {"card", "report"}


def test_every_command_is_looked_at() -> None:
    """A command that is added says here what its answer is."""
    assert set(DECISIONS) | DRAWN == set(COMMANDS)


@pytest.mark.parametrize("name", DECISIONS)
def test_twelve_lines_hold_the_decision(name: str, capsys: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """At eighty columns, before any table ends; assumptions are a line below it."""
    monkeypatch.setenv("COLUMNS", "80")
    words, said = DECISIONS[name]
    asked = [name] if name == "bands" else [name, SET, *words]
    assert main(asked) == 0
    out = capsys.readouterr().out
    first = " ".join(" ".join(out.splitlines()[:12]).split())
    assert re.search(said, first), first
    assert max(map(len, out.splitlines())) <= 80
    counted = re.findall(r"^\d+ assumptions?: --assumptions shows them\.$", out, re.MULTILINE)
    assert len(counted) == (name != "bench-sheet"), "a sheet for the bench says all of them"


def test_assumptions_are_shown_when_they_are_asked_for(capsys: Any) -> None:
    """Line by line, as many as were counted; Markdown and JSON have them in any case."""
    assert main(["dial", SET, "28.3MHz"]) == 0
    count = re.search(r"^(\d+) assumptions:", capsys.readouterr().out, re.MULTILINE)
    assert count is not None
    for words in (["--assumptions"], ["--format", "md"]):
        assert main(["dial", SET, "28.3MHz", *words]) == 0
        assumed = capsys.readouterr().out.split("Assumed:")[1].split("Caution")[0]
        assert len(re.findall(r"^- ", assumed, re.MULTILINE)) == int(count[1])


def test_assumptions_are_no_option_where_they_are_shown_anyway(capsys: Any) -> None:
    """An option that would change nothing is refused."""
    for form in ("json", "csv", "md"):
        assert main(["dial", SET, "28.3MHz", "--format", form, "--assumptions"]) == 2
        assert f"{form} is not shortened" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("seconds", "said"), [(0.2, "1 s"), (89.5, "90 s"), (90.0, "2 min"), (121.0, "3 min")]
)
def test_time_left_is_rounded_up(seconds: float, said: str) -> None:
    """Who waits is not told less than it takes."""
    assert duration_text(seconds) == said

"""What can hurt someone is said on the pages whose advice leads there, and written in one place."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

import spurplan
from spurplan.cautions import all_cautions, cautions_of
from spurplan.cli import main
from spurplan.cli.commands import COMMANDS
from tests.turns import by_turns

ROOT = Path(__file__).parents[2]
BOATHOUSE = ROOT / "demos" / "boathouse" / "set.toml"
LOG = ROOT / "demos" / "boathouse" / "log.csv"

# Common practice: what whoever opens or feeds a set is told, by what the page has them do.
OPENED = ("lethal", "charged", "still be live", "isolating transformer", "series capacitors")
FED = (*OPENED, "secondary", "load on", "first stage", "keyed")
BOXES = (*OPENED, "first stage", "power line", "thunder", "earth", "fuse of its own", "supply")
ASKED: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "bench-sheet": ((str(BOATHOUSE), "--range", "4"), FED),
    "readings": ((str(BOATHOUSE), str(LOG)), FED),
    "if-change": ((str(BOATHOUSE), "--if", "1600kHz", "--range", "4"), OPENED),
    "suspects": ((str(BOATHOUSE), "28.3 MHz"), OPENED),
    "converter": ((str(BOATHOUSE), "--cover", "28MHz:28.2MHz"), BOXES),
    "cures": ((str(BOATHOUSE), "--range", "4"), (*BOXES, "oscillates")),
}


@pytest.mark.parametrize("command", by_turns(ASKED, always=ASKED.keys() - {"converter", "readings"}))
def test_a_page_that_has_a_set_opened_or_fed_says_what_can_hurt(command: str, capsys: Any) -> None:
    words, wanted = ASKED[command]
    for form in ("text", "md"):
        assert main([command, *words, "--format", form]) == 0
        shown = " ".join(capsys.readouterr().out.replace("\\", "").replace(">", " ").split())
        cautions = shown.split("Caution:", 1)[1]
        assert [said for said in wanted if said not in cautions] == []


def test_a_question_that_leaves_the_set_shut_speaks_of_the_tables_alone() -> None:
    """Too many cautions are read by nobody."""
    (caution,) = spurplan.dial(BOATHOUSE, frequency="14.2 MHz").cautions
    assert "not a licence" in caution


def test_each_caution_stands_on_the_page_of_a_command_there_is() -> None:
    commands = set(COMMANDS)
    for caution in all_cautions():
        assert caution.shown_by
        assert set(caution.shown_by) <= commands, caution.name
    assert cautions_of("receiver") == ()


def test_voltages_that_kill_are_those_of_valves_and_of_the_mains() -> None:
    """The owner of a battery portable reads that it is not his; of no other set is it left out."""
    texts = [caution.text for caution in all_cautions()]
    lethal = [text for text in texts if "lethal" in text]
    assert len(lethal) == 2
    assert all(text.startswith("Valve sets, and any set on the mains, ") for text in lethal)
    (chassis,) = (text for text in texts if "has its chassis on the mains" in text)
    assert chassis.startswith("A mains set ")


def test_cautions_are_written_in_their_data_file_alone() -> None:
    for module in (ROOT / "spurplan").rglob("*.py"):
        assert "lethal" not in module.read_text("utf-8"), module.name

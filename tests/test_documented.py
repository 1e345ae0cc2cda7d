"""What the papers say is what the program does."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from sybil import Sybil
from sybil.parsers.markdown import PythonCodeBlockParser

import spurplan
from spurplan.cli import main
from spurplan.cli.app import load
from spurplan.cli.commands import COMMANDS
from spurplan.cli.options import SHARED
from spurplan.occupancy.bands import read_bands
from spurplan.planning.converter.crystals import read_stock
from spurplan.receiver.file.reading import parse_receiver, read_front
from tests import papers
from tests.places import modules
from tests.turns import by_turns

ROOT = papers.ROOT
README, OPTIONS, RECEIVER_FILE, FIELDS, BAND_TABLES = (path.read_text("utf-8") for path in papers.FOR_USERS)
FOR_USERS = "\n".join((README, OPTIONS, RECEIVER_FILE, FIELDS, BAND_TABLES))
LINK = re.compile(r"\]\(([^)#:]+)(?:#[^)]*)?\)")
BLOCK = re.compile(r"```(\w+)\n(.*?)```", re.DOTALL)

# The fields of the answers as they were agreed on before there was any code.
AGREED = {
    ("dial", "intrusions"): """
        range set_dial_hz dial_low_hz dial_high_hz rf_low_hz rf_high_hz label service mode region table row
        response equation steps order antenna_dbm level_from rejection_db heard_dbm heard_s floor_dbm
        margin_db grade loudest_dial_hz moves inverted pad_db_per_db""",
    ("ranges", "ranges"): "range clear_share",
    ("station", "wanted"): "range set_dial_hz",
    ("suspects", "suspects"): "rank cause rf_hz dial_hz weight fits next_test label equation moves",
    ("birdies", "birdies"): "kind equation order beat_hz below_station_db",
    ("birdies", "radiates"): "oscillator harmonic low_hz high_hz label service",
    ("birdies", "pairs"): "product order",
    ("converter", "candidates"): """
        rank possible crystal_hz multiplier injected_hz side dial_rule range cover_low_hz cover_high_hz
        set_low_hz set_high_hz lost_hz image_rejection_db second_image_rejection_db straight_in_label
        straight_in_dbm usable_share usable_low usable_high forward spread_khz_mm drift_hz impurity_db
        unheard_share worst_label worst_grade worst_margin_db whistles birdies
        reading_error_hz reasons""",
    ("if-change", "proposals"): """
        range if_hz first_if_hz injection verdict usable_before usable_after usable_gain usable_gain_low
        usable_gain_high better_in image_low_hz image_high_hz image_rejection_db half_if_margin_db
        on_if_label on_if_dbm dead_low_hz dead_high_hz whistles oscillator_low_hz oscillator_high_hz
        oscillator_ratio tracking_error_hz bandwidth_hz reasons""",
    ("if-change", "scan"): """
        rank if_hz verdict usable_before usable_after usable_gain usable_gain_low usable_gain_high better_in
        image_rejection_db usual reasons""",
    ("cures", "cures"): """
        rank cure usable_before usable_after usable_gain usable_gain_low usable_gain_high better_in
        recommended not_told_from effort not_cured note""",
    ("cures", "plan"): """
        step cure usable_before usable_after usable_gain usable_gain_low usable_gain_high better_in effort""",
    ("bench-sheet", "points"): "number response generator_hz predicted_db teaches reading",
    ("readings", "fitted"): "figure value low high unit decided reason",
    ("readings", "residuals"): "number predicted_db reading_db residual_db outlier",
}


def blocks(text: str, language: str) -> list[str]:
    """Return the blocks of one language in a paper."""
    return [block for found, block in BLOCK.findall(text) if found == language]


@pytest.mark.parametrize(
    "printed", list(papers.PRINTED.finditer(FOR_USERS)), ids=lambda match: match["words"]
)
def test_what_is_shown_is_what_is_printed(printed: re.Match[str]) -> None:
    """Every command with its output prints that; python -m tests.papers renews it."""
    assert papers.printed(printed["words"]) == printed["said"]


@pytest.mark.long
def test_the_list_has_every_field_of_every_answer() -> None:
    """Name, kind, unit and meaning of each column; python -m tests.papers renews the list."""
    assert papers.between(FIELDS, "fields") == papers.fields()


@pytest.mark.parametrize(("command", "table"), list(AGREED))
def test_no_agreed_field_is_missing(command: str, table: str) -> None:
    """Answers have at least the fields that were promised."""
    assert set(AGREED[command, table].split()) <= {column.name for column in papers.columns()[command][table]}


def test_csv_and_frame_and_json_have_the_documented_fields(capsys: Any) -> None:
    """One tuple of columns makes all of them."""
    names = [column.name for column in papers.columns()["ranges"]["intrusions"]]
    demo = str(ROOT / papers.DEMO)
    assert main(["ranges", demo, "--range", "3", "--format", "csv"]) == 0
    assert capsys.readouterr().out.splitlines()[0].split(",") == names
    assert main(["ranges", demo, "--range", "3", "--format", "json"]) == 0
    assert list(json.loads(capsys.readouterr().out)["intrusions"][0]) == names
    assert list(spurplan.ranges(demo, range="3").to_frame().columns) == names


def test_python_blocks_run(monkeypatch: pytest.MonkeyPatch, capsys: Any) -> None:
    """Each block of README's Python runs as it stands, in a checkout."""
    monkeypatch.chdir(ROOT)
    examples = list(Sybil(parsers=[PythonCodeBlockParser()]).parse(papers.README))
    assert len(examples) == len(blocks(README, "python")) >= 2
    for example in examples:
        example.evaluate()
    assert "write decimals with a point, as 14.2" in capsys.readouterr().out


def test_the_receiver_files_are_read() -> None:
    """The documented file is read without a fault."""
    for paper in (README, RECEIVER_FILE):
        [text] = blocks(paper, "toml")
        assert parse_receiver(text).name == "Boathouse valve set"


def test_the_range_with_a_chain_of_its_own_is_one() -> None:
    """The documented range can stand behind the documented file."""
    [text] = blocks(RECEIVER_FILE, "toml")
    more = parse_receiver(text + indented_after(RECEIVER_FILE, "has `[[range.conversion]]` below it"))
    assert [one.if_hz for one in more.conversions_of(more.ranges[-1])] == [None, 455_000]


def test_the_band_table_is_one(tmp_path: Path) -> None:
    """The documented table is read without a fault, with its three forms of row."""
    [text] = blocks(BAND_TABLES, "csv")
    table = tmp_path / "mine.csv"
    table.write_text(text, "utf-8")
    assert read_bands(table).carriers().tolist() == [1, 1, 45]


def test_every_command_and_every_shared_option_is_documented() -> None:
    """README names every command and no other; the papers every option."""
    named = {command.split()[1] for command, _ in papers.questions()}
    assert named == set(COMMANDS)
    for option in SHARED:
        assert f"--{option.replace('_', '-')}" in FOR_USERS


@pytest.mark.parametrize("command", list(COMMANDS))
def test_every_option_of_every_command_is_documented(command: str) -> None:
    """The papers name them, not the help alone."""
    options = {word for parameter in load(command).params for word in parameter.opts if word.startswith("--")}
    assert [option for option in sorted(options - {"--help"}) if option not in FOR_USERS] == []


def indented_after(text: str, words: str) -> str:
    """Return the indented block of a paper behind some words."""
    lines = text[text.index(words) :].split("\n\n")[1].splitlines()
    return "\n".join(line.removeprefix("    ") for line in lines) + "\n"


def test_the_stock_list_and_the_front_are_read(tmp_path: Path) -> None:
    """Both as they stand there."""
    stock, front = tmp_path / "stock.csv", tmp_path / "front.toml"
    stock.write_text(indented_after(OPTIONS, "A `--stock` list"), "utf-8")
    front.write_text(indented_after(OPTIONS, "A `--front` file"), "utf-8")
    assert [crystal.frequency_hz for crystal in read_stock(stock)] == [14_318_000, 48_000_000]
    assert read_front(front).noise_figure_db == 6.0


SAME = [pair for pair in papers.questions() if pair[1].startswith("spurplan.") and "[" not in pair[0]]


@pytest.mark.parametrize(("command", "python"), by_turns(SAME, always=SAME[:2], several=True))
def test_the_command_line_and_python_give_the_same_answer(
    command: str, python: str, monkeypatch: pytest.MonkeyPatch, capsys: Any
) -> None:
    """Row by row of README's table: JSON is the answer's dictionary."""
    monkeypatch.chdir(ROOT)
    here = {
        "set.toml": papers.DEMO,
        "log.csv": "demos/boathouse/log.csv",
        "evening.csv": "demos/boathouse/evening.csv",
    }
    for name, path in here.items():
        command = re.sub(rf"\b{name}", path, command)
        python = re.sub(rf"\b{name}", path, python)
    assert main([*command.split()[1:], "--format", "json"]) == 0
    printed = json.loads(capsys.readouterr().out)
    answer = eval(python, {"spurplan": spurplan})
    assert printed == json.loads(json.dumps(answer.to_dict()))


@pytest.mark.parametrize(("paper", "most"), [(papers.README, 300), (papers.GUIDE, 250)])
def test_what_is_read_first_is_short(paper: Path, most: int) -> None:
    """A page that nobody reads to its end says nothing."""
    assert len(paper.read_text("utf-8").splitlines()) <= most


@pytest.mark.parametrize("paper", papers.ALL, ids=lambda paper: paper.name)
def test_links_of_a_paper_lead_somewhere(paper: Path) -> None:
    """Each to a file, seen from the paper."""
    for link in LINK.findall(paper.read_text("utf-8")):
        assert (paper.parent / link).exists(), link


def test_the_guide_names_what_is_there() -> None:
    """Files, folders and modules of tests that DEVELOPERS.md names exist."""
    guide = papers.GUIDE.read_text("utf-8")
    named = set(re.findall(r"`((?:spurplan|tests|demos|bandplans|\.ci)/[A-Za-z_/.]+)`", guide))
    assert len(named) > 20
    for path in sorted(path for path in named if "NAME" not in path):
        assert (ROOT / path).exists(), path
    for module in set(re.findall(r"`(test_[a-z_0-9]+)`", guide)):
        assert module in modules(), module


def test_the_cautions_are_whole() -> None:
    """What the screen says in a line or two, README says in full."""
    cautions = README[README.index("## Cautions") : README.index("## Changes")]
    for said in (
        "lethal voltages on AC and DC",
        "charged after switch-off",
        "may still be live",
        "specified",
        "discharge",
        "qualified",
        "local electrical codes",
        "isolating transformer",
        "series capacitors",
        "secondary",
        "first stage",
        "oscillates",
        "power line",
        "thunder",
        "earth",
        "fuse of its own",
        "not a licence",
        "local law",
        "national",
        "safety of life",
    ):
        assert said in cautions.replace("\n", " "), said

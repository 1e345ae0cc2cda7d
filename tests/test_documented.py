"""What README says is what the program does."""

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
from tests import readme

ROOT, TEXT = readme.ROOT, readme.README.read_text("utf-8")
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
        clear_share worst_label worst_grade worst_margin_db whistles birdies
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


def blocks(language: str) -> list[str]:
    """Return the blocks of one language in README."""
    return [text for found, text in BLOCK.findall(TEXT) if found == language]


@pytest.mark.parametrize("printed", list(readme.PRINTED.finditer(TEXT)), ids=lambda match: match["words"])
def test_readme_shows_what_is_printed(printed: re.Match[str]) -> None:
    """Every command with its output in README prints that; python -m tests.readme renews it."""
    assert readme.printed(printed["words"]) == printed["said"]


def test_readme_lists_every_field_of_every_answer() -> None:
    """Name, kind, unit and meaning of each column; python -m tests.readme renews the list."""
    assert readme.documented() == readme.fields()


@pytest.mark.parametrize(("command", "table"), list(AGREED))
def test_no_agreed_field_is_missing(command: str, table: str) -> None:
    """Answers have at least the fields that were promised."""
    assert set(AGREED[command, table].split()) <= {column.name for column in readme.columns()[command][table]}


def test_csv_and_frame_and_json_have_the_documented_fields(capsys: Any) -> None:
    """One tuple of columns makes all of them."""
    names = [column.name for column in readme.columns()["ranges"]["intrusions"]]
    demo = str(ROOT / readme.DEMO)
    assert main(["ranges", demo, "--range", "3", "--format", "csv"]) == 0
    assert capsys.readouterr().out.splitlines()[0].split(",") == names
    assert main(["ranges", demo, "--range", "3", "--format", "json"]) == 0
    assert list(json.loads(capsys.readouterr().out)["intrusions"][0]) == names
    assert list(spurplan.ranges(demo, range="3").to_frame().columns) == names


def test_python_blocks_run(monkeypatch: pytest.MonkeyPatch, capsys: Any) -> None:
    """Each block of README's Python runs as it stands, in a checkout."""
    monkeypatch.chdir(ROOT)
    examples = list(Sybil(parsers=[PythonCodeBlockParser()]).parse(readme.README))
    assert len(examples) == len(blocks("python")) >= 2
    for example in examples:
        example.evaluate()
    assert "write decimals with a point, as 14.2" in capsys.readouterr().out


def test_the_receiver_file_of_readme_is_one() -> None:
    """The documented file is read without a fault."""
    [text] = blocks("toml")
    assert parse_receiver(text).name == "Boathouse valve set"


def test_the_range_of_readme_with_a_chain_of_its_own_is_one() -> None:
    """The documented range can stand behind the documented file."""
    [text] = blocks("toml")
    more = parse_receiver(text + indented_after("has `[[range.conversion]]` below it"))
    assert [one.if_hz for one in more.conversions_of(more.ranges[-1])] == [None, 455_000]


def test_the_band_table_of_readme_is_one(tmp_path: Path) -> None:
    """The documented table is read without a fault, with its three forms of row."""
    [text] = blocks("csv")
    table = tmp_path / "readme.csv"
    table.write_text(text, "utf-8")
    assert read_bands(table).carriers().tolist() == [1, 1, 45]


def test_every_command_and_every_shared_option_is_documented() -> None:
    """README names them all, and names no command that is not there."""
    named = {command.split()[1] for command, _ in readme.questions()}
    assert named == set(COMMANDS)
    for option in SHARED:
        assert f"--{option.replace('_', '-')}" in TEXT


@pytest.mark.parametrize("command", list(COMMANDS))
def test_every_option_of_every_command_is_documented(command: str) -> None:
    """README names them, not the help alone."""
    options = {word for parameter in load(command).params for word in parameter.opts if word.startswith("--")}
    assert [option for option in sorted(options - {"--help"}) if option not in TEXT] == []


def indented_after(words: str) -> str:
    """Return the indented block of README behind some words."""
    lines = TEXT[TEXT.index(words) :].split("\n\n")[1].splitlines()
    return "\n".join(line.removeprefix("    ") for line in lines) + "\n"


def test_the_stock_list_and_the_front_of_readme_are_read(tmp_path: Path) -> None:
    """Both as they stand there."""
    stock, front = tmp_path / "stock.csv", tmp_path / "front.toml"
    stock.write_text(indented_after("A `--stock` list"), "utf-8")
    front.write_text(indented_after("A `--front` file"), "utf-8")
    assert [crystal.frequency_hz for crystal in read_stock(stock)] == [14_318_000, 48_000_000]
    assert read_front(front).noise_figure_db == 6.0


@pytest.mark.parametrize(
    ("command", "python"),
    [pair for pair in readme.questions() if pair[1].startswith("spurplan.") and "[" not in pair[0]],
)
def test_the_command_line_and_python_give_the_same_answer(
    command: str, python: str, monkeypatch: pytest.MonkeyPatch, capsys: Any
) -> None:
    """Row by row of README's table: JSON is the answer's dictionary."""
    monkeypatch.chdir(ROOT)
    here = {"set.toml": readme.DEMO, "log.csv": "demos/boathouse/log.csv"}
    for name, path in here.items():
        command = re.sub(rf"\b{name}", path, command)
        python = re.sub(rf"\b{name}", path, python)
    assert main([*command.split()[1:], "--format", "json"]) == 0
    printed = json.loads(capsys.readouterr().out)
    answer = eval(python, {"spurplan": spurplan})
    assert printed == json.loads(json.dumps(answer.to_dict()))


def test_the_developers_guide_names_what_is_there() -> None:
    """Files that DEVELOPERS.md names exist."""
    guide = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    for path in set(re.findall(r"`((?:spurplan|tests|\.ci)/[a-z_/.]+)`", guide)):
        assert (ROOT / path).exists(), path


def test_the_cautions_are_whole() -> None:
    """What the screen says in a line or two, README says in full."""
    cautions = TEXT[TEXT.index("## Cautions") : TEXT.index("## Changes")]
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

"""A receiver file from what the owner of a set knows: its ranges, its IF, its stages."""

from __future__ import annotations

import io
import sys
from pathlib import Path
from typing import Any

import pytest

import spurplan
from spurplan.cli import main
from spurplan.receiver.description import Circuits
from spurplan.receiver.file.reading import parse_receiver

KNOWN = ["--cover", "0.53:1.6", "--cover", "6:18", "--if", "455"]


class Keyboard(io.StringIO):
    """Somebody who types at a terminal."""

    def isatty(self) -> bool:
        return True


def begun(capsys: Any, *words: str) -> Any:
    assert main(["receiver", *words]) == 0
    return parse_receiver(capsys.readouterr().out, "begun")


def circuits_of(one: Any) -> int:
    (front,) = one.front_end
    assert isinstance(front, Circuits)
    return front.circuits


def test_three_lines_lead_from_a_set_to_an_answer(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Any
) -> None:
    """Begin, check, ask."""
    monkeypatch.chdir(tmp_path)
    for line in (
        "receiver --cover 6:18 --if 455 --rf-stages 1 --output set.toml",
        "receiver set.toml",
        "dial set.toml 14.2",
    ):
        assert main(line.split()) == 0, line
    assert "14.2 MHz: usable" in capsys.readouterr().out


def test_bare_numbers_are_read_as_the_trade_writes_them(capsys: Any) -> None:
    """0.53 is megahertz, 455 kilohertz: the other reading is no frequency that anybody is on."""
    made = begun(capsys, *KNOWN)
    assert [(one.low_hz, one.high_hz) for one in made.ranges] == [
        (530_000, 1_600_000),
        (6_000_000, 18_000_000),
    ]
    assert made.conversions[0].if_hz == 455_000


@pytest.mark.parametrize("stages", [0, 1, 2, 3])
def test_each_rf_stage_adds_a_circuit(capsys: Any, stages: int) -> None:
    """The aerial coil is one, on every range."""
    made = begun(capsys, *KNOWN, "--rf-stages", str(stages))
    assert [circuits_of(one) for one in made.ranges] == [stages + 1] * 2


def test_stages_that_nobody_gave_are_said_back(capsys: Any) -> None:
    """Where the file is begun and in the file itself; what was given is no assumption."""
    assert main(["receiver", *KNOWN]) == 0
    out, err = capsys.readouterr()
    assert [circuits_of(one) for one in parse_receiver(out, "begun").ranges] == [1, 2]
    assert "no --rf-stages given: one tuned RF stage is taken on each range, none up to 2 MHz\n" in err
    assert out.count("taken, as no --rf-stages was given") == 2
    assert main(["receiver", *KNOWN, "--rf-stages", "0"]) == 0
    out, err = capsys.readouterr()
    assert "--rf-stages" not in out + err


def test_an_rf_stage_takes_the_image_down(capsys: Any) -> None:
    """Which is what it is for, more than its gain."""
    images = [
        spurplan.ranges(begun(capsys, *KNOWN, "--rf-stages", str(n)), range="2").ranges["image_rejection_db"][
            0
        ]
        for n in (0, 1, 2)
    ]
    assert images[0] + 6 < images[1] < images[2] - 6


def test_what_else_is_known_goes_in(capsys: Any) -> None:
    """A beat oscillator, a name, a region in words."""
    made = begun(capsys, *KNOWN, "--bfo", "--region", "europe", "--name", "Attic set")
    assert made.bfo is not None
    assert (made.region, made.name) == (1, "Attic set")
    without = begun(capsys, *KNOWN)
    assert without.bfo is None
    assert without.region is None


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--rf-stages", "9"], '--rf-stages: "9" is no number of RF stages; give 0 to 3'),
        (["--devices", "magic"], '--devices: "magic" is neither valves nor transistors'),
        (["--region", "mars"], '--region: "mars" is not an ITU region'),
        (
            ["--cover", "60:70", "--if", "455"],
            '"60:70" has no unit and lies in the tables in kHz and in MHz',
        ),
    ],
)
def test_what_makes_no_set_is_refused(capsys: Any, words: list[str], said: str) -> None:
    """With the option, the value and the remedy."""
    import re

    assert main(["receiver", *words]) == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert re.search(said, err)


def test_questions_are_asked_one_by_one(monkeypatch: pytest.MonkeyPatch, capsys: Any) -> None:
    """What cannot be read is asked again with its reason; the file alone goes to standard output."""
    typed = [
        "Attic set",
        "455",
        "sideways",
        "below",
        "1620:530",
        "530:1620",
        "6:18",
        "",
        "1",
        "relays",
        "transistors",
        "perhaps",
        "yes",
        "atlantis",
        "europe",
    ]
    monkeypatch.setattr(sys, "stdin", Keyboard("\n".join(typed) + "\n"))
    assert main(["receiver", "--ask"]) == 0
    out, err = capsys.readouterr()
    made = parse_receiver(out, "asked")
    assert made.name == "Attic set"
    assert [(one.low_hz, one.high_hz) for one in made.ranges] == [
        (530_000, 1_620_000),
        (6_000_000, 18_000_000),
    ]
    assert [circuits_of(one) for one in made.ranges] == [2, 2]
    assert made.bfo is not None
    assert made.region == 1
    assert made.conversions[0].injection == "low"
    assert made.conversions[0].mixer.family == "bipolar"
    assert err.endswith("next: save it as set.toml, then spurplan ranges set.toml\n")
    for said in (
        "is neither above nor below",
        "not below its high edge",
        "is neither valves nor transistors",
        "is neither yes nor no",
        "is not an ITU region",
    ):
        assert said in err


@pytest.mark.parametrize("ifs", [["455kHz"], ["1.6MHz", "85kHz"]])
def test_a_set_with_transistors_mixes_with_them(capsys: Any, ifs: list[str]) -> None:
    """In every mixer; valves are taken where nobody says, and tubes are those."""
    words = [word for one in ifs for word in ("--if", one)]
    made = [
        begun(capsys, "--cover", "6MHz:18MHz", *words, *more)
        for more in ((), ("--devices", "Tubes"), ("--devices", "transistors"))
    ]
    families = [{conversion.mixer.family for conversion in one.conversions} for one in made]
    assert families == [{"valve_multiplicative"}, {"valve_multiplicative"}, {"bipolar"}]


def test_nobody_is_asked_where_nobody_can_answer(monkeypatch: pytest.MonkeyPatch, capsys: Any) -> None:
    """In a pipe it is a wrong option, not a program that waits for ever."""
    monkeypatch.setattr(sys, "stdin", io.StringIO("Attic set\n"))
    assert main(["receiver", "--ask"]) == 2
    assert "nobody answers here" in capsys.readouterr().err
    assert main(["receiver", "--ask", "--if", "455"]) == 2
    assert "leave the other options out" in capsys.readouterr().err


def test_the_next_command_is_named_where_a_file_is_begun(tmp_path: Path, capsys: Any) -> None:
    """With the name that was given."""
    path = tmp_path / "my set.toml"
    assert main(["receiver", "--cover", "6:18", "--output", str(path)]) == 0
    assert capsys.readouterr().err.endswith(f"next: spurplan ranges '{path}'\n")

"""The frame of the command line: exit status, streams, shared options."""

from __future__ import annotations

import io
import json
import os
import shlex
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import spurplan
from spurplan.cli import main
from spurplan.cli.app import load
from spurplan.cli.commands import COMMANDS, module_of
from spurplan.cli.frame import command
from spurplan.cli.options import HEADINGS, SHARED, Options
from spurplan.cli.words import with_units
from spurplan.errors import Fault, Refused
from tests.answers import HOSTILE, answer, row

Ask = Callable[..., Any]
SET = str(Path(__file__).parents[1] / "receivers" / "boathouse.toml")


@pytest.fixture
def questions(monkeypatch: pytest.MonkeyPatch) -> list[tuple[tuple[Any, ...], dict[str, Any]]]:
    """Answer every question about a dial with two intrusions; keep what was asked."""
    calls = []

    def dial(*arguments: Any, **options: Any) -> Any:
        calls.append((arguments, options))
        return answer(row(grade="audible", label=HOSTILE), row(grade="buried", label="Söder"))

    monkeypatch.setitem(vars(spurplan), "dial", dial)
    return calls


def refusing(error: BaseException) -> Ask:
    def ask(*_: Any, **__: Any) -> Any:
        raise error

    return ask


def run(*words: str, **environment: str) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(
        [sys.executable, "-m", "spurplan", *words],
        capture_output=True,
        env=os.environ | environment,
        check=False,
        timeout=60,
    )


def test_options_go_to_the_library_as_given_and_no_others(questions: list[Any], capsys: Any) -> None:
    """The library's defaults are the only defaults; words of a frequency are joined."""
    assert main(["dial", SET, "14.2", "MHz"]) == 0
    [(arguments, options)] = questions
    assert arguments == (SET,)
    assert options == {"bands": None, "frequency": "14.2 MHz", "dial_error": None}
    questions.clear()
    shared = (
        "--region 2 --utc 1830 --day fri --range 4 --lo-order 6 --rf-order 2 --strong-at 12 --audible-at -3dB"
    )
    more = "--levels mine.csv --level broadcast=S9+40 --level amateur=-60 dBm --skirts --everything"
    assert main(f"dial {SET} 14M2 --bands a.csv --bands b.csv {shared} {more} --dial-error 5kHz".split()) == 0
    [(arguments, options)] = questions
    assert arguments == (SET,)
    assert options == {
        "bands": ["a.csv", "b.csv"],
        "frequency": "14M2",
        "dial_error": "5kHz",
        "region": 2,
        "utc": "1830",
        "day": "fri",
        "range": "4",
        "lo_order": 6,
        "rf_order": 2,
        "strong_at": 12.0,
        "audible_at": -3.0,
        "levels": "mine.csv",
        "level": {"broadcast": "S9+40", "amateur": "-60 dBm"},
        "skirts": True,
        "everything": True,
    }


@pytest.mark.parametrize("form", ["text", "csv", "json", "md"])
def test_the_answer_goes_to_standard_output_alone(questions: list[Any], capsys: Any, form: str) -> None:
    """Results and cautions are on one stream, whatever the format."""
    assert main(["dial", SET, "14.2MHz", "--format", form]) == 0
    out, err = capsys.readouterr()
    assert "Söder" in out
    assert err == ""
    assert ("licence" in out) == (form != "csv")


@pytest.mark.parametrize("form", ["text", "csv", "json", "md"])
def test_a_file_gets_the_same_answer_and_the_screen_none(
    questions: list[Any], capsys: Any, tmp_path: Path, form: str
) -> None:
    """--output writes what would have been printed."""
    target = tmp_path / "answer"
    assert main(["dial", SET, "14.2MHz", "--format", form, "--output", str(target)]) == 0
    assert capsys.readouterr().out == ""
    assert main(["dial", SET, "14.2MHz", "--format", form]) == 0
    assert target.read_bytes().decode("utf-8") == capsys.readouterr().out


def test_a_refusal_is_text_on_standard_error_and_status_1(
    monkeypatch: pytest.MonkeyPatch, capsys: Any
) -> None:
    """All faults are shown, made harmless; standard output stays empty."""
    faults = [Fault("set.toml, name", "is missing"), Fault("a\x1b[31mb.toml", "is empty", remedy="fill it")]
    monkeypatch.setitem(vars(spurplan), "dial", refusing(Refused(faults)))
    assert main(["dial", SET, "14.2MHz"]) == 1
    out, err = capsys.readouterr()
    assert (out, err) == ("", "set.toml, name: is missing\nab.toml: is empty; fill it\n")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["dial"], "Missing argument"),
        (["dial", "set.toml"], "Missing argument"),
        (["dial", "set.toml", "14.2MHz", "--formt", "csv"], "No such option"),
        (["dial", "set.toml", "14.2MHz", "--format", "xml"], "--format"),
        (["dial", "set.toml", "14.2MHz", "--lo-order", "many"], "--lo-order"),
        (["dial", "set.toml", "14.2MHz", "--top", "-1"], "--top"),
        (["dial", "14.2MHz", "set.toml"], "comes first: spurplan dial set.toml 14.2MHz"),
        (["dial", "14.2", "MHz", "set.toml"], "comes first: spurplan dial set.toml 14.2 MHz"),
        (["ranges", "14.2"], "comes first: spurplan ranges set.toml"),
        (["dial", SET, "14.2MHz", "--level", "broadcast"], "NAME=VALUE"),
        (["dial", SET, "14.2MHz", "-o", "-h"], "given as --output=-h"),
        (["dial", SET, "14.2MHz", "--output", "--format", "csv"], "--format, is an option itself"),
        (["station", "set.toml"], "--label"),
        (["station", "set.toml", "15130 kHz", "--label", "x"], "--label"),
        (["dail"], "Did you mean 'dial'"),
    ],
)
def test_wrong_options_are_status_2(questions: list[Any], capsys: Any, words: list[str], said: str) -> None:
    """The command line could not be read: nothing was asked, nothing printed."""
    assert main(words) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert said in err
    assert not questions


@pytest.mark.parametrize(("grade", "status"), [("strong", 0), ("audible", 3), ("buried", 3)])
def test_fail_on_is_status_3_at_that_grade_or_louder(
    questions: list[Any], capsys: Any, grade: str, status: int
) -> None:
    """The answer is printed all the same."""
    assert main(["dial", SET, "14.2MHz", "--fail-on", grade, "--everything"]) == status
    assert "audible" in capsys.readouterr().out


def test_fail_on_looks_at_pairs_of_stations_too(tmp_path: Path, capsys: Any) -> None:
    """6.0 and 8.2 MHz make 14.2 MHz in a transistor mixer where no station intrudes by itself."""
    receiver, bands = tmp_path / "set.toml", tmp_path / "air.csv"
    receiver.write_text(
        'name = "open window"\n[[conversion]]\ninjection = "high"\nif = "455 kHz"\n'
        '[conversion.mixer]\nfamily = "bipolar"\n'
        '[conversion.filter]\nbandwidth = "6 kHz"\n[[range]]\nname = "1"\ncoverage = ["11 MHz", "30 MHz"]\n'
        "front_end = [ { circuits = 1, q = 10 } ]\n",
        encoding="utf-8",
    )
    bands.write_text(
        "freq_khz,service,label,level\n6000,broadcast,Northmoor,-5 dBm\n8200,broadcast,Southmoor,-5 dBm\n",
        encoding="utf-8",
    )
    words = ["dial", str(receiver), "14.2MHz", "--bands", str(bands), "--format", "json"]
    words += ["--fail-on", "audible"]
    assert main(words) == 0
    assert json.loads(capsys.readouterr().out)["intrusions"] == []
    assert main([*words, "--intermodulation"]) == 3
    assert json.loads(capsys.readouterr().out)["pairs"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["dial", SET, "14.2MHz", "--format", "csv", "--top", "3"], "csv has every row"),
        (["ranges", SET, "--format", "json", "--top", "0"], "json has every row"),
        (["dial", SET, "14.2MHz", "--fail-on", "buried"], "add --everything"),
        (["cures", SET, "--everything"], "No such option"),
        (["if-change", SET, "--if", "1.6MHz", "--everything"], "No such option"),
        (["converter", SET, "--cover", "50MHz:52MHz", "--everything"], "--explain"),
        (
            [
                "converter",
                SET,
                "--cover",
                "50MHz:52MHz",
                "--cover",
                "28MHz:29MHz",
                "--save-receiver",
                "a.toml",
            ],
            "for one cover",
        ),
        (["birdies", SET, "--skirts"], "No such option"),
        (["bench-sheet", SET, "--top", "3"], "No such option"),
        (["readings", SET, "log.csv", "--top", "3"], "No such option"),
        (["receiver", SET, "--name", ""], "leave the other options out"),
        (["receiver", "--schema", "--if", "465kHz"], "same for every file"),
        (["receiver", "--top", "3"], "No such option"),
        (["bands", "--import", "list.csv", "--top", "3"], "imported whole"),
        (["bands", "--unit", "MHz"], "--unit"),
        (["bands", "--decimal-comma"], "--decimal-comma"),
    ],
)
def test_options_that_would_change_nothing_are_refused(capsys: Any, words: list[str], said: str) -> None:
    """Status 2 with the option and the reason, and nothing written."""
    assert main(words) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert said in " ".join(err.replace("│", " ").split())


@pytest.mark.parametrize(
    "words",
    [
        ["birdies"],
        ["ranges"],
        ["station", "15130kHz"],
        ["bench-sheet"],
        ["dial", "11.5MHz"],
        ["suspects", "11.5MHz"],
    ],
)
def test_the_heading_describes_the_ranges_asked_about(words: list[str], capsys: Any) -> None:
    """11.5 MHz is on two ranges of the set: of those, and of all, only the one that --range names is said."""
    assert main([words[0], SET, *words[1:], "--range", "3"]) == 0
    out = capsys.readouterr().out
    assert "3: aerial" in out
    assert not any(f"{other}: aerial" in out for other in "124")


def test_birdies_advise_no_option_that_they_do_not_take() -> None:
    """What beats does so inside the passband, whatever is asked."""
    said = spurplan.birdies(SET, range="3").assumptions
    assert spurplan.birdies(SET, range="3", skirts=True).assumptions == said
    assert not any("skirts" in line for line in said)


@pytest.mark.parametrize("command", ["dial", "ranges"])
def test_no_oscillator_harmonics_are_asked_for_with_0(command: str, capsys: Any) -> None:
    """0 is an order, not the default: what is left gets through every mixer straight."""
    words = [command, SET, *(["14.2MHz"] if command == "dial" else []), "--lo-order", "0", "--format", "json"]
    assert main(words) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["settings"]["lo_order"] == 0
    assert all(lo == 0 for row in found["intrusions"] for lo, _ in row["steps"])


def test_an_interruption_is_status_130(monkeypatch: pytest.MonkeyPatch, capsys: Any) -> None:
    """Ctrl-C ends quietly."""
    monkeypatch.setitem(vars(spurplan), "dial", refusing(KeyboardInterrupt()))
    assert main(["dial", SET, "14.2MHz"]) == 130
    assert capsys.readouterr() == ("", "")


def test_files_are_written_before_anything_is_printed(
    questions: list[Any], capsys: Any, tmp_path: Path
) -> None:
    """Where a file is refused, standard output is still empty."""
    assert main(["dial", SET, "14.2MHz", "--output", str(tmp_path / "no" / "answer.txt")]) == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert "answer.txt" in err


def test_json_on_the_command_line_is_the_answer_itself(questions: list[Any], capsys: Any) -> None:
    """What a program reads is Answer.to_dict()."""
    main(["dial", SET, "14.2MHz", "--format", "json"])
    expected = answer(row(grade="audible", label=HOSTILE), row(grade="buried", label="Söder")).to_dict()
    assert json.loads(capsys.readouterr().out) == expected


class Terminal(io.TextIOWrapper):
    """A terminal with an encoding of its own."""

    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize("encoding", ["latin-1", "ascii", "cp437", "utf-8"])
@pytest.mark.parametrize("form", ["text", "csv", "json", "md"])
def test_any_terminal_gets_harmless_text(
    questions: list[Any], monkeypatch: pytest.MonkeyPatch, encoding: str, form: str
) -> None:
    """Characters it can not show are replaced; sequences never reach it, not even as stray bytes."""
    monkeypatch.setenv("NO_COLOR", "1")
    raw = io.BytesIO()
    screen = Terminal(raw, encoding=encoding)
    monkeypatch.setattr(sys, "stdout", screen)
    assert main(["dial", SET, "14.2MHz", "--format", form]) == 0
    shown = raw.getvalue().decode(encoding)
    assert not set(shown) & {*"\x1b\x07\u202e", *map(chr, range(0x80, 0xA0))}
    assert ("Söder" in shown) == (encoding != "ascii")


def test_programs_get_utf_8_whatever_the_terminal(
    questions: list[Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Data for a pipe loses no letter to the encoding of the shell."""
    raw = io.BytesIO()
    monkeypatch.setattr(sys, "stdout", io.TextIOWrapper(raw, encoding="ascii"))
    assert main(["dial", SET, "14.2MHz", "--format", "json"]) == 0
    assert json.loads(raw.getvalue().decode("utf-8"))["intrusions"][1]["label"] == "Söder"


def test_columns_and_no_color_are_obeyed(
    questions: list[Any], monkeypatch: pytest.MonkeyPatch, capsys: Any
) -> None:
    """A pipe has room for every column unless COLUMNS says otherwise."""
    monkeypatch.delenv("COLUMNS", raising=False)
    main(["dial", SET, "14.2MHz"])
    assert "Left out" not in capsys.readouterr().out
    monkeypatch.setenv("COLUMNS", "80")
    main(["dial", SET, "14.2MHz"])
    assert "Left out at this width" in capsys.readouterr().out


def test_a_closed_pipe_is_silent() -> None:
    """A reader that stops is no fault of the writer."""
    reader, writer = os.pipe()
    os.close(reader)
    with os.fdopen(writer, "wb") as closed:
        done = subprocess.run(
            [sys.executable, "-m", "spurplan", "--help"], stdout=closed, stderr=subprocess.PIPE, check=False
        )
    assert (done.returncode, done.stderr) == (0, b"")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
def test_a_full_disk_is_said_in_a_line() -> None:
    """Unwritable output is status 1 and no traceback."""
    with Path("/dev/full").open("wb") as full:
        done = subprocess.run(
            [sys.executable, "-m", "spurplan", "--version"], stdout=full, stderr=subprocess.PIPE, check=False
        )
    assert done.returncode == 1
    assert done.stderr.startswith(b"standard output: can not be read or written: No space left")
    assert b"Traceback" not in done.stderr


def test_the_version_is_that_of_the_package() -> None:
    """Said by --version."""
    assert run("--version").stdout.decode().strip() == f"spurplan {spurplan.__version__}"


def test_help_lists_every_command_under_its_heading() -> None:
    """The nouns that the commands print, by what the user is about."""
    said = run("--help").stdout.decode()
    places = [said.index(f"\n  {name} ") for name in COMMANDS]
    assert places == sorted(places)
    for heading in ("listen:", "decide:", "measure:", "files:", "paper:"):
        assert heading in said


@pytest.mark.parametrize("name", list(COMMANDS))
def test_every_command_has_help_of_its_own(name: str, capsys: Any) -> None:
    """Each option says what it does; help fits 80 columns."""
    assert Path(*module_of(name).split(".")).with_suffix(".py").exists()
    assert main([name, "--help"]) == 0
    said = capsys.readouterr().out
    assert "Usage: spurplan " + name in said
    assert max(map(len, said.splitlines())) <= 80


def test_what_an_option_does_is_wrapped_to_a_narrow_page(capsys: Any, monkeypatch: Any) -> None:
    """Nothing but an example runs over, which is one line to be typed."""
    monkeypatch.setenv("COLUMNS", "60")
    for name in COMMANDS:
        assert main([name, "--help"]) == 0
        lines = capsys.readouterr().out.splitlines()
        assert max(len(line) for line in lines if not line.startswith("  spurplan ")) <= 60
    assert any(" " * 25 in line for line in lines)


@pytest.mark.parametrize("name", list(COMMANDS))
def test_help_has_its_examples_and_its_own_options_on_the_first_page(name: str, capsys: Any) -> None:
    """Twenty-four lines hold them, sixty hold all; shared options follow under headings."""
    assert main([name, "--help"]) == 0
    said = capsys.readouterr().out.splitlines()
    assert len(said) <= 60
    examples = COMMANDS[name].examples
    assert 2 <= len(examples) <= 3
    first = said[:24]
    for example in examples:
        assert f"  spurplan {name} {example}" in first
    own = {one.name for one in load(name).params} - set(SHARED) - {"help"}
    for one in load(name).params:
        if one.name in own and one.param_type_name == "option":
            # a command with a screenful of its own goes on over the page
            shown = first if len(own) <= 12 else said[:48]
            assert any(line.strip().startswith(max(one.opts, key=len)) for line in shown), one.name
    text = "\n".join(said)
    for typed in ("<", "list[", "[x>=", "[default", "[required]"):
        assert typed not in text, "a word of the language, or a limit said twice"


@pytest.mark.parametrize(("name", "example"), [(n, e) for n, one in COMMANDS.items() for e in one.examples])
def test_every_example_can_be_asked(name: str, example: str) -> None:
    """The options stand there and take what the example gives them."""
    load(name).make_context(name, with_units(shlex.split(example)), resilient_parsing=False)


def test_every_shared_option_has_one_heading() -> None:
    """None is left out of help, and none is in it twice."""
    named = [name for names in HEADINGS.values() for name in names]
    assert sorted(named) == sorted(SHARED)


def test_the_bare_program_says_what_there_is(capsys: Any) -> None:
    """Help on standard output, and no fault."""
    assert main([]) == 0
    bare = capsys.readouterr().out
    assert main(["--help"]) == 0
    assert bare == capsys.readouterr().out
    assert "spurplan receiver" in bare


def test_a_command_can_not_take_an_option_nobody_declared() -> None:
    """A slip in the list of shared options shows when the module is imported."""
    with pytest.raises(ValueError, match="bandz"):

        @command("bandz")
        def odd(options: Options) -> None:
            """Do nothing."""

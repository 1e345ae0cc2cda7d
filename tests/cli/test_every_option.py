"""Every option of every command changes what the command answers; one that changes nothing is a trap."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Sequence
from contextlib import redirect_stderr, redirect_stdout
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

import pytest

from spurplan.cli import main
from spurplan.cli.app import load
from spurplan.cli.commands import COMMANDS

# ranges, two of them with images of much that stands in the table below; a poor front end and a fair one
SET = """
name = "Option bench"
noise_figure = "12 dB"
[[conversion]]
injection = "high"
if = "465 kHz"
[conversion.mixer]
family = "valve_multiplicative"
[conversion.filter]
bandwidth = "6 kHz"
[bfo]
offset = "1 kHz"
[[internal]]
name = "calibrator"
frequency = "500 kHz"
[[range]]
name = "1"
coverage = ["6 MHz", "6.4 MHz"]
front_end = [ { circuits = 1, q = 60 } ]
[[range]]
name = "medium wave"
coverage = ["900 kHz", "1.42 MHz"]
front_end = [ { circuits = 1, q = 60 } ]
[[range]]
name = "2"
coverage = ["14 MHz", "14.4 MHz"]
front_end = [ { circuits = 1, q = 55 } ]
[[range]]
name = "3"
coverage = ["14.1 MHz", "15 MHz"]
front_end = [ { circuits = 1, q = 40 } ]
"""
# who comes in in a region, at an hour, on a day, from a place; weak, on the skirts, by high orders, in pairs
BANDS = """low_khz,high_khz,freq_khz,service,label,region,mode,level,hours,days,lat,lon,power_kw
,,15130,broadcast,Image in region 2,2,am,-50 dBm,,,,,
,,15130,broadcast,Image at noon,W,am,-52 dBm,1100-1300,,,,
,,15130,broadcast,Image on Sundays,W,am,-54 dBm,,sun,,,
,,15130,broadcast,Image from afar,W,am,,,,48,11,100
,,15130,fixed_mobile,Image of a service,W,am,,,,,,
,,15130,broadcast,Faint image,W,am,-93 dBm,,,,,
,,15136,broadcast,On the skirts,W,am,-30 dBm,,,,,
,,15150,broadcast,Image of many ways,W,am,0 dBm,,,,,
14950,15010,,broadcast,A band in region 2,2,am,-45 dBm,,,,,
15020,15080,,broadcast,A band at noon,W,am,-45 dBm,1100-1300,,,,
15200,15260,,broadcast,A band on Sundays,W,am,-45 dBm,,sun,,,
,,15100,broadcast,From afar,W,am,,,,48,11,500
,,15110,broadcast,From farther,W,am,,,,30,100,500
,,15280,broadcast,From near,W,am,,,,51,6,500
,,14200,broadcast,Wanted,W,am,-50 dBm,,,,,
,,930,broadcast,On a whistle,W,am,0 dBm,,,,,
,,1395,broadcast,On another,W,am,,,,50,8,1000
,,14600,broadcast,On the oscillator in region 2,2,am,-50 dBm,,,,,
,,14600,broadcast,On the oscillator at noon,W,am,-50 dBm,1100-1300,,,,
,,14600,broadcast,On the oscillator on Sundays,W,am,-54 dBm,,sun,,,
,,14600,broadcast,On the oscillator from afar,W,am,,,,48,11,100
,,28865,broadcast,Half of a pair,W,am,0 dBm,,,,,
,,14665,broadcast,The other half,W,am,0 dBm,,,,,
,,14432.5,broadcast,By the half-IF,W,am,0 dBm,,,,,
,,43530,broadcast,By the third harmonic,W,am,0 dBm,,,,,
,,465,broadcast,On the IF,W,am,-20 dBm,,,,,
21200,21230,,amateur,In the band to be covered,W,cw,-60 dBm,,,,,
21200,21220,,broadcast,In the band in region 2,2,am,-50 dBm,,,,,
21230,21250,,broadcast,In the band at noon,W,am,-50 dBm,1100-1300,,,,
21250,21270,,broadcast,In the band on Sundays,W,am,-50 dBm,,sun,,,
,,21280,broadcast,In the band from afar,W,am,,,,48,11,500
5900,6200,,broadcast,A band of broadcasters,W,am,,,,,,
13000,16000,,maritime,Coast stations,W,ssb,,,,,,
20000,30000,,fixed_mobile,Links,W,ssb,,,,,,
"""
LEVELS = "service,low_khz,high_khz,level\nbroadcast,100,60000,-70 dBm\nmaritime,100,60000,-60 dBm\n"
BOX = 'name = "a pad"\nelements = []\ngain = "-20 dB"\n'
FRONT = 'elements = [ { circuits = 1, q = 30 } ]\ngain = "6 dB"\n'
STOCK = "freq_mhz\n15\n15.2\n"
CURE = """[[cure]]
name = "three circuits more"
effort = 0.5
note = "n"
ahead = [ { circuits = 3, q = 100 } ]
"""
FILES = {
    "set.toml": SET, "bands.csv": BANDS,
    "fewer.csv": BANDS[: BANDS.index("13000,16000")], "levels.csv": LEVELS,
    "loud.csv": LEVELS.replace("-70", "0"), "box.toml": BOX, "front.toml": FRONT,
    "stock.csv": STOCK, "cures.toml": CURE,
}  # fmt: skip
TABLE = ["--bands", "bands.csv"]
QUESTION = {
    "dial": ["dial", "set.toml", "14.2MHz"],
    "ranges": ["ranges", "set.toml"],
    "station": ["station", "set.toml", "--label", "Image"],
    "suspects": ["suspects", "set.toml", "14.2MHz"],
    "birdies": ["birdies", "set.toml"],
    "converter": ["converter", "set.toml", "--crystal", "7MHz", "--cover", "21.1MHz:21.3MHz"],
    "if-change": ["if-change", "set.toml", "--if", "1.6MHz"],
    "cures": ["cures", "set.toml"],
    "bench-sheet": ["bench-sheet", "set.toml"],
    "readings": ["readings", "set.toml", "log.csv"],
    "bands": ["bands", "--at", "15130kHz"],
    "receiver": ["receiver", "set.toml"],
    "card": ["card", "set.toml"],
    "report": ["report", "set.toml"],
}
NIGHT = ["--place", "52N,5E", "--month", "6", "--utc", "0100"]
HOUR = ["--place", "52N,5E", "--month", "6", "--utc", "1200"]


class Case(NamedTuple):
    """Words that go in besides, and words in whose place others stand."""

    more: list[str]
    less: Sequence[str] = ()


# what each option is tried with, wherever a command has it
SHARED: dict[str, Case] = {
    "--bands": Case(["--bands", "bands.csv"], ["--bands", "fewer.csv"]),
    "--ahead": Case(["--ahead", "box.toml"]),
    "--region": Case(["--region", "1"], ["--region", "2"]),
    "--utc": Case(["--utc", "1800"], ["--utc", "1200"]),
    "--day": Case(["--day", "mon"], ["--day", "sun"]),
    "--place": Case(HOUR, ["--place", "35S,150E", *HOUR[2:]]),
    "--month": Case(HOUR, [*HOUR[:3], "12", *HOUR[4:]]),
    "--sunspots": Case([*HOUR, "--sunspots", "150"], [*HOUR, "--sunspots", "10"]),
    "--range": Case(["--range", "2"]),
    "--level": Case(["--level", "fixed_mobile=S9+40", "--level", "maritime=S9+40"]),
    "--levels": Case(["--levels", "levels.csv"]),
    "--local": Case(["--local", "15130kHz=0dBm,Image nearby", "--local", "21220kHz=-20dBm,Near the cover"]),
    "--lo-order": Case(["--lo-order", "1"]),
    "--rf-order": Case(["--rf-order", "1"]),
    "--strong-at": Case(["--strong-at", "80"]),
    "--audible-at": Case(["--strong-at", "80", "--audible-at", "75"], ["--strong-at", "80"]),
    "--skirts": Case(["--skirts"]),
    "--everything": Case(["--everything"]),
    "--intermodulation": Case(["--intermodulation"]),
    "--mode": Case(["--mode", "cw"]),
    "--wanted": Case(["--wanted", "-60dBm"]),
    "--activity": Case(["--activity", "everybody"]),
    "--worlds": Case(["--worlds", "8"]),
    "--seed": Case(["--seed", "7"]),
}
# of single commands, or tried otherwise there
OWN: dict[tuple[str, str], Case] = {
    ("dial", "--dial-error"): Case(["--dial-error", "12kHz"]),
    ("suspects", "--dial-error"): Case(["--dial-error", "12kHz"]),
    ("suspects", "--moves"): Case(["--moves", "against"]),
    ("suspects", "--pad-drop"): Case(["--pad-drop", "20dB"]),
    ("suspects", "--inverted"): Case(["--inverted"], ["--not-inverted"]),
    ("suspects", "--heard"): Case(["--heard", "cw"]),
    ("suspects", "--strength"): Case(["--strength", "S9"]),
    ("suspects", "--pitch"): Case(["--heard", "whistle", "--pitch", "800Hz"], ["--heard", "whistle"]),
    ("suspects", "--pitch-moves"): Case(["--pitch-moves"], ["--pitch-stays"]),
    ("suspects", "--fading"): Case(["--fading", "yes"], ["--fading", "no"]),
    ("suspects", "--aerial-off"): Case(["--aerial-off", "stays"], ["--aerial-off", "goes"]),
    ("suspects", "--found-at"): Case(["--found-at", "14.1MHz"]),
    ("suspects", "--not-at"): Case(["--not-at", "14.1MHz"]),
    ("suspects", "--loudest"): Case(["--loudest", "up"]),
    ("suspects", "--behind-others"): Case(["--behind-others", "yes"], ["--behind-others", "no"]),
    ("suspects", "--also-on"): Case(["--also-on", "15130kHz"]),
    ("suspects", "--not-on"): Case(["--not-on", "15130kHz"]),
    ("suspects", "--trimmer"): Case(["--trimmer", "up"], ["--trimmer", "down"]),
    ("ranges", "--cover"): Case(["--cover", "6MHz:6.1MHz"]),
    ("ranges", "--by-hour"): Case(["--by-hour", "--place", "52N,5E", "--month", "6"]),
    ("station", "--label"): Case(["--label", "Image at noon"]),
    ("converter", "--cover"): Case(["--cover", "21.2MHz:21.3MHz"]),
    ("converter", "--stock"): Case(["--stock", "stock.csv"]),
    ("converter", "--crystal"): Case(["--crystal", "7.05MHz", "--cover", "21.1MHz:21.3MHz"]),
    ("converter", "--step"): Case(["--step", "50kHz"]),
    ("converter", "--explain"): Case(
        ["--stock", "stock.csv", "--explain", "15MHz"], ["--stock", "stock.csv"]
    ),
    ("converter", "--front"): Case(["--front", "front.toml"]),
    ("converter", "--tune"): Case(["--tune", "14MHz:14.2MHz"]),
    ("if-change", "--if"): Case(["--if", "2.1MHz"]),
    ("if-change", "--first-if"): Case(["--first-if", "10.7MHz"]),
    ("if-change", "--scan"): Case(["--scan", "1MHz:2MHz"]),
    ("if-change", "--rejection"): Case(["--rejection", "40"]),
    ("if-change", "--cover"): Case(["--cover", "6MHz:6.1MHz"]),
    ("converter", "--everything"): Case(["--explain", "7MHz", "--everything"], ["--explain", "7MHz"]),
    ("birdies", "--place"): Case(NIGHT, ["--place", "35S,150E", *NIGHT[2:]]),
    ("birdies", "--month"): Case(NIGHT, [*NIGHT[:3], "12", *NIGHT[4:]]),
    ("birdies", "--sunspots"): Case([*NIGHT, "--sunspots", "150"], [*NIGHT, "--sunspots", "10"]),
    ("if-change", "--audible-at"): Case(["--audible-at", "-60"]),
    ("birdies", "--lo-order"): Case(["--lo-order", "0"]),
    ("birdies", "--level"): Case(["--level", "broadcast=S9+60"]),
    ("birdies", "--levels"): Case(["--levels", "loud.csv"]),
    ("cures", "--cover"): Case(["--cover", "6MHz:6.1MHz"]),
    ("cures", "--effort"): Case(["--effort", "10 dB pad=3"]),
    ("cures", "--cures"): Case(["--cures", "cures.toml"]),
    ("bench-sheet", "--points"): Case(["--points", "1"]),
    ("bench-sheet", "--generator-max"): Case(["--generator-max", "1mV PD"]),
    ("bench-sheet", "--reference"): Case(["--reference", "-80dBm"]),
    ("bench-sheet", "--settle"): Case(["--settle", "6MHz:6.2MHz"], ["--settle", "6.2MHz:6.4MHz"]),
    ("bench-sheet", "--bands"): Case(
        ["--settle", "14MHz:14.3MHz", "--bands", "bands.csv"],
        ["--settle", "14MHz:14.3MHz", "--bands", "fewer.csv"],
    ),
    ("bench-sheet", "--agc"): Case(["--agc", "on"]),
    ("bench-sheet", "--only"): Case(["--only", "image"]),
    ("readings", "--reading-error"): Case(["--reading-error", "3dB"]),
    ("bands", "--at"): Case(["--at", "14.2MHz"]),
    ("receiver", "--cover"): Case(["--cover", "3MHz:9MHz"]),
    ("receiver", "--if"): Case(["--if", "1.6MHz"]),
    ("receiver", "--rf-stages"): Case(["--rf-stages", "2"]),
    ("receiver", "--devices"): Case(["--devices", "transistors"], ["--devices", "tubes"]),
    ("receiver", "--bfo"): Case(["--bfo"]),
    ("receiver", "--region"): Case(["--region", "2"], ["--region", "1"]),
    ("receiver", "--name"): Case(["--name", "Another"]),
    ("receiver", "--schema"): Case(["--schema"]),
}
# words of a card move in whole per cent and by the worst of a stretch: `ranges` holds the month
IDLE = {("card", "--month"), ("card", "--sunspots")}
# what these hand on as all commands do is tried in the long profile
SLOW = ("cures", "report", "card", "if-change", "station", "suspects", "birdies", "ranges", "converter")
# of their own options those that take longest
LONGEST = {("cures", "--cover"), ("cures", "--effort"), ("ranges", "--by-hour"), ("if-change", "--scan")}
# how an answer is written, what is read, what asks something else altogether: tests of their own hold these
ELSEWHERE = {
    "--format", "--output", "--chart", "--top", "--save-receiver", "--overwrite", "--fail-on", "--import",
    "--column", "--unit", "--assumptions", "--log", "--as-levels", "--ask",
    "--delimiter", "--decimal-comma", "--encoding", "--partly", "--help",
}  # fmt: skip


def _by_turns(command: str, option: str) -> bool:
    return (command in SLOW and (command, option) not in OWN) or (command, option) in LONGEST


def options() -> list[Any]:
    """Return every option of every command that says what is asked; shared ones of slow commands as long."""
    return [
        pytest.param(
            command,
            parameter.opts[0],
            marks=[pytest.mark.long] if _by_turns(command, parameter.opts[0]) else [],
        )
        for command in COMMANDS
        for parameter in load(command).params
        if parameter.opts[0].startswith("--") and parameter.opts[0] not in ELSEWHERE
        if (command, parameter.opts[0]) not in IDLE
    ]


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("options")
    for name, text in FILES.items():
        (folder / name).write_text(text, "utf-8")
    return folder


@cache
def outcome_of(folder: Path, words: tuple[str, ...]) -> Any:
    """Return the tables of an answer, or what was written where it is no JSON."""
    command = words[0]
    line = list(words)
    target = folder / {"card": "card.svg", "report": "report.html"}.get(command, "")
    if command in ("card", "report"):
        line += ["--output", str(target)]
    elif command != "receiver" or "set.toml" in words:
        line += ["--format", "json"]
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        status = main(line)
    assert status == 0, f"{' '.join(line)}: {err.getvalue()}"
    if command in ("card", "report"):
        return target.read_bytes()
    if "--format" not in line:
        return out.getvalue()
    answer = json.loads(out.getvalue())
    # what was asked is said back in any case, and what was assumed
    return {name: value for name, value in answer.items() if name not in ("settings", "assumptions")}


def words_with(command: str, option: str, more: list[str]) -> tuple[str, ...]:
    """Return the words of a question with some more."""
    words = list(QUESTION[command])
    if command == "receiver" and option != "--format":
        words = ["receiver"]
    if option in words:
        words = words[: words.index(option)]
    takes = {word for parameter in load(command).params for word in parameter.opts}
    # a sheet looks at tables where it is to settle something, and takes none else
    if option != "--bands" and "--bands" in takes and command != "bench-sheet":
        words += TABLE
    if command == "bands" and option != "--bands":
        words += ["bands.csv"]
    return tuple(words + more)


def fill_sheet(path: Path) -> None:
    """Write the sheet of the set, filled in with what it predicts and a little more."""
    out = io.StringIO()
    with redirect_stdout(out):
        assert main(["bench-sheet", "set.toml", "--points", "2", "--format", "csv"]) == 0
    rows = list(csv.DictReader(io.StringIO(out.getvalue())))
    for number, row in enumerate(rows):
        if row["predicted_db"] and row["response"] != "wanted":
            row["reading"] = f"{float(row['predicted_db']) + 0.3 * (number % 3):.1f}"
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)


@pytest.mark.parametrize(("command", "option"), options())
def test_an_option_changes_the_answer(
    command: str, option: str, bench: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two values of an option, or with it and without: not the same tables."""
    case = OWN.get((command, option)) or SHARED[option]
    monkeypatch.chdir(bench)
    if command == "readings":
        fill_sheet(bench / "log.csv")
    with_it = outcome_of(bench, words_with(command, option, case.more))
    own = QUESTION[command]
    other = own[own.index(option) :] if option in own and not case.less else case.less
    without = outcome_of(bench, words_with(command, option, list(other)))
    assert with_it != without

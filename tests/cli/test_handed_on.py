"""What is typed is what the library is asked, and what it answers is what is shown, drawn and saved.

The questions themselves are not asked here: what stands in their place notes how it was called.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from types import SimpleNamespace
from typing import Any, get_type_hints

import pytest
import typer

import spurplan
from spurplan.cli import bench_sheet as sheet
from spurplan.cli import (
    birdies,
    card,
    converter,
    cures,
    dial,
    if_change,
    main,
    ranges,
    report,
    station,
    suspects,
)
from spurplan.cli import readings as read
from spurplan.cli.frame import fails, set_asked, show, ways
from spurplan.cli.options import HEADINGS, QUESTION, SAVE, FailOn, Format, Options
from spurplan.cli.options import SHARED as SHARED_NAMES
from spurplan.receiver.description import Receiver
from spurplan.receiver.sentence import receiver_text

BOATHOUSE = str(Path(__file__).parents[2] / "demos/boathouse/set.toml")
SET = """
name = "Bench"
bfo = { offset = "1 kHz" }
[[conversion]]
injection = "high"
if = "465 kHz"
[conversion.filter]
bandwidth = "6 kHz"
[[range]]
name = "1"
coverage = ["6 MHz", "8 MHz"]
[[range]]
name = "2"
coverage = ["14 MHz", "15 MHz"]
"""
BOX = 'name = "a pad"\nelements = []\ngain = "-20 dB"\n'
# each shared option, as it is typed and as the library takes it
SHARED: dict[str, tuple[list[str], dict[str, Any]]] = {
    "bands": (["--bands", "mine.csv", "--bands", "shipped"], {"bands": ["mine.csv", "shipped"]}),
    "ahead": (["--ahead", "box.toml"], {"ahead": ["box.toml"]}),
    "region": (["--region", "americas"], {"region": 2}),
    "utc": (["--utc", "1830"], {"utc": "1830"}),
    "day": (["--day", "sun"], {"day": "sun"}),
    "place": (["--place", "52N,5E"], {"place": "52N,5E"}),
    "month": (["--month", "6"], {"month": "6"}),
    "sunspots": (["--sunspots", "110"], {"sunspots": "110"}),
    "range": (["--range", "2"], {"range": "2"}),
    "level": (["--level", "amateur=S7", "--level", "noise=S9"], {"level": {"amateur": "S7", "noise": "S9"}}),
    "levels": (["--levels", "levels.csv"], {"levels": "levels.csv"}),
    "local": (["--local", "1278kHz=-13dBm,Mast"], {"local": ["1278kHz=-13dBm,Mast"]}),
    "lo_order": (["--lo-order", "7"], {"lo_order": 7}),
    "rf_order": (["--rf-order", "2"], {"rf_order": 2}),
    "strong_at": (["--strong-at", "12dB"], {"strong_at": 12.0}),
    "audible_at": (["--audible-at", "3"], {"audible_at": 3.0}),
    "skirts": (["--skirts"], {"skirts": True}),
    "everything": (["--everything"], {"everything": True}),
    "intermodulation": (["--intermodulation"], {"intermodulation": True}),
    "mode": (["--mode", "ssb"], {"mode": "ssb"}),
    "wanted": (["--wanted", "good"], {"wanted": "good"}),
    "activity": (["--activity", "busy"], {"activity": "busy"}),
    "worlds": (["--worlds", "16"], {"worlds": 16}),
    "seed": (["--seed", "0"], {"seed": 0}),
}  # fmt: skip
ON_AIR = ("bands", "region", "utc", "day", "place", "month", "sunspots", "level", "levels", "local")
HEARD = ("range", "lo_order", "rf_order", "strong_at", "audible_at", "skirts")
LISTENS = ("mode", "wanted", "activity")
# the form of a stretch is looked at here, its frequencies in the library
COVER = {"cover": "21MHz:21.45MHz"}
COVERS = {"cover": ("21MHz:21.45MHz", "28MHz:29.7MHz")}


def given(*names: str, **own: Any) -> tuple[list[str], dict[str, Any]]:
    """Return the words and the arguments of some shared options together, and arguments besides."""
    words = [word for name in names for word in SHARED[name][0]]
    return words, {key: value for name in names for key, value in SHARED[name][1].items()} | own


# the module, the question it asks, the words of its own, and what the library is to be asked
CASES: dict[str, tuple[Any, str, list[str], tuple[list[str], dict[str, Any]]]] = {
    "dial": (
        dial, "dial", ["14.2", "MHz", "--dial-error", "5kHz"],
        given(*ON_AIR, *HEARD, *LISTENS, "ahead", "everything", "intermodulation", frequency="14.2 MHz",
              dial_error="5kHz"),
    ),
    "ranges": (
        ranges, "ranges", ["--cover", "21MHz:21.45MHz"],
        given(*ON_AIR, *HEARD, *LISTENS, "ahead", "everything", "intermodulation", "worlds", "seed", **COVER),
    ),
    "ranges by hour": (
        ranges, "by_hour", ["--by-hour", "--cover", "21MHz:21.45MHz"],
        given(*(name for name in ON_AIR if name != "utc"), *HEARD, *LISTENS, "ahead", "worlds", "seed",
              **COVER),
    ),
    "station": (
        station, "station", ["15130", "kHz"],
        given(*ON_AIR, *HEARD, *LISTENS, "ahead", "everything", frequency="15130 kHz", label=None),
    ),
    "station by label": (
        station, "station", ["--label", "Mast"], given("bands", frequency=None, label="Mast"),
    ),
    "birdies": (
        birdies, "birdies", [],
        given(*ON_AIR, "ahead", "range", "lo_order", "rf_order", "strong_at", "audible_at", "everything",
              "intermodulation"),
    ),
    "converter": (
        converter, "converter",
        ["--cover", "21MHz:21.45MHz", "--cover", "28MHz:29.7MHz", "--stock", "stock.csv", "--crystal", "7MHz",
         "--crystal", "9MHz", "--step", "10kHz", "--explain", "7MHz", "--front", "front.toml",
         "--tune", "3.5MHz:4MHz"],
        given(*ON_AIR, *HEARD, "everything", "mode", "wanted", **COVERS, stock="stock.csv",
              crystal=["7MHz", "9MHz"], step="10kHz", explain="7MHz", front="front.toml", tune="3.5MHz:4MHz"),
    ),
    "if-change": (
        if_change, "if_change",
        ["--if", "1.6MHz", "--if", "2=2MHz", "--first-if", "9MHz", "--scan", "1MHz:2MHz", "--rejection",
         "40dB", "--cover", "21MHz:21.45MHz"],
        given(*ON_AIR, "range", "lo_order", "rf_order", "audible_at", **COVER, if_=["1.6MHz", "2=2MHz"],
              first_if="9MHz", scan="1MHz:2MHz", rejection=40.0),
    ),
    "cures": (
        cures, "cures", ["--cover", "21MHz:21.45MHz", "--effort", "10 dB pad=1", "--cures", "own.toml"],
        given(*ON_AIR, "ahead", "range", "lo_order", "rf_order", "mode", "wanted", "worlds", "seed", **COVER,
              effort={"10 dB pad": "1"}, cures="own.toml"),
    ),
    "bench-sheet": (
        sheet, "bench_sheet",
        ["--points", "5", "--generator-max", "50mV PD", "--reference", "S5", "--agc", "on", "--only", "image",
         "--settle", "28MHz:29.7MHz"],
        given("bands", "range", points=5, generator_max="50mV PD", reference="S5", agc="on", only="image",
              settle="28MHz:29.7MHz"),
    ),
    "readings": (
        read, "readings", ["log.csv", "--reading-error", "1.5dB"], given(log="log.csv", reading_error=1.5),
    ),
    "suspects": (
        suspects, "suspects",
        ["14.2", "MHz", "--moves", "against", "--pad-drop", "20dB", "--inverted", "--trimmer", "up",
         "--loudest", "down", "--heard", "am", "--strength", "S7", "--pitch", "800Hz", "--pitch-moves",
         "--fading", "yes", "--aerial-off", "goes", "--also-on", "1MHz", "--not-on", "2MHz",
         "--found-at", "3MHz", "--not-at", "4MHz", "--dial-error", "5kHz", "--behind-others", "yes"],
        given(*ON_AIR, "range", "lo_order", "rf_order", "strong_at", "audible_at", frequency="14.2 MHz",
              moves="against", pad_drop=20.0, inverted=True, trimmer="up", loudest="down", heard="am",
              strength="S7", pitch="800Hz", pitch_moves=True, fading="yes", aerial_off="goes",
              also_on=["1MHz"], not_on=["2MHz"], found_at=["3MHz"], not_at=["4MHz"], dial_error="5kHz",
              behind_others="yes"),
    ),
    "an evening": (
        suspects, "evening", ["--log", "night.csv"],
        given(*ON_AIR, "range", "lo_order", "rf_order", "strong_at", "audible_at", log="night.csv"),
    ),
}  # fmt: skip
COMMAND = {"ranges by hour": "ranges", "station by label": "station", "an evening": "suspects"}


class Noted:
    """What the library was asked, and what was handed on to be shown."""

    def __init__(self) -> None:
        self.first: Any = None
        self.asked: dict[str, Any] = {}
        self.shown: dict[str, Any] = {}
        self.proposed = object()
        findings = SimpleNamespace(proposed=self.proposed, names=("2",), origin="log.csv of a day")
        looked_at = SimpleNamespace(records=lambda: [{"range": "2"}])
        settings = {"frequency_hz": 14_200_000}
        self.answer = SimpleNamespace(settings=settings, findings=findings, tables={"ranges": looked_at})

    def ask(self, first: Any, **asked: Any) -> Any:
        self.first, self.asked = first, asked
        return self.answer

    def show(self, answer: Any, options: Options, **shown: Any) -> None:
        assert answer is self.answer
        self.shown = {"options": options, **shown}


@pytest.fixture
def noted(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Noted:
    monkeypatch.chdir(tmp_path)
    Path("set.toml").write_text(SET, encoding="utf-8")
    Path("box.toml").write_text(BOX, encoding="utf-8")
    # told of as it was typed; nothing reads it
    monkeypatch.setattr(spurplan, "read_bands", lambda paths=None: paths)
    monkeypatch.setattr("spurplan.occupancy.bands.in_tables", lambda _: None)
    monkeypatch.setattr("spurplan.receiver.sentence.receiver_text", _text)
    return Noted()


def _text(receiver: Any, ranges: Any = None) -> str:
    """Say of what is no set that it is none; a set as it is said."""
    return receiver_text(receiver, ranges) if isinstance(receiver, Receiver) else "no set"


def run(noted: Noted, monkeypatch: pytest.MonkeyPatch, name: str, words: list[str]) -> None:
    module, question, own, _ = CASES[name]
    monkeypatch.setattr(spurplan, question, noted.ask)
    monkeypatch.setattr(module, "show", noted.show)
    assert main([COMMAND.get(name, name), "set.toml", *own, *words]) == 0


@pytest.mark.parametrize("name", CASES)
def test_what_is_typed_is_what_the_library_is_asked(
    name: str, noted: Noted, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each option under its own name, in its own kind; of those that were not given none."""
    words, wanted = CASES[name][3]
    run(noted, monkeypatch, name, words)
    asked = {key: value for key, value in noted.asked.items() if key != "progress"}
    assert {"bands": None, **asked} == {"bands": None, **wanted}
    if isinstance(noted.first, str):
        assert noted.first == "set.toml"
    else:
        assert noted.first == spurplan.read_receiver("set.toml")


SHOWN_WITH_BOX = ("dial", "ranges", "station", "birdies", "cures")


@pytest.mark.parametrize("name", SHOWN_WITH_BOX)
def test_a_page_describes_the_set_with_what_stands_ahead_of_it(
    name: str, noted: Noted, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The box of the command line, and the range that was asked about alone."""
    run(noted, monkeypatch, name, ["--ahead", "box.toml", "--range", "2"])
    boxed = set_asked("set.toml", Options(ahead=["box.toml"]))
    wanted = ways(boxed, Options(range="2"))
    assert "a pad" in wanted
    assert noted.shown["view"].keywords["receiver"] == wanted
    assert noted.shown["options"].range == "2"


@pytest.mark.parametrize("name", ["if-change", "bench-sheet", "suspects", "readings"])
def test_a_page_describes_the_set_of_the_file(
    name: str, noted: Noted, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A range a line; of a setting the ranges that tune it."""
    run(noted, monkeypatch, name, [])
    described = spurplan.read_receiver("set.toml")
    at = 14_200_000 if name == "suspects" else None
    assert noted.shown["view"].keywords["receiver"] == ways(described, Options(), at)


def test_a_setting_is_described_by_the_ranges_that_tune_it(
    noted: Noted, monkeypatch: pytest.MonkeyPatch
) -> None:
    """14.2 MHz is on the second range, whichever are in the file; both edges of a range are on it."""
    run(noted, monkeypatch, "dial", [])
    described = spurplan.read_receiver("set.toml")
    assert noted.shown["view"].keywords["receiver"] == ways(described, Options(range="2"))
    for hz, ranges_ in ((6_000_000, "1"), (8_000_000, "1"), (14_000_000, "2"), (15_000_000, "2")):
        assert ways(described, Options(), hz) == ways(described, Options(range=ranges_))
    assert ways(described, Options(range="2"), 6_000_000) == ways(described, Options(), 9_000_000)


@pytest.mark.parametrize(
    ("name", "chart"),
    [
        ("dial", "dial"), ("station", "ranges"), ("converter", "converter"), ("if-change", "if_change"),
        ("cures", "cures"), ("readings", "readings"),
    ],
)  # fmt: skip
def test_what_is_drawn_is_what_was_answered_of_the_set_that_was_asked_about(
    name: str, chart: str, noted: Noted, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The chart of the question, the answer, the set."""
    # without a scan other IFs are drawn before and after
    run(noted, monkeypatch, name, ["--scan", "400kHz:1MHz"] if chart == "if_change" else [])
    assert noted.shown["draw"].args == (chart, noted.answer, spurplan.read_receiver("set.toml"))


@pytest.mark.parametrize("name", ["converter", "if-change", "cures", "readings"])
def test_what_is_saved_is_what_is_proposed_and_nothing_where_nothing_is(
    name: str, noted: Noted, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Written as the successor of the file that was read, whose comments are kept."""
    made: list[Any] = []
    monkeypatch.setattr("spurplan.receiver.file.writing.receiver_toml", lambda *args: made.append(args))
    monkeypatch.setattr("spurplan.planning.bench.save.fitted_toml", lambda *args: made.append(args))
    run(noted, monkeypatch, name, [])
    assert noted.shown["successor_of"] == "set.toml"
    noted.shown["saved"]("new.toml")
    beside: dict[str, tuple[Any, ...]] = {
        "if-change": ("set.toml",), "cures": ("set.toml",), "readings": ("set.toml", "log.csv of a day"),
    }  # fmt: skip
    assert made == [(noted.proposed, "new.toml", *beside.get(name, ()))]
    noted.answer.findings.proposed = None
    run(noted, monkeypatch, name, [])
    assert noted.shown["saved"] is None


def test_a_station_is_named_as_it_was_asked_for(noted: Noted, monkeypatch: pytest.MonkeyPatch) -> None:
    """By its frequency as it reads, or by its label, on page and chart alike."""
    for name, said in (("station", "15.13 MHz"), ("station by label", "Mast")):
        run(noted, monkeypatch, name, [])
        assert noted.shown["view"].keywords["about"] == f", looking for {said}"
        assert noted.shown["draw"].keywords["about"] == f", looking for {said}"


def test_who_asks_for_so_many_suspects_gets_them(noted: Noted, monkeypatch: pytest.MonkeyPatch) -> None:
    """Twelve where nobody asks; with --top as many as it says, which is not the view's to shorten."""
    run(noted, monkeypatch, "suspects", [])
    assert noted.shown["view"].keywords["most"] == 12
    run(noted, monkeypatch, "suspects", ["--top", "50"])
    assert noted.shown["view"].keywords["most"] == 0


def test_an_evening_is_told_as_a_page_or_as_levels(noted: Noted, monkeypatch: pytest.MonkeyPatch) -> None:
    """Levels are a file that people edit; a frequency or a log has to be given, and levels are of a log."""
    put: list[Any] = []
    monkeypatch.setattr(suspects, "put", lambda text, options, **more: put.append((text, more)))
    noted.answer.findings.levels_text = lambda: "service,level"
    run(noted, monkeypatch, "an evening", ["--as-levels"])
    assert put == [("service,level", {"by_hand": True})]
    assert noted.shown == {}
    run(noted, monkeypatch, "an evening", [])
    assert noted.shown["view"].__name__ == "evening_view"
    for words in ([], ["14.2", "MHz", "--log", "night.csv"], ["14.2", "MHz", "--as-levels"],
                  ["--log", "night.csv", "--heard", "am"], ["--log", "night.csv", "--also-on", "1MHz"],
                  ["--log", "night.csv", "--dial-error", "5kHz"]):  # fmt: skip
        assert main(["suspects", "set.toml", *words]) == 2, words


# what is of a single dial setting, as the command itself declares it: until then typer has the first name of
# an option for a default
OF_A_SETTING = {
    name: (hint.__metadata__[0].default, *hint.__metadata__[0].param_decls)
    for name, hint in get_type_hints(suspects.suspects, include_extras=True).items()
    if name not in ("receiver", "options", "freq", "log", "as_levels", "return", *SHARED_NAMES)
}


def typed(declared: Sequence[str]) -> list[list[str]]:
    """Return each way in which an option is typed: a flag either way, anything else with a value."""
    return [[word, *([] if "/" in name else ["up"])] for name in declared for word in name.split("/")]


@pytest.mark.parametrize("name", OF_A_SETTING)
def test_nothing_that_was_observed_is_passed_over_beside_a_log(
    name: str, noted: Noted, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """It stands in the lines of the log: each option of a single setting is refused, and nothing is asked."""
    monkeypatch.setattr(spurplan, "evening", noted.ask)
    monkeypatch.setattr(suspects, "show", noted.show)
    assert "--" + name.replace("_", "-") in [word for words in typed(OF_A_SETTING[name]) for word in words]
    for words in typed(OF_A_SETTING[name]):
        assert main(["suspects", "set.toml", "--log", "night.csv", *words]) == 2, words
        assert "what was observed stands in its lines" in " ".join(capsys.readouterr().err.split())
    assert noted.asked == {}


GRADES = ("strong", "audible", "buried")


@pytest.mark.parametrize("table", ["first", "pairs", "triples"])
@pytest.mark.parametrize("grade", GRADES)
@pytest.mark.parametrize("on", [entry for entry in FailOn if entry is not FailOn.unknown])
def test_it_fails_on_whatever_is_so_loud_and_on_whoever_makes_it(table: str, grade: str, on: FailOn) -> None:
    """One station, two or three: one row of the grade asked about or of a louder one is enough."""
    alone = {name: {"grade": [grade] if name == table else []} for name in ("first", "pairs", "triples")}
    answer: Any = SimpleNamespace(
        settings={}, first=alone.pop("first"), tables={"others": {"grade": ["strong"]}, **alone}
    )
    assert fails(answer, on) is (GRADES.index(grade) <= GRADES.index(on.value))


def test_nothing_fails_where_nothing_is_and_tables_may_be_missing() -> None:
    """Nobody there; no question of several stations asked; a dial of which the tables tell nothing."""
    for first in ([], ["buried"]):
        answer: Any = SimpleNamespace(settings={}, first={"grade": first}, tables={})
        assert not fails(answer, FailOn.audible)
        assert not fails(answer, FailOn.unknown)
    empty = {"grade": ["strong"]}
    for settings, tables, told in (
        ({"image_unknown": [(1, 2)]}, {}, True), ({}, {"unknown": [1]}, True),
        ({"image_unknown": []}, {"unknown": []}, False),
    ):  # fmt: skip
        answer = SimpleNamespace(settings=settings, first=empty, tables=tables)
        assert fails(answer, FailOn.unknown) is told


@pytest.mark.parametrize(
    ("settings", "tables", "tells"),
    [
        ({"image_unknown": []}, {}, True), ({}, {"unknown": []}, True), ({}, {"others": []}, False),
        ({"image_unknown": []}, {"unknown": []}, True),
    ],
)  # fmt: skip
def test_what_is_not_told_cannot_be_failed_on(
    settings: dict[str, Any], tables: dict[str, Any], tells: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An answer that knows nothing of what the tables leave open is no answer without it: it is refused."""
    put: list[Any] = []
    monkeypatch.setattr("spurplan.cli.frame._deliver", lambda *given, **more: put.append(given))
    monkeypatch.setattr("spurplan.cli.frame._written", lambda *given: [])
    answer: Any = SimpleNamespace(settings=settings, tables=tables, first={"grade": []})
    if tells:
        show(answer, Options(fail_on=FailOn.unknown))
    else:
        with pytest.raises(typer.BadParameter) as bad:
            show(answer, Options(fail_on=FailOn.unknown))
        assert bad.value.param_hint == "--fail-on"
    assert len(put) == tells
    # any other grade is told by every answer
    show(answer, Options(fail_on=FailOn.strong))
    assert len(put) == tells + 1


def test_a_page_and_a_card_are_asked_for_with_the_options(
    noted: Noted, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A page of all of it takes what the question takes; a card its own."""
    asked: list[Any] = []
    monkeypatch.setattr(
        "spurplan.reporting.report.report", lambda *args, **given: asked.append((args, given)) or "page"
    )
    monkeypatch.setattr(report, "put", lambda text, _: asked.append(text))
    words, wanted = given(*ON_AIR, *HEARD, "everything")
    assert main(["report", "set.toml", *words]) == 0
    bands = wanted.pop("bands")
    assert asked == [(("set.toml", bands), wanted), "page"]
    drawn: list[Any] = []
    monkeypatch.setattr(card, "put_picture", lambda draw, _: drawn.append((draw.args, draw.keywords)))
    words, wanted = given(*ON_AIR, "range", "lo_order", "rf_order", "skirts")
    assert main(["card", "set.toml", *words]) == 0
    bands = wanted.pop("bands")
    assert drawn == [(("set.toml", bands), wanted)]


# --- what goes together ----------------------------------------------------------------------


def refused(**given: Any) -> str:
    """Return the option that is refused beside the others, with the rule."""
    with pytest.raises(typer.BadParameter) as bad:
        Options(**given)
    return f"{bad.value.param_hint}: {bad.value.message}"


def test_rows_and_assumptions_are_for_what_is_shortened() -> None:
    """csv and json have every row, and nothing but text is shortened; 0 rows and no rows are two things."""
    for form in ("csv", "json"):
        assert refused(format=Format(form), top=0).startswith(f"--top: {form} has every row")
        assert refused(format=Format(form), assumptions=True).startswith("--assumptions:")
    assert refused(format=Format.md, assumptions=True).startswith("--assumptions: md is not shortened")
    assert Options(format=Format.md, top=0).top == 0
    assert Options(format=Format.text, top=5, assumptions=True).assumptions
    assert Options(format=Format.json).top is None


def test_what_is_buried_is_asked_for_with_everything() -> None:
    """Else it is left out of the answer and nothing could fail on it."""
    assert refused(fail_on=FailOn.buried).startswith("--fail-on: what is buried is left out")
    assert Options(fail_on=FailOn.buried, everything=True).fail_on is FailOn.buried
    assert Options(fail_on=FailOn.strong).question() == {}


def test_a_place_wants_its_month_and_hour() -> None:
    """A day hour by hour wants the month alone; what is missing is named, all of it."""

    def missing(*, every_hour: bool = False, **given: str) -> str:
        with pytest.raises(typer.BadParameter) as bad:
            Options(place="52N,5E", **given).question(every_hour=every_hour)
        assert bad.value.param_hint == "--place"
        return bad.value.message.rpartition(": ")[2]

    assert missing() == "add --month and --utc"
    assert missing(month="6") == "add --utc"
    assert missing(utc="1200") == "add --month"
    assert missing(every_hour=True) == "add --month"
    assert Options(place="52N,5E", month="6").question(every_hour=True) == {"place": "52N,5E", "month": "6"}


def test_what_would_change_nothing_is_refused_where_it_is_given() -> None:
    """The first of those that were, by its name on the command line; 0 is given."""
    with pytest.raises(typer.BadParameter) as bad:
        Options(seed=0, save_receiver="new.toml").leave_out(["skirts", "save_receiver", "seed"], "no")
    assert (bad.value.param_hint, bad.value.message) == ("--save-receiver", "no")
    # an answer has a form whoever asks for it
    Options().leave_out([name for name in SHARED_NAMES if name != "format"], "no")
    with pytest.raises(typer.BadParameter):
        Options(seed=0).leave_out(["seed"], "no")


def test_each_shared_option_stands_under_one_heading() -> None:
    """None is lost from help, none is there twice; what may be saved may take a place."""
    headed = [name for names in HEADINGS.values() for name in names]
    assert sorted(headed) == sorted(SHARED_NAMES)
    assert set(SAVE) == {"save_receiver", "overwrite"}
    # what a question takes is all but how it is shown and the tables, which go in by themselves
    shown = set(HEADINGS["how to show it"]) | {"bands"}
    assert set(QUESTION) == set(SHARED_NAMES) - shown


def test_as_many_rows_as_are_asked_for_in_every_form(capsys: Any) -> None:
    """--top is handed on to the page and to Markdown alike; 0 is all of them."""
    rows = {}
    for form in ("text", "md"):
        for top in ("2", "5", "0"):
            assert main(["ranges", BOATHOUSE, "--range", "4", "--format", form, "--top", top]) == 0
            said = capsys.readouterr().out
            rows[form, top] = said.count("strong") + said.count("audible")
    for form in ("text", "md"):
        assert rows[form, "2"] < rows[form, "5"] < rows[form, "0"]


def test_the_chart_of_ranges_is_about_what_was_asked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Any
) -> None:
    """Its strips are worked out with the settings of the figures beside them."""
    from spurplan.responses import turning

    asked = []

    def seen(receiver: Any, bands: Any, settings: Any) -> Any:
        asked.append(settings)
        return turned_ranges(receiver, bands, settings)

    turned_ranges = turning.turned_ranges
    monkeypatch.setattr(turning, "turned_ranges", seen)
    words = ["--range", "1", "--utc", "1800", "--lo-order", "3", "--region", "2", "--local", "1MHz=S9"]
    assert main(["ranges", BOATHOUSE, *words, "--chart", str(tmp_path / "strip.svg")]) == 0
    (settings,) = asked
    assert (settings.range, settings.utc, settings.lo_order, settings.region) == ("1", "1800", 3, 2)
    assert settings.local

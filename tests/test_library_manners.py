"""What a caller may do with questions and answers: any integer, any state of numpy, and no harm done."""

from __future__ import annotations

import copy
import os
import pickle
import subprocess
import sys
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import spurplan
from spurplan.columns import NULL_INT, Answer
from spurplan.errors import Refused
from spurplan.occupancy.bands_in_use import on_frequency, tables_in_use
from spurplan.receiver.chain import compile_chains
from spurplan.receiver.file.reading import read_receiver
from spurplan.receiver.overview import overview
from spurplan.responses import engine, lines
from spurplan.responses.listening import arrivals
from tests.turns import by_turns

SETS = Path(__file__).parent / "receivers"
BOATHOUSE, LOCKKEEPER = SETS / "boathouse.toml", SETS / "lockkeeper.toml"
ROOT = Path(__file__).parent.parent
LOG = ROOT / "demos/boathouse/log.csv"
DEMO = ROOT / "demos/boathouse/set.toml"

QUESTIONS: dict[str, Callable[[], Answer]] = {
    "dial": lambda: spurplan.dial(BOATHOUSE, frequency="28.3 MHz"),
    "ranges": lambda: spurplan.ranges(BOATHOUSE, range="4"),
    "station": lambda: spurplan.station(BOATHOUSE, frequency="15.13 MHz"),
    "suspects": lambda: spurplan.suspects(BOATHOUSE, frequency="14.2 MHz"),
    "birdies": lambda: spurplan.birdies(LOCKKEEPER),
    "converter": lambda: spurplan.converter(BOATHOUSE, cover="50MHz:52MHz"),
    "if_change": lambda: spurplan.if_change(BOATHOUSE, if_="1600 kHz", range="4"),
    "cures": lambda: spurplan.cures(BOATHOUSE, range="4"),
    "bench_sheet": lambda: spurplan.bench_sheet(BOATHOUSE),
    "readings": lambda: spurplan.readings(DEMO, log=LOG),
    "bands": tables_in_use,
    "on a frequency": lambda: on_frequency("7.1 MHz"),
    "a receiver": lambda: overview(read_receiver(BOATHOUSE)),
}


@pytest.fixture(scope="module")
def answers() -> dict[str, Answer]:
    return {name: ask() for name, ask in QUESTIONS.items()}


@pytest.mark.parametrize("name", QUESTIONS)
def test_an_answer_printed_is_the_page_of_its_command(answers: dict[str, Answer], name: str) -> None:
    """Whoever prints an answer reads what it says, and no arrays."""
    answer = answers[name]
    said = str(answer)
    assert "array(" not in said
    assert "Answer(" not in said
    assert answer.receiver in said
    assert all(" ".join(line.split()) in " ".join(said.split()) for line in answer.cautions)
    assert max(map(len, said.splitlines())) <= 100


@pytest.mark.parametrize("name", QUESTIONS)
def test_unknown_numbers_are_nan_in_arrays_and_null_elsewhere(answers: dict[str, Answer], name: str) -> None:
    """No array of an answer has a number that stands for none; the kind of a column hangs on no row."""
    for table in answers[name].tables.values():
        for column in table.columns:
            if column.kind != "int":
                continue
            array, cells = table[column.name], table.cells(column)
            assert array.dtype.kind == ("f" if column.null else "i"), (table.name, column.name)
            assert not (array == NULL_INT).any(), (table.name, column.name)
            assert [None if np.isnan(value) else int(value) for value in array.tolist()] == cells


def test_what_the_dial_shows_is_nan_where_it_shows_the_signal() -> None:
    """The lowest integer there is would pass for a frequency in any sum."""
    right = [one.name for one in read_receiver(BOATHOUSE).ranges if not one.dial_offset_hz]
    answer = spurplan.ranges(BOATHOUSE)
    ours = np.isin(answer.intrusions["range"].astype(str), right)
    shown = answer.intrusions["set_dial_hz"]
    assert 0 < ours.sum() < len(ours)
    assert np.isnan(shown[ours]).all()
    assert not np.isnan(shown[~ours]).any()


@pytest.mark.parametrize("name", QUESTIONS)
def test_an_answer_can_not_be_written_into(answers: dict[str, Answer], name: str) -> None:
    """An answer that changes under the hands of one reader misleads the next."""
    answer = answers[name]
    before = answer.to_dict()
    with pytest.raises(TypeError):
        answer.tables["more"] = answer.first  # type: ignore[index]
    with pytest.raises(TypeError):
        answer.settings["more"] = 1  # type: ignore[index]
    for table in answer.tables.values():
        with pytest.raises(TypeError):
            table.values["more"] = np.zeros(0)  # type: ignore[index]
        for column in table.columns:
            array = table[column.name]
            with pytest.raises(ValueError, match="read-only"):
                array[:] = array
            if column.kind == "list" and len(array):
                assert isinstance(array[0], tuple)
    given = answer.to_dict()
    for value in given.values():
        if isinstance(value, list):
            value.clear()
    given["settings"].clear()
    assert answer.to_dict() == before
    assert pickle.loads(pickle.dumps(answer)).to_dict() == before
    assert copy.deepcopy(answer).to_dict() == before


def test_lists_in_the_settings_can_not_be_changed_either() -> None:
    """What a plain dictionary holds is new each time; what the answer holds stays."""
    answer = Answer("set", {"cover": [[1, 2]], "level": {"amateur": "S9"}}, (), (), {})
    assert answer.settings["cover"] == ((1, 2),)
    with pytest.raises(TypeError):
        answer.settings["level"]["amateur"] = "S1"
    plain = answer.to_dict()["settings"]
    assert plain == {"cover": [[1, 2]], "level": {"amateur": "S9"}}
    plain["cover"][0].append(3)
    assert answer.to_dict()["settings"]["cover"] == [[1, 2]]


@pytest.mark.parametrize("table", ["foo", "", 5, ["intrusions"]])
def test_a_frame_of_a_table_there_is_not_names_those_there_are(
    answers: dict[str, Answer], table: Any
) -> None:
    with pytest.raises(Refused, match="is no table of this answer; it has intrusions, on_frequency"):
        answers["dial"].to_frame(table)


@pytest.mark.parametrize("kind", [np.int8, np.int64, np.uint16])
def test_numpy_integers_are_integers(kind: type[np.integer[Any]]) -> None:
    """Orders, regions, points and frequencies come out of arrays; JSON gets Python's own."""
    some = {"lo_order": kind(4), "rf_order": kind(2), "region": kind(1)}
    plain = {name: int(value) for name, value in some.items()}
    mine = spurplan.ranges(BOATHOUSE, range="4", **some)
    assert mine.to_dict() == spurplan.ranges(BOATHOUSE, range="4", **plain).to_dict()
    assert type(mine.settings["region"]) is int
    assert (
        on_frequency(np.int64(7_100_000), region=kind(1)).to_dict()
        == on_frequency("7.1 MHz", region=1).to_dict()
    )
    sheet = spurplan.bench_sheet(BOATHOUSE, range="4", points=kind(2))
    assert sheet.to_dict() == spurplan.bench_sheet(BOATHOUSE, range="4", points=2).to_dict()


def test_several_ifs_may_come_as_an_array() -> None:
    """Out of arrays they are what they are in a list."""
    wanted = [1_600_000, 1_700_000]
    listed = spurplan.if_change(BOATHOUSE, if_=wanted, range="4")
    assert spurplan.if_change(BOATHOUSE, if_=np.array(wanted), range="4").to_dict() == listed.to_dict()
    for wrong in (np.array(1.6e6), np.array([1.6e6]), np.array([[1_600_000]])):
        with pytest.raises(Refused, match="--if"):
            spurplan.if_change(BOATHOUSE, if_=wrong, range="4")


@pytest.mark.parametrize("wrong", [5, "yes", [print]])
def test_a_progress_that_can_not_be_called_is_refused_at_once(wrong: Any) -> None:
    for ask in (
        lambda: spurplan.if_change(BOATHOUSE, scan="400kHz:600kHz", progress=wrong),
        lambda: spurplan.converter(BOATHOUSE, cover="50MHz:52MHz", progress=wrong),
        lambda: spurplan.cures(BOATHOUSE, progress=wrong),
    ):
        with pytest.raises(Refused, match=r"progress: .* can not be called; give a function"):
            ask()


def test_a_frequency_that_is_missing_or_without_its_name_is_asked_for() -> None:
    """What comes second could be a frequency or tables: the message has the names."""
    for ask in (spurplan.dial, spurplan.station, spurplan.suspects):
        with pytest.raises(
            TypeError, match=r"takes receiver by its place and all else by name: give frequency="
        ):
            ask(BOATHOUSE, "14.2 MHz")  # type: ignore[call-arg]
    with pytest.raises(TypeError, match="frequency"):
        spurplan.dial(BOATHOUSE)  # type: ignore[call-arg]
    with pytest.raises(Refused, match="FREQ: is not given"):
        spurplan.dial(BOATHOUSE, frequency=" ")
    with pytest.raises(Refused, match=r"14\.csv: does not exist"):
        spurplan.dial(BOATHOUSE, bands="14.csv", frequency="14.2 MHz")


@pytest.mark.parametrize("name", by_turns(QUESTIONS, always=("dial", "ranges", "readings")))
def test_the_callers_numpy_changes_no_answer(answers: dict[str, Answer], name: str) -> None:
    """Who wants every underflow raised wants it of sums of his own."""
    with np.errstate(all="raise"):
        answer = QUESTIONS[name]()
        str(answer)
    assert answer.to_dict() == answers[name].to_dict()


def test_too_many_records_are_counted_before_memory_is_used(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is refused for its size was never built: no line is kept when the count runs over."""
    kept: list[int] = []
    joined = lines._joined

    def watched(pieces: list[lines.Lines], chains: Any) -> lines.Lines:
        kept.append(len(pieces))
        return joined(pieces, chains)

    monkeypatch.setattr(lines, "_joined", watched)
    monkeypatch.setattr(lines, "CHUNK", 2_000)
    monkeypatch.setattr(engine, "MOST_RECORDS", 100)
    monkeypatch.setattr(lines, "MOST_ROUTES", 30_000)
    orders: dict[str, Any] = {"lo_order": 20, "rf_order": 10, "everything": True}
    with pytest.raises(Refused, match=r"answer: would have more than 100 records \([0-9,]+ counted\)"):
        spurplan.dial(LOCKKEEPER, frequency="14.2 MHz", **orders)
    assert len(kept) == 1  # the lines of the last mixer, of which those of the first would have come
    kept.clear()
    with pytest.raises(Refused, match="orders: give more than 30,000 routes"):
        spurplan.birdies(LOCKKEEPER, **orders)
    assert len(kept) == 1


def test_what_no_bench_computer_holds_is_refused_by_what_judges_alone(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Who asks for no list of intrusions is told as soon, before worlds of them are drawn."""
    monkeypatch.setattr(engine, "MOST_RECORDS", 5)
    monkeypatch.setattr("spurplan.responses.listening.arrivals.worked_out", None)
    for question in (spurplan.cures, partial(spurplan.if_change, if_="1600 kHz")):
        with pytest.raises(Refused, match="answer: would have more than 5 records"):
            question(BOATHOUSE)


def test_settings_looked_at_are_counted_first_and_taken_in_lots(monkeypatch: pytest.MonkeyPatch) -> None:
    """Memory holds a lot of them at a time, whose size changes nothing; too many are refused unseen."""
    as_usual = spurplan.ranges(BOATHOUSE).ranges
    for at_once in (1, 1_000):
        monkeypatch.setattr(arrivals, "MEETINGS_AT_ONCE", at_once)
        in_lots = spurplan.ranges(BOATHOUSE, range="3").ranges
        assert in_lots["usable_share"].tolist() == as_usual["usable_share"][2:3].tolist()
    monkeypatch.setattr(arrivals, "MOST_MEETINGS", 50)
    monkeypatch.setattr(arrivals, "near_the_bar", None)
    with pytest.raises(Refused, match="answer: would have more than 50 records"):
        spurplan.cures(BOATHOUSE)


@pytest.mark.long
def test_counting_first_changes_no_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    """The lines that are counted are those that are kept, tallied lot by lot."""
    [chains] = compile_chains([(one := read_receiver(LOCKKEEPER), one.ranges[0])])
    set_ = one.unchecked(ranges=one.ranges[:1])
    options: dict[str, Any] = {"lo_order": 3, "rf_order": 2, "everything": True}
    plain = spurplan.ranges(set_, **options).to_dict()
    whole = len(lines.enumerate_lines(chains, 3, 2))
    # a bound of routes that the sum of products exceeds and the routes themselves do not
    monkeypatch.setattr(lines, "MOST_ROUTES", whole)
    monkeypatch.setattr(lines, "CHUNK", 50)
    tallied: list[int] = []
    tally = engine._tally

    def watched(*asked: Any) -> Callable[[lines.Lines], None]:
        counted = tally(*asked)

        def both(part: lines.Lines) -> None:
            tallied.append(len(part))
            counted(part)

        return both

    monkeypatch.setattr(engine, "_tally", watched)
    assert spurplan.ranges(set_, **options).to_dict() == plain
    assert len(tallied) > 1
    assert 0 < sum(tallied) <= whole


@pytest.mark.skipif(sys.platform != "linux", reason="file names that are any bytes")
@pytest.mark.parametrize("form", ["text", "json", "csv", "md"])
def test_files_may_have_names_that_are_not_utf8(tmp_path: Path, form: str) -> None:
    """The name of a table stands in the answer: escaped, in whichever form it is written."""
    table, set_ = os.fsencode(tmp_path) + b"/s\xe9.csv", os.fsencode(tmp_path) + b"/b\xe9.toml"
    Path(os.fsdecode(table)).write_text("freq_khz,service,label\n29230,amateur,Harbour\n")
    Path(os.fsdecode(set_)).write_bytes(BOATHOUSE.read_bytes())
    words = ["dial", set_, "28.3MHz", "--bands", table, "--format", form]
    for more in ([], ["--output", os.fsencode(tmp_path) + b"/o\xe9"]):
        done = subprocess.run(
            [sys.executable, "-m", "spurplan", *words, *more], capture_output=True, check=False
        )
        assert done.returncode == 0, done.stderr
        assert b"Traceback" not in done.stderr
        (done.stdout or Path(os.fsdecode(more[-1])).read_bytes()).decode("utf-8")


def test_a_read_that_has_nothing_yet_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file system may answer a non-blocking read with nothing at all: that is no empty file."""
    path = tmp_path / "set.toml"
    path.write_text("name = 'x'")
    real = os.fdopen

    class Waiting:
        def __init__(self, file: Any) -> None:
            self.file = file

        def __enter__(self) -> Waiting:
            return self

        def __exit__(self, *_: object) -> None:
            self.file.close()

        def fileno(self) -> int:
            return int(self.file.fileno())

        def read(self, _: int) -> None:
            return None

    monkeypatch.setattr(os, "fdopen", lambda *given: Waiting(real(*given)))
    with pytest.raises(Refused, match=r"set\.toml: can not be read: it has nothing to give yet"):
        read_receiver(path)


@pytest.mark.parametrize("where", ["label", "service"])
def test_a_name_that_fills_pages_is_refused_and_not_printed_whole(tmp_path: Path, where: str) -> None:
    """5,000 characters are no name; the message quotes the beginning."""
    row = {"freq_khz": "29230", "service": "amateur", "label": "Harbour"} | {where: "x" * 5000}
    path = tmp_path / "n.csv"
    path.write_text(",".join(row) + "\n" + ",".join(row.values()) + "\n")
    with pytest.raises(Refused, match=f"column {where}.*is longer than 200 characters") as refused:
        spurplan.read_bands(path)
    assert len(str(refused.value)) < 300


def test_long_names_of_others_are_cut_in_a_message(tmp_path: Path) -> None:
    """A head or a key of 5,000 characters is quoted by its beginning."""
    path = tmp_path / "n.csv"
    path.write_text(f"freq_khz,{'x' * 5000}\n1,2\n")
    with pytest.raises(Refused) as refused:
        spurplan.read_bands(path)
    assert len(str(refused.value)) < 600
    path = tmp_path / "set.toml"
    path.write_text(f'{"y" * 5000} = "x"\n' + BOATHOUSE.read_text())
    with pytest.raises(Refused, match="unknown key") as refused:
        read_receiver(path)
    assert len(str(refused.value)) < 600

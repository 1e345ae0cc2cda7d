"""No command writes over what it was made from, replaces a file and then refuses, or leaves litter."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

import spurplan
from spurplan import files
from spurplan.cli import main
from spurplan.errors import Refused
from spurplan.files import Outputs, read_bytes, recorded, write_bytes, write_text
from spurplan.receiver.file.writing import write_receiver
from spurplan.reporting.charts import write_chart
from tests.bench_logs import filled, own_prediction, rows_of, write
from tests.hostile.test_hard_knocks import ended, started
from tests.turns import by_turns

FILES = {
    "set.toml": """\
# a set for its outputs
name = "open window"
[[conversion]]
injection = "high"
if = "455 kHz"
[conversion.mixer]
table = "mixer.csv"
[conversion.filter]
bandwidth = "6 kHz"
[[range]]
name = "1"
coverage = ["11 MHz", "30 MHz"]
front_end = [ { circuits = 1, q = 40 }, { curve = "curve.csv" } ]
""",
    "curve.csv": "freq_khz,attenuation_db\n1000,20\n11000,0\n30000,0\n",
    "mixer.csv": "lo,rf,suppression_db,signal_dbm\n1,1,0,-20\n2,1,25,-20\n1,2,45,-20\n2,2,40,-20\n",
    "bands.csv": "freq_khz,service,label,level\n15110,broadcast,Northmoor,S9+40\n",
    "bands.source.toml": "",
    "levels.svg": "service,low_khz,high_khz,level\nbroadcast,1,30000,S9+20\n",
    "stock.csv": "freq_mhz,mode\n22,fundamental\n",
    "front.toml": 'gain = "18 dB"\n',
    "cures.toml": '[[cure]]\nname = "trap"\neffort = 0.7\nnote = "a coil"\n'
    'front_end = [ { trap = "15110 kHz", depth = "30 dB", q = 100 } ]\n',
    "list.csv": "QRG,Name\n7300,Eins\n",
}
BANDS = ["--bands", "bands.csv"]
ASKED = ["ranges", "set.toml", *BANDS]
COLUMNS = ["--column", "freq=QRG", "--column", "label=Name", "--column", "service==broadcast"]
IMPORT = ["bands", "--import", "list.csv", *COLUMNS]
# an IF that is worth its evenings with the shipped tables, so that there is something to save
ANOTHER_IF = ["if-change", "set.toml", "--if", "3MHz"]
CONVERTER = ["converter", "set.toml", *BANDS, "--cover", "50MHz:52MHz", "--stock", "stock.csv"]
# every kind of file that a command reads, with a command that reads it
READ = {
    "set.toml": ASKED,
    "curve.csv": ASKED,
    "mixer.csv": ASKED,
    "bands.csv": ASKED,
    "bands.source.toml": ASKED,
    "levels.svg": [*ASKED, "--levels", "levels.svg"],
    "stock.csv": CONVERTER,
    "front.toml": [*CONVERTER, "--front", "front.toml"],
    "cures.toml": ["cures", "set.toml", "--cures", "cures.toml"],
    "log.csv": ["readings", "set.toml", "log.csv"],
    "list.csv": IMPORT,
}


def source_record(table: bytes) -> str:
    """A source record of the table."""
    import hashlib

    words = ("document", "edition", "section", "date", "changed")
    lines = [f'{word} = "1999-01-01"' for word in words]
    lines += ["from_memory = []", "rows = 1", f'sha256 = "{hashlib.sha256(table).hexdigest()}"']
    return "\n".join(lines) + "\n"


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with one of every kind of file, which is where we are."""
    folder = tmp_path / "desk"
    folder.mkdir()
    for name, text in FILES.items():
        (folder / name).write_text(text, "utf-8")
    (folder / "bands.source.toml").write_text(source_record((folder / "bands.csv").read_bytes()), "utf-8")
    sheet = rows_of(spurplan.bench_sheet(folder / "set.toml", points=3))
    write(folder / "log.csv", filled(sheet, own_prediction))
    monkeypatch.chdir(folder)
    return folder


def standing(folder: Path) -> dict[str, bytes]:
    """Return what stands in a folder, hidden files included."""
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}


def refused(capsys: Any, *words: str) -> str:
    """Run what is refused: status 1, nothing on standard output, no file touched."""
    before = standing(Path())
    status = main(list(words))
    out, err = capsys.readouterr()
    assert (status, out) == (1, ""), err
    assert standing(Path()) == before
    return str(err)


# --- over what was read --------------------------------------------------------------------------


def by_another_path(name: str) -> str:
    return f"../desk/{name}"


def by_a_link(name: str) -> str:
    Path("link.svg").symlink_to(name)
    return "link.svg"


def by_its_whole_path(name: str) -> str:
    return str(Path(name).absolute())


NAMINGS = [str, by_another_path, by_a_link, by_its_whole_path]


@pytest.mark.parametrize(
    ("name", "naming"),
    [
        pytest.param(name, naming, marks=[] if naming is str or name == "set.toml" else [pytest.mark.long])
        for name in READ
        for naming in NAMINGS
    ],
)
def test_an_answer_never_takes_the_place_of_what_it_was_made_from(
    desk: Path, capsys: Any, name: str, naming: Any
) -> None:
    """Whatever the file is and however it is called."""
    assert main([*READ[name], "-o", "new.txt"]) == 0
    capsys.readouterr()
    Path("new.txt").unlink()
    assert "is read for this answer" in (err := refused(capsys, *READ[name], "-o", naming(name))) or (
        f"is {name}, which is read" in err
    )


@pytest.mark.parametrize("name", READ)
def test_a_hard_link_to_what_was_read_is_no_way_round(desk: Path, capsys: Any, name: str) -> None:
    """One file under two names is refused."""
    Path("second").hardlink_to(name)
    assert "hard links" in refused(capsys, *READ[name], "-o", "second")


@pytest.mark.parametrize("naming", NAMINGS)
def test_a_chart_never_takes_the_place_of_what_it_was_made_from(desk: Path, capsys: Any, naming: Any) -> None:
    """The table of levels happens to be called as a picture."""
    words = [*READ["levels.svg"], "--chart", naming("levels.svg")]
    assert "levels.svg" in refused(capsys, *words)


@pytest.mark.parametrize("name", [name for name in READ if name not in ("set.toml", "list.csv")])
def test_no_option_lets_a_saved_receiver_take_the_place_of_another_input(
    desk: Path, capsys: Any, name: str
) -> None:
    """--overwrite is for the set itself and for old files."""
    words = READ[name]
    if words[0] == "ranges":
        words = [*CONVERTER, *words[len(ASKED) :]]
    assert "read for this answer" in refused(capsys, *words, "--save-receiver", name, "--overwrite")


def test_a_saved_receiver_may_take_the_place_of_the_set_where_that_is_asked_for(
    desk: Path, capsys: Any
) -> None:
    """--overwrite, comments kept; without it the set stays."""
    words = [*ANOTHER_IF, "--save-receiver", "set.toml"]
    assert "stands there already" in refused(capsys, *words)
    assert main([*words, "--overwrite"]) == 0
    assert capsys.readouterr().err == "wrote set.toml\n"
    text = Path("set.toml").read_text("utf-8")
    assert text.startswith("# a set for its outputs\n")
    assert "3 MHz" in text


def test_a_file_read_through_a_descriptor_is_a_file_read(desk: Path) -> None:
    """Levels from standard input, the answer over them: the file that is open counts, not its name."""
    with Path("levels.svg").open("rb") as source:
        done = subprocess.run(
            [sys.executable, "-m", "spurplan", *ASKED, "--levels", "/dev/stdin", "-o", "levels.svg"],
            stdin=source,
            capture_output=True,
            check=False,
        )
    assert done.returncode == 1
    assert done.stderr.startswith(b"levels.svg: is /dev/stdin, which is read for this answer")
    assert Path("levels.svg").read_text("utf-8") == FILES["levels.svg"]


def test_tables_of_the_package_are_held_as_long_as_the_process_lives(tmp_path: Path) -> None:
    """They are read once and kept, so a later command would not read them again."""
    table = tmp_path / "table.csv"
    table.write_text("a\n", "utf-8")
    assert files.read_shipped(table) == b"a\n"
    with pytest.raises(Refused, match="is read for this answer"):
        write_text(table, "b\n")


# --- over what stands there ----------------------------------------------------------------------

BEGUN = {
    "a receiver file": (["receiver"], "-o"),
    "a bench sheet": (["bench-sheet", "set.toml", "--format", "csv"], "-o"),
    "a bench sheet on paper": (["bench-sheet", "set.toml"], "-o"),
    "a set with another IF": (ANOTHER_IF, "--save-receiver"),
    "a set with a cure": (["cures", "set.toml"], "--save-receiver"),
    "a set behind a converter": (CONVERTER, "--save-receiver"),
}


@pytest.mark.parametrize("kind", BEGUN)
def test_what_people_edit_is_not_written_over(desk: Path, capsys: Any, kind: str) -> None:
    """A description or a sheet that stands there may be filled in; --overwrite says it is not."""
    words, option = BEGUN[kind]
    Path("mine.toml").write_text("by hand\n", "utf-8")
    assert "mine.toml: stands there already" in refused(capsys, *words, option, "mine.toml")
    assert Path("mine.toml").read_text("utf-8") == "by hand\n"
    assert main([*words, option, "mine.toml", "--overwrite"]) == 0
    assert capsys.readouterr().err.startswith("wrote mine.toml\n")
    assert Path("mine.toml").read_text("utf-8") != "by hand\n"


def test_an_answer_may_be_written_again(desk: Path, capsys: Any) -> None:
    """It holds nothing that was not worked out; each file that is written is named."""
    for _ in range(2):
        assert main([*ASKED, "-o", "answer.txt", "--chart", "chart.svg"]) == 0
        assert capsys.readouterr() == ("", "wrote chart.svg\nwrote answer.txt\n")


def test_the_name_of_a_written_file_keeps_to_its_line(desk: Path, capsys: Any) -> None:
    """A line end or a terminal sequence in a name does nothing."""
    assert main([*ASKED, "-o", "a\nb\x1b[31m.txt"]) == 0
    assert capsys.readouterr().err == "wrote a b.txt\n"


@pytest.mark.parametrize(
    "words",
    [
        ["receiver", "--overwrite"],
        ["receiver", "set.toml", "-o", "a.txt", "--overwrite"],
        ["receiver", "--schema", "-o", "a.txt", "--overwrite"],
        ["bench-sheet", "set.toml", "--overwrite"],
        ["cures", "set.toml", *BANDS, "-o", "a.txt", "--overwrite"],
    ],
)
def test_overwrite_beside_nothing_that_needs_it_is_a_wrong_option(
    desk: Path, capsys: Any, words: list[str]
) -> None:
    """An option that changes nothing is refused."""
    assert main(words) == 2
    assert "--overwrite" in capsys.readouterr().err
    assert not Path("a.txt").exists()


# --- all or nothing ------------------------------------------------------------------------------

SAVED = [*ANOTHER_IF, "--save-receiver", "old.toml", "--overwrite"]


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (["--output", "nodir/x"], "nodir/x: can not be written: no such folder"),
        (["--output", "set.toml/x"], "part of the path is not a folder"),
        (["--output", "folder"], "folder: is a folder"),
        (["--output", "folder/"], "folder/: is a folder"),
        (["--output", "curve.csv"], "curve.csv: is read for this answer"),
        (["--output", ""], '--output: "" is blank'),
        (["--output", " \t"], "is blank"),
        (["--chart", "chart.bmp"], "does not end in .svg"),
        (["--chart", ""], '--chart: "" is blank'),
        (["--output", "pipe"], "pipe: is a pipe or a device"),
        (["--output", "round"], "links lead round"),
        (["--output", "x" * 300], "the name is too long"),
    ],
)
def test_a_refused_command_replaces_nothing(desk: Path, capsys: Any, more: list[str], said: str) -> None:
    """The receiver file it was to save stands as before, whatever is wrong with the other output."""
    Path("old.toml").write_text("old\n", "utf-8")
    Path("folder").mkdir()
    Path("round").symlink_to("round")
    os.mkfifo("pipe")
    assert said in refused(capsys, *SAVED, *more)


def test_all_that_is_wrong_with_the_outputs_is_told_at_once(desk: Path, capsys: Any) -> None:
    """One look, every fault, before anything is worked out."""
    err = refused(capsys, *SAVED, "--output", "nodir/x", "--chart", " ")
    assert err.count("\n") == 2


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
def test_a_full_standard_output_leaves_the_files_as_they_were(desk: Path) -> None:
    """The chart is not drawn over where the answer could not be printed."""
    Path("c.svg").write_text("old\n", "utf-8")
    before = standing(desk)
    with Path("/dev/full").open("wb") as full:
        status, _, err = ended(started([*ASKED, "--chart", "c.svg"], desk, out=full.fileno()))
    assert status == 1
    assert err.startswith("standard output: can not be read or written: No space left")
    assert standing(desk) == before


def test_a_reader_that_leaves_early_gets_its_files(desk: Path) -> None:
    """Whoever looks at the first lines alone wants the chart still."""
    reader, writer = os.pipe()
    os.close(reader)
    try:
        status, _, err = ended(started([*ASKED, "--chart", "c.svg"], desk, out=writer))
    finally:
        os.close(writer)
    assert (status, err) == (0, "wrote c.svg\n")
    assert Path("c.svg").read_text("utf-8").startswith("<?xml")


def test_a_move_that_fails_says_what_was_replaced_before(
    desk: Path, capsys: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The chart is in place when the answer can not be moved: both are named, and no litter stays."""
    real = Path.replace

    def moved(self: Path, target: Path) -> Path:
        if target.name == "answer.txt":
            raise OSError(5, "Input/output error")
        return real(self, target)

    monkeypatch.setattr(Path, "replace", moved)
    assert main([*ASKED, "--chart", "chart.svg", "-o", "answer.txt"]) == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("answer.txt: can not be written: input/output error (chart.svg written already);")
    assert set(standing(desk)) == {*FILES, "log.csv", "chart.svg"}


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("a.svg", "a.svg"),
        ("a.svg", "./a.svg"),
        ("a.svg", "../desk/a.svg"),
        ("a.svg", "link"),
        ("there.svg", "link to it"),
        ("a.svg", "folder too/a.svg"),
    ],
)
def test_two_names_of_one_place_are_refused(desk: Path, capsys: Any, one: str, other: str) -> None:
    """Whether a file stands there or not."""
    Path("there.svg").write_text("old", "utf-8")
    Path("link").symlink_to("a.svg")
    Path("link to it").symlink_to("there.svg")
    Path("folder too").symlink_to(desk, target_is_directory=True)
    assert "would take the place of the other" in refused(capsys, *ASKED, "--chart", one, "-o", other)


def test_a_starter_that_somebody_wrote_meanwhile_stays(
    desk: Path, capsys: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A new file is given its name in one step that takes no other's place."""
    real = os.link

    def meanwhile(beside: Path, target: Path) -> None:
        Path("mine.toml").write_text("by hand\n", "utf-8")
        real(beside, target)

    monkeypatch.setattr(files.os, "link", meanwhile)
    assert main(["receiver", "-o", "mine.toml"]) == 1
    monkeypatch.undo()
    assert "mine.toml: can not be written: a file has appeared there meanwhile" in capsys.readouterr().err
    assert (desk / "mine.toml").read_text("utf-8") == "by hand\n"
    assert set(standing(desk)) == {*FILES, "log.csv", "mine.toml"}


@pytest.mark.parametrize("appears", [False, True])
def test_a_disk_that_knows_no_second_names_takes_new_files_too(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, appears: bool
) -> None:
    """Then the file is looked for once more and moved."""
    path = tmp_path / "new.toml"

    def no_links(*_: object) -> None:
        if appears:
            path.write_text("by hand\n", "utf-8")
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(files.os, "link", no_links)
    with Outputs() as outputs:
        output = outputs.plan(path, new=True)
        outputs.check()
        outputs.write(output, b"begun\n")
        if appears:
            with pytest.raises(Refused, match="has appeared there meanwhile"):
                outputs.commit()
        else:
            assert outputs.commit() == (str(path),)
    assert standing(tmp_path) == {"new.toml": b"by hand\n" if appears else b"begun\n"}


def test_of_two_processes_that_begin_one_file_one_is_refused(desk: Path) -> None:
    """Several times over: one whole file, one refusal, never two successes."""
    for _ in range(4):
        names = ["Eins", "Zwei"]
        both = [started(["receiver", "--name", name, "-o", "mine.toml"], desk) for name in names]
        results = [ended(process) for process in both]
        assert sorted(status for status, _, _ in results) == [0, 1]
        [winner] = [name for name, (status, _, _) in zip(names, results, strict=True) if status == 0]
        assert f'name = "{winner}"' in Path("mine.toml").read_text("utf-8")
        Path("mine.toml").unlink()
    assert set(standing(desk)) == {*FILES, "log.csv"}


# --- standard output and other descriptors -------------------------------------------------------

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="descriptors and signals of Linux")
NAMES_OF_STANDARD_OUTPUT = ["-", "/dev/stdout", "/dev/fd/1", "/proc/self/fd/1", "link to it"]


@pytest.mark.parametrize("name", by_turns(NAMES_OF_STANDARD_OUTPUT, always=NAMES_OF_STANDARD_OUTPUT[:2]))
def test_a_name_of_standard_output_adds_to_what_stands_there(desk: Path, name: str) -> None:
    """As without the option: a log that is added to keeps its lines."""
    Path("link to it").symlink_to("/dev/stdout")
    Path("app.log").write_text("first line\n", "utf-8")
    with Path("app.log").open("ab") as log:
        status, _, err = ended(started([*ASKED, "-o", name], desk, out=log.fileno()))
    assert (status, err) == (0, "")
    _, printed, _ = ended(started(ASKED, desk))
    assert Path("app.log").read_bytes() == b"first line\n" + printed
    assert not Path("-").exists()


def test_a_receiver_file_may_go_to_standard_output_alone(desk: Path, capsys: Any) -> None:
    """Beside an answer in a file; two outputs there are refused."""
    words = [*ANOTHER_IF, "--save-receiver", "-"]
    assert "would take the place of the other" in refused(capsys, *words)
    assert main([*words, "-o", "answer.txt"]) == 0
    out, err = capsys.readouterr()
    assert out.startswith("# a set for its outputs\n")
    assert err == "wrote answer.txt\n"


@pytest.mark.parametrize("name", by_turns(["/dev/fd/{}", "/proc/self/fd/{}", "link"], always=["link"]))
def test_another_open_descriptor_is_no_file_to_replace(desk: Path, name: str) -> None:
    """Somebody else has the file open behind it and goes on writing there."""
    Path("app.log").write_text("first line\n", "utf-8")
    with Path("app.log").open("ab") as log:
        Path("link").symlink_to(f"/proc/self/fd/{log.fileno()}")
        words = [sys.executable, "-m", "spurplan", *ASKED, "-o", name.format(log.fileno())]
        done = subprocess.run(words, pass_fds=[log.fileno()], capture_output=True, check=False)
    assert (done.returncode, done.stdout) == (1, b"")
    assert b"is an open descriptor, not a file" in done.stderr
    assert Path("app.log").read_text("utf-8") == "first line\n"


@pytest.mark.parametrize("stream", [1, 2])
def test_where_a_standard_stream_goes_is_no_file_to_replace(desk: Path, stream: int) -> None:
    """The file would go on under the stream with no name: what is written there would be lost."""
    Path("app.log").write_text("first line\n", "utf-8")
    with Path("app.log").open("ab") as log:
        own = {1: {"stdout": log, "stderr": subprocess.PIPE}, 2: {"stdout": subprocess.PIPE, "stderr": log}}
        words = [sys.executable, "-m", "spurplan", *ASKED, "-o", "app.log"]
        done = subprocess.run(words, check=False, **own[stream])  # type: ignore[call-overload]
    assert done.returncode == 1
    assert Path("app.log").read_text("utf-8").startswith("first line\n")
    assert b"goes already" in (done.stderr or Path("app.log").read_bytes())


@pytest.mark.parametrize(
    ("words", "status"),
    [
        (["--help"], 1),
        (["--version"], 1),
        (["dial", "--help"], 1),
        ([], 2),
        (ASKED, 1),
        ([*ASKED, "-o", "-"], 1),
        ([*ASKED, "-o", "answer.txt"], 0),
    ],
)
def test_a_closed_standard_output_is_said_wherever_it_is_needed(
    desk: Path, words: list[str], status: int
) -> None:
    """Help that nobody can read is not shown with success; an answer in a file needs no standard output."""
    done, _, err = ended(started(words, desk, lambda: os.close(1)))
    assert "Traceback" not in err
    assert "standard output: is closed; write to a file with --output" in err or not words or status == 0
    assert done == status or not words
    assert (desk / "answer.txt").exists() == (status == 0)


# --- signals -------------------------------------------------------------------------------------

ENDED = """
import os, signal, sys
number = signal.Signals[sys.argv.pop(1)]
def watch(event, details):
    if event == "os.rename" or (event == "os.link" and ".tmp" in str(details[0])):
        os.kill(os.getpid(), number)
sys.addaudithook(watch)
from spurplan.cli.program import program
sys.exit(program())
"""


@pytest.mark.parametrize("name", by_turns(["SIGTERM", "SIGHUP"], always=["SIGTERM"]))
@pytest.mark.parametrize("words", [["ranges", "-o"], ["receiver", "-o"], ["ranges", "--chart"]])
def test_a_process_that_is_ended_leaves_nothing_unfinished(desk: Path, words: list[str], name: str) -> None:
    """It ends by the signal while its files stand beside their targets, and takes them away."""
    command, option = words
    asked = [*(ASKED if command == "ranges" else [command]), option, "out.svg"]
    before = standing(desk)
    ignored = signal.getsignal(signal.SIGHUP)
    signal.signal(signal.SIGHUP, signal.SIG_DFL)  # the tests may run under nohup
    try:
        status, _, err = ended(started(asked, desk, first=["-c", ENDED, name]))
    finally:
        signal.signal(signal.SIGHUP, ignored)
    assert (status, err) == (-signal.Signals[name], "")
    found = standing(desk)
    # the signal may find the one step done already, never half done
    assert set(found) - {"out.svg"} == set(before)


def test_a_signal_that_was_ignored_stays_so(desk: Path) -> None:
    """Work under nohup goes on when the line is hung up."""

    def ignore() -> None:
        signal.signal(signal.SIGHUP, signal.SIG_IGN)

    status, _, err = ended(started([*ASKED, "-o", "out.txt"], desk, ignore, ["-c", ENDED, "SIGHUP"]))
    assert (status, err) == (0, "wrote out.txt\n")


# --- the plotting library ------------------------------------------------------------------------


@pytest.mark.parametrize(
    "words", [[*ASKED, "--chart", "c.svg", "-o", "a.txt"], ["report", "set.toml", "-o", "a"]]
)
def test_a_home_that_can_not_be_written_is_nobody_s_concern(desk: Path, words: list[str]) -> None:
    """What the plotting library says of its own folders and fonts stays off standard error."""
    homeless = {name: value for name, value in os.environ.items() if name != "MPLCONFIGDIR"}
    homeless |= {"HOME": "/proc/none", "XDG_CONFIG_HOME": "/proc/none", "XDG_CACHE_HOME": "/proc/none"}
    done = subprocess.run(
        [sys.executable, "-m", "spurplan", *words], env=homeless, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0
    assert [line for line in done.stderr.splitlines() if not line.startswith("wrote ")] == []


# --- the library ---------------------------------------------------------------------------------


@pytest.fixture
def read(desk: Path) -> Iterator[spurplan.Answer]:
    """An answer whose files are recorded for as long as the test runs."""
    with recorded():
        yield spurplan.ranges("set.toml", bands="bands.csv")


@pytest.mark.parametrize("name", ["set.toml", "curve.csv", "mixer.csv", "bands.csv"])
def test_a_program_that_records_what_it_reads_keeps_it(read: spurplan.Answer, name: str) -> None:
    """Charts, receiver files and text by library calls go through the same door."""
    before = Path(name).read_bytes()
    receiver = spurplan.read_receiver("set.toml")
    Path("chart.svg").symlink_to(name)
    with pytest.raises(Refused, match=f"is {name}, which is read"):
        write_chart("ranges", read, receiver, "chart.svg")
    for writer in (
        write_receiver,
        lambda _, path: write_text(path, "x"),
        lambda _, path: write_bytes(path, b""),
    ):
        with pytest.raises(Refused, match="is read for this answer"):
            writer(receiver, name)
    assert Path(name).read_bytes() == before
    write_chart("ranges", read, receiver, "another.svg")
    assert Path("another.svg").exists()


def test_records_are_one_another_s_business_not(desk: Path) -> None:
    """What one command or thread read does not bind the next."""
    with recorded():
        read_bytes("bands.csv")
        with pytest.raises(Refused, match="is read"):
            write_text("bands.csv", "x")
        with recorded():
            write_text("bands.csv", FILES["bands.csv"])
        others = threading.Thread(target=write_text, args=("list.csv", "x"))
        read_bytes("list.csv")
        others.start()
        others.join()
    write_text("bands.csv", "new\n")
    assert Path("bands.csv").read_text("utf-8") == "new\n"
    assert Path("list.csv").read_text("utf-8") == "x"


def test_a_file_that_was_replaced_since_it_was_read_is_still_the_one(desk: Path) -> None:
    """An editor saves by moving a new file over the old: the place counts as well."""
    with recorded():
        read_bytes("bands.csv")
        Path("edited").write_text("edited\n", "utf-8")
        Path("edited").replace("bands.csv")
        with pytest.raises(Refused, match="is read for this answer"):
            write_text("bands.csv", "x")
        Path("bands.csv").rename("moved.csv")
        Path("list.csv").read_bytes()
        read_bytes("list.csv")
        Path("list.csv").rename("elsewhere.csv")
        with pytest.raises(Refused, match=r"is list\.csv, which is read"):
            write_text("elsewhere.csv", "x")


def test_the_library_prints_nothing(desk: Path) -> None:
    """Names of standard output are for the command line."""
    for name in ("-", "/dev/stdout"):
        with pytest.raises(Refused, match="is standard output, not a file"):
            write_text(name, "x")

"""The report as text: what it says, that it is one file, and that nothing in it acts."""

from __future__ import annotations

import json
import re
import shlex
import sys
import time
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import spurplan
from spurplan.cli import main
from spurplan.columns import Coded, Column, Table
from spurplan.reporting.html_table import MOST_PRINTED, MOST_ROWS, html_table
from spurplan.reporting.layout import Show
from spurplan.reporting.report import page as page_of
from spurplan.reporting.report import report
from spurplan.responses.asking import Settings
from tests.answers import HOSTILE, row, table
from tests.charting import DEMOS, ROOT, demo
from tests.drawn_sets import quiet, twelve

BANDS = """low_khz,high_khz,freq_khz,service,label,level
,,15130,broadcast,<script>document.title='owned'</script>,S9+40
15200,15300,,broadcast,"</td></table><img src=x onerror=""document.title='owned'"">",S9+40
17500,17800,,broadcast,"{{ 7*7 }} & ""quoted"" 'single' $x^2$",S9+40
"""
VOID = {"meta", "link", "input", "br", "img", "path", "use"}

# what the dial turns by, and two scripts
OWN_SCRIPTS = 3


class Reader(HTMLParser):
    """What stands in a page: elements with their attributes, text by element."""

    def __init__(self, page: str) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.texts: list[tuple[str, str]] = []
        self.misplaced: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        if tag in VOID:
            return
        if not self.open or self.open.pop() != tag:
            self.misplaced.append(tag)

    def handle_data(self, data: str) -> None:
        self.texts.append((self.open[-1] if self.open else "", data))

    def text(self, *tags: str) -> str:
        return " ".join(data for tag, data in self.texts if not tags or tag in tags)


@pytest.fixture(scope="module", params=DEMOS)
def page(request: pytest.FixtureRequest) -> str:
    return report(demo(request.param))


@pytest.fixture(scope="module")
def hostile(tmp_path_factory: pytest.TempPathFactory) -> str:
    bands = tmp_path_factory.mktemp("bands") / "mine.csv"
    bands.write_text(BANDS, "utf-8")
    return report(demo("boathouse"), bands)


def test_the_answer_stands_below_the_name(tmp_path: Path) -> None:
    """In a sentence; of twelve ranges with long names in numbers instead of names."""
    (said,) = re.findall(r'</h1>\s*<p class="verdict">(.*?)</p>', report(*quiet(tmp_path)))
    assert said == "Believe long, trawler and short."
    (said,) = re.findall(r'<p class="verdict">(.*?)</p>', report(*twelve(tmp_path)))
    assert "12 ranges." in said
    assert len(said) < 160


def test_the_page_is_whole_html(page: str) -> None:
    """Every element is closed where it was opened, and no id stands twice."""
    read = Reader(page)
    assert page.startswith("<!DOCTYPE html>")
    assert (read.misplaced, read.open) == ([], [])
    ids = [attributes["id"] for _, attributes in read.elements if "id" in attributes]
    assert len(ids) == len(set(ids))
    named = {a[key] for _, a in read.elements for key in ("aria-labelledby", "data-filters") if key in a}
    assert named <= set(ids)


def test_the_page_says_what_a_report_must(page: str) -> None:
    """The set in text, each range, the charts, assumptions, sources, cautions, the bench sheet."""
    read = Reader(page)
    said = read.text()
    for word in (
        "aerial →",
        "Clear (%)",
        "Image rejection (dB)",
        "Intrusions",
        "lethal voltages",
        "not a licence",
        "Generator (kHz)",
        "P.372" if "Boathouse" in said else "measured noise",
        "Radio Regulations,",
        "ITU region 1",
    ):
        assert word in said, word
    charts = [attributes for tag, attributes in read.elements if tag == "svg"]
    assert [chart["class"] for chart in charts if chart["class"] != "dial"] == [
        "card",
        "narrow",
        *["wide"] * len(demo("boathouse" if "Boathouse" in said else "lockkeeper").ranges),
    ]
    assert said.index("lethal voltages") < said.rindex("What it hears that does not belong")


def test_every_number_of_the_answer_is_the_page_s(page: str) -> None:
    """The summary of each range is what `ranges` says."""
    name = next(name for name in DEMOS if demo(name).name in page)
    cells = [data.strip() for tag, data in Reader(page).texts if tag in ("td", "span")]
    for record in spurplan.ranges(demo(name)).ranges.records():
        assert f"{record['image_rejection_db']:.0f}" in cells
        assert str(record["strong"]) in cells


def test_the_page_asks_for_nothing(page: str) -> None:
    """No address, no file, no picture from elsewhere; a policy that would forbid it besides."""
    for _, attributes in Reader(page).elements:
        for key in ("src", "href", "action", "srcset", "poster", "data"):
            value = attributes.get(key) or ""
            assert value == "" or value.startswith(("#", "data:,")), value
    assert not re.search(r"url\((?!#)|@import|https?://(?!www\.w3\.org/)", page)
    assert "default-src 'none'" in page


def test_the_same_question_gives_the_same_page() -> None:
    """No date, no chance."""
    assert report(demo("lockkeeper"), range="low") == report(demo("lockkeeper"), range="low")


def test_a_script_in_a_label_stays_a_label(hostile: str) -> None:
    """Whatever stands in a table is text: no element, no attribute comes of it."""
    read = Reader(hostile)
    tags = [tag for tag, _ in read.elements]
    assert tags.count("script") == OWN_SCRIPTS
    assert "img" not in tags
    assert not any(key.startswith("on") for _, attributes in read.elements for key in attributes)
    said = read.text()
    for label in ("<script>document.title='owned'</script>", "{{ 7*7 }} & \"quoted\" 'single' $x^2$"):
        assert label in said
    assert read.misplaced == []


def test_a_hostile_name_of_the_set_stays_a_name() -> None:
    """Title, heads and picture escape it too."""
    renamed = demo("lockkeeper").unchecked(name=f"</title><script>x</script> {HOSTILE}")
    read = Reader(report(renamed, range="low"))
    assert [tag for tag, _ in read.elements].count("script") == OWN_SCRIPTS
    assert "</title><script>x</script>" in read.text("title", "h1")
    assert not set(read.text()) & set("\x1b\x07\x9b\u202e")


def test_the_report_is_small_and_quick() -> None:
    """The demonstration: under 1 MB, and within 5 s of work in all, the imports included."""
    start = time.process_time()
    text = report(ROOT / "demos" / "boathouse" / "set.toml")
    assert time.process_time() - start < 5.0
    assert len(text.encode("utf-8")) < 1_000_000


def test_the_settings_are_asked_and_said() -> None:
    """Options reach the library and stand on the page."""
    text = Reader(report(demo("lockkeeper"), range="low", utc="1800", day="sat", region=2)).text()
    for said in ("ITU region 2", "at 1800 UTC", "on sat", "range low alone"):
        assert said in text
    assert "high: aerial" in text, "the set is described whole"


@pytest.mark.parametrize("name", ["long", "trawler", "short"])
def test_of_one_range_asked_about_the_page_has_nothing_of_another(name: str, tmp_path: Path) -> None:
    """In no section: settings on the bench sheet, rows, chart, dial, scale on the card."""
    receiver, bands = quiet(tmp_path)
    shown = page_of(receiver, bands, Settings(range=name))
    others = {one.name for one in receiver.ranges} - {name}
    assert len(others) == 2
    by_name = {part.name: part for part in shown.parts}
    for part in shown.parts:
        for one in part.tables:
            assert not any(one.title.startswith(f"Range {other}") for other in others), one.title
            where = [at for at, head in enumerate(one.heads) if head.text == "Range"]
            assert {row.cells[at].text for row in one.rows for at in where} <= {name}
    on_bench = [one.title for one in by_name["bench"].tables if one.title.startswith("Range ")]
    assert len(on_bench) == 3
    assert all(title.startswith(f"Range {name}, tuned to ") for title in on_bench)
    assert len(by_name["heard"].charts) == len(shown.cards) == 1
    assert shown.dial is not None
    assert [one["name"] for one in json.loads(shown.dial)["states"][0]["ranges"]] == [name]


def test_of_no_range_asked_about_the_page_has_all(tmp_path: Path) -> None:
    """Each in turn, three settings on the bench for each."""
    receiver, bands = quiet(tmp_path)
    shown = page_of(receiver, bands, Settings())
    (sheet,) = (part for part in shown.parts if part.name == "bench")
    titles = [one.title.split(",")[0] for one in sheet.tables if one.title.startswith("Range ")]
    assert titles == [f"Range {one.name}" for one in receiver.ranges for _ in range(3)]


def test_the_command_writes_the_page(tmp_path: Path, capsys: Any) -> None:
    """To a file, whole; the screen stays empty. Or to standard output."""
    words = ["report", str(ROOT / "demos" / "lockkeeper" / "set.toml"), "--range", "low"]
    assert main([*words, "--output", str(tmp_path / "report.html")]) == 0
    assert capsys.readouterr().out == ""
    assert main(words) == 0
    printed = capsys.readouterr().out
    assert (tmp_path / "report.html").read_text("utf-8") == printed
    assert printed.endswith("</html>\n")


@pytest.mark.parametrize("package", ["jinja2", "matplotlib"])
def test_a_missing_package_is_said_with_its_remedy(
    monkeypatch: pytest.MonkeyPatch, capsys: Any, package: str
) -> None:
    """Without the extra there is a sentence, not a traceback."""
    monkeypatch.setitem(sys.modules, package, None)
    assert main(["report", str(ROOT / "demos" / "lockkeeper" / "set.toml")]) == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert err == (
        f"report: needs {package}, which is not installed; install it with: "
        f"{shlex.quote(sys.executable)} -m pip install matplotlib jinja2\n"
    )


# tables


def test_a_cell_sorts_by_its_number_not_by_its_letters() -> None:
    """Levels by decibels, grades by loudness, frequencies by hertz; unknown last."""
    made = html_table(
        "t",
        "",
        table(
            [
                row(heard_s="S9+7", heard_dbm=-66.0, grade="audible", moves=np.nan),
                row(heard_s="S9+12", heard_dbm=-61.0, grade="strong", dial_low_hz=9_900_000),
            ]
        ),
        tuple(Show(name, (name,)) for name in ("heard_s", "grade", "dial_low_hz", "moves")),
    )
    keys = [[cell.key for cell in line.cells] for line in made.rows]
    assert keys == [[-66.0, 1.0, 14_200_000, ""], [-61.0, 2.0, 9_900_000, -1.0]]
    assert [line.grade for line in made.rows] == ["audible", "strong"]


def test_rows_beyond_what_a_page_holds_are_counted() -> None:
    """Nothing goes without a word."""
    column = Column("number", "int", "", False, "No.", "number")
    many = Table("t", (column,), {"number": np.arange(MOST_ROWS + 7)})
    made = html_table("t", "", many, None)
    assert len(made.rows) == MOST_ROWS
    assert made.more == "7 more rows left out here; --format csv has all."


def test_paper_says_how_much_of_a_long_table_it_has() -> None:
    """Hundreds of rows are for the terminal, by the command that is named; a short table stands whole."""
    column = Column("number", "int", "", False, "No.", "number")

    def said(rows: int, command: str = "spurplan birdies FILE --top 0") -> str:
        many = Table("t", (column,), {"number": np.arange(rows)})
        return html_table("t", "", many, None, command=command).printed

    assert said(MOST_PRINTED + 1) == (
        f"On paper the first {MOST_PRINTED} of {MOST_PRINTED + 1} rows stand; "
        "spurplan birdies FILE --top 0 shows every one."
    )
    assert f" of {MOST_ROWS + 7} rows" in said(MOST_ROWS + 7)
    assert said(MOST_PRINTED) == ""
    assert said(MOST_ROWS, command="") == ""


def test_an_unknown_text_is_a_dash_and_sorts_last() -> None:
    """An empty cell never looks like a value."""
    column = Column("label", "text", "", True, "Label", "label")
    made = html_table("t", "", Table("t", (column,), {"label": Coded(np.array([0, -1]), ["x"])}), None)
    assert [(line.cells[0].text, line.cells[0].key) for line in made.rows] == [("x", None), ("-", "")]


def test_an_equation_breaks_at_its_stages_alone() -> None:
    """The parts of a cell are whole stages."""
    column = Column("label", "text", "", True, "Label", "label")
    words = ["image, IF1 = RF - LO1; IF2 = IF1 - LO2"]
    made = html_table("t", "", Table("t", (column,), {"label": Coded(np.array([0]), words)}), None)
    assert made.rows[0].cells[0].parts == ["image,", "IF1 = RF - LO1;", "IF2 = IF1 - LO2"]

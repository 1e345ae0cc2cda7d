"""The report in a browser: it complains of nothing, asks for nothing, sorts, filters, fits, prints."""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from spurplan.reporting.html_table import MOST_PRINTED
from spurplan.reporting.report import report
from tests.browser import CHROMIUM, Page, browser
from tests.charting import DEMOS, demo
from tests.reporting.test_report import BANDS
from tests.turns import by_turns

pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="no chromium on this machine")
# of the pages of the demonstrations one is looked at always
PAGES = by_turns((*DEMOS, "hostile"), always=("boathouse", "hostile"))
TABLE = "document.getElementById('heard-2')"
COLUMN = "[...{table}.tBodies[0].rows].filter(r => !r.hidden).map(r => r.cells[{column}].textContent)"
OVERLAPS = """
(() => {
  const texts = [...document.querySelectorAll('svg text')].filter(t => t.getClientRects().length);
  const boxes = texts.map(t => [t.textContent, t.getBoundingClientRect()]);
  const found = [];
  for (let i = 0; i < boxes.length; i++)
    for (let j = 0; j < i; j++) {
      const [a, b] = [boxes[i][1], boxes[j][1]];
      // the box of a line of text is taller than its letters: a quarter of it may be shared
      const tall = Math.min(a.height, b.height) / 4;
      const beside = a.left >= b.right - 0.5 || b.left >= a.right - 0.5;
      const below = a.top >= b.bottom - tall || b.top >= a.bottom - tall;
      if (!beside && !below)
        found.push([boxes[i][0], boxes[j][0]]);
    }
  return [texts.length, found];
})()
"""


@pytest.fixture(scope="module")
def page() -> Iterator[Page]:
    with browser() as one:
        yield one


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("report")
    (folder / "mine.csv").write_text(BANDS, "utf-8")
    made = {name: report(demo(name)) for name in DEMOS}
    made["hostile"] = report(demo("boathouse"), folder / "mine.csv")
    for name, text in made.items():
        (folder / f"{name}.html").write_text(text, "utf-8")
    return {name: folder / f"{name}.html" for name in made}


def column(page: Page, number: int, table: str = TABLE) -> list[str]:
    """Return the texts of one column of the rows that are shown."""
    found: list[str] = page.ask(COLUMN.format(table=table, column=number))
    return found


def sort_by(page: Page, number: int) -> str:
    """Press the head of a column with the keyboard and return what it then says of itself."""
    page.ask(f"{TABLE}.tHead.rows[0].cells[{number}].querySelector('button').focus()")
    page.press("Enter", 13, "\r")
    said: str = page.ask(f"{TABLE}.tHead.rows[0].cells[{number}].getAttribute('aria-sort')")
    return said


@pytest.mark.parametrize("name", PAGES)
@pytest.mark.parametrize("dark", [False, True])
def test_no_complaint_and_no_request(page: Page, files: dict[str, Path], name: str, dark: bool) -> None:
    """The console stays empty, the page is all there is to load, and no label acts."""
    page.complaints.clear()
    page.requests.clear()
    page.open(files[name], dark=dark)
    assert page.complaints == []
    assert set(page.requests) <= {files[name].as_uri(), "data:,"}
    assert page.ask("document.title") == demo("lockkeeper" if name == "lockkeeper" else "boathouse").name


@pytest.mark.parametrize("name", PAGES)
@pytest.mark.parametrize("width", by_turns((320, 390, 768, 1024, 1130, 1280, 1920), always=(390, 1280)))
def test_nothing_hangs_over_the_edge(page: Page, files: dict[str, Path], name: str, width: int) -> None:
    """A telephone and a wide screen show the whole width of the page."""
    page.open(files[name], width=width)
    assert page.ask("document.documentElement.scrollWidth") == width


@pytest.mark.parametrize("name", PAGES)
@pytest.mark.parametrize("width", [390, 1280])
def test_no_label_of_a_chart_covers_another(
    page: Page, files: dict[str, Path], name: str, width: int
) -> None:
    """By the boxes the browser itself draws, with the font it has."""
    page.open(files[name], width=width)
    texts, found = page.ask(OVERLAPS)
    assert texts > 20
    assert found == []


def test_one_chart_is_shown_for_each_width(page: Page, files: dict[str, Path]) -> None:
    """The wide one on a screen and on paper, the narrow one on a telephone."""
    shown = (
        "[...document.querySelectorAll('figure svg')].filter(s => s.getClientRects().length)"
        ".map(s => s.getAttribute('class'))"
    )
    page.open(files["boathouse"], width=390)
    assert set(page.ask(shown)) == {"narrow"}
    page.do("Emulation.setEmulatedMedia", media="print")
    assert set(page.ask(shown)) == {"card", "wide"}
    page.do("Emulation.setEmulatedMedia", media="")
    page.open(files["boathouse"], width=1280)
    assert set(page.ask(shown)) == {"card", "wide"}


def test_letters_are_large_enough_to_read(page: Page, files: dict[str, Path]) -> None:
    """No text of a chart is below 8 pixels, at either width."""
    sizes = (
        "Math.min(...[...document.querySelectorAll('svg text')].filter(t => t.getClientRects().length)"
        ".map(t => parseFloat(getComputedStyle(t).fontSize) * t.getScreenCTM().a))"
    )
    for width in (390, 1280):
        page.open(files["boathouse"], width=width)
        assert page.ask(sizes) >= 7.5


def test_heads_sort_by_keyboard(page: Page, files: dict[str, Path]) -> None:
    """Enter on a head sorts up, again sorts down; numbers as numbers, and the head says which."""
    page.open(files["boathouse"])
    heads = column_heads(page)
    margin = next(n for n, head in enumerate(heads) if head.startswith("Margin"))
    before = column(page, margin)
    assert sort_by(page, margin) == "ascending"
    assert [float(text) for text in column(page, margin)] == sorted(float(text) for text in before)
    assert sort_by(page, margin) == "descending"
    assert [float(text) for text in column(page, margin)] == sorted(map(float, before), reverse=True)
    assert sort_by(page, heads_index(heads, "Heard")) == "ascending"
    levels = column(page, heads_index(heads, "Heard"))
    assert levels == sorted(levels, key=lambda text: [int(n) for n in re.findall(r"[0-9]+", text)])
    assert page.ask(f"{TABLE}.querySelectorAll('[aria-sort]').length") == 1


def column_heads(page: Page) -> list[str]:
    """Return the heads of the table of intrusions."""
    found: list[str] = page.ask(f"[...{TABLE}.tHead.rows[0].cells].map(c => c.textContent)")
    return found


def heads_index(heads: list[str], begins: str) -> int:
    """Return which head begins so."""
    return next(n for n, head in enumerate(heads) if head.startswith(begins))


def test_a_grade_sorts_by_loudness(page: Page, files: dict[str, Path]) -> None:
    """Audible before strong, whatever the alphabet says."""
    page.open(files["lockkeeper"])
    grade = heads_index(column_heads(page), "Grade")
    sort_by(page, grade)
    found = column(page, grade)
    assert found == sorted(found, key=["buried", "audible", "strong"].index)
    assert len(set(found)) == 2


def test_rows_filter_by_words(page: Page, files: dict[str, Path]) -> None:
    """Only rows with all the words stay, whatever their case; an empty field brings all back."""
    page.open(files["boathouse"])
    station = heads_index(column_heads(page), "Station")
    everything = column(page, station)
    page.ask("document.querySelector('input[data-filters=heard-2]').focus()")
    page.write("IMAGE broadcasting")
    found = column(page, station)
    assert 0 < len(found) < len(everything)
    assert all("broadcasting" in text for text in found)
    count = "document.querySelector('output[data-counts=heard-2]').textContent"
    assert page.ask(count) == f"{len(found)} of {len(everything)} rows"
    page.write(" nowhere-to-be-found")
    assert column(page, station) == []
    page.ask("(i => { i.value = ''; i.dispatchEvent(new Event('input')); })(document.activeElement)")
    assert column(page, station) == everything


def test_every_control_is_reached_by_the_tab_key(page: Page, files: dict[str, Path]) -> None:
    """Links, fields and heads come one after the other, and show where they are."""
    page.open(files["lockkeeper"])
    reached = []
    for _ in range(12):
        page.press("Tab", 9)
        reached.append(page.ask("document.activeElement.tagName"))
    assert {"A", "INPUT", "BUTTON"} <= set(reached)
    assert page.ask("getComputedStyle(document.activeElement).outlineStyle") != "none"


def test_the_schemes_differ_and_both_contrast(page: Page, files: dict[str, Path]) -> None:
    """Ink on paper, light or dark, text and charts alike; 7 to 1 (WCAG 2.1, 1.4.6) or better."""
    pairs = set()
    for dark in (False, True):
        page.open(files["boathouse"], dark=dark)
        ink = page.ask("getComputedStyle(document.querySelector('svg text')).fill")
        paper = page.ask("getComputedStyle(document.documentElement).backgroundColor")
        assert page.ask("getComputedStyle(document.body).color") == ink
        pairs.add((ink, paper))
        assert contrast(ink, paper) >= 7.0
    assert len(pairs) == 2


def contrast(one: str, two: str) -> float:
    """Return the contrast ratio of two colours by WCAG 2.1, relative luminance."""

    def luminance(colour: str) -> float:
        parts = [int(text) / 255 for text in re.findall(r"[0-9]+", colour)[:3]]
        linear = [p / 12.92 if p <= 0.03928 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    light, dark = sorted((luminance(one), luminance(two)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize(
    ("name", "width", "height"),
    by_turns(
        [(name, *paper) for name in DEMOS for paper in ((210.0, 297.0), (215.9, 279.4))],
        always=[("boathouse", 210.0, 297.0), ("lockkeeper", 215.9, 279.4)],
        several=True,
    ),
)
def test_it_prints(page: Page, files: dict[str, Path], name: str, width: float, height: float) -> None:
    """On A4 and Letter, upright, nothing cut off at the side, controls left out."""
    page.open(files[name], dark=True)
    printed = page.printed(width, height)
    box = re.search(rb"/MediaBox \[0 0 ([0-9.]+) ([0-9.]+)\]", printed)
    assert box is not None
    assert float(box[1]) == pytest.approx(width / 25.4 * 72, abs=1)
    assert 2 <= len(re.findall(rb"/Type /Page\b", printed)) <= 20
    # what is 11 mm from either edge, at 96 pixels an inch
    room = int((width - 22) / 25.4 * 96)
    page.open(files[name], width=room)
    page.do("Emulation.setEmulatedMedia", media="print")
    try:
        assert page.ask("document.documentElement.scrollWidth") <= room
        hidden = "[...document.querySelectorAll('.tools, nav')].every(e => !e.getClientRects().length)"
        assert page.ask(hidden)
        assert page.ask("getComputedStyle(document.documentElement).backgroundColor") == "rgb(255, 255, 255)"
        # what is read at one setting stays on one page, and longer tables may go on to the next
        kept = (
            "[...document.querySelectorAll('table')].filter("
            "t => getComputedStyle(t).breakInside === 'avoid').map(t => t.caption || t.id)"
        )
        together = page.ask(kept)
        assert together
        assert all(name.startswith("bench-") for name in together)
        assert page.ask("document.querySelectorAll('table[id^=bench-]').length") == len(together)
    finally:
        page.do("Emulation.setEmulatedMedia", media="")


def test_without_script_the_page_is_whole(page: Page, files: dict[str, Path]) -> None:
    """Tables are there, fields that would do nothing are not."""
    page.do("Emulation.setScriptExecutionDisabled", value=True)
    try:
        page.open(files["lockkeeper"])
        tree = page.do("DOM.getDocument", depth=-1)
        html = page.do("DOM.getOuterHTML", nodeId=tree["root"]["nodeId"])["outerHTML"]
        assert '<p class="tools" hidden' in html
        # those of the dial stand in what stays hidden
        dial = html[html.index('id="dial-section" class="turning" hidden') :]
        assert html.count("<button") == dial[: dial.index("</section>")].count("<button")
        assert html.count("<tr") > 50
    finally:
        page.do("Emulation.setScriptExecutionDisabled", value=False)


def test_long_tables_are_cut_on_paper_and_say_so(page: Page, files: dict[str, Path]) -> None:
    """The first rows that a filter leaves, and a sentence; the sheet for the bench stands whole."""
    page.open(files["boathouse"])
    shown = (
        "[...document.querySelectorAll('table')].map(t => [t.id, t.tBodies[0].rows.length, "
        "[...t.tBodies[0].rows].filter(r => r.getClientRects().length).length])"
    )
    sentences = (
        "[...document.querySelectorAll('p')].filter(p => p.textContent.startsWith('On paper the first')"
        " && p.getClientRects().length).length"
    )
    assert page.ask(sentences) == 0
    page.do("Emulation.setEmulatedMedia", media="print")
    try:
        counts = {name: (rows, seen) for name, rows, seen in page.ask(shown)}
        long = [name for name, (rows, _) in counts.items() if rows > MOST_PRINTED]
        assert "own-1" in long
        assert all(name.split("-")[0] in ("heard", "own") for name in long)
        assert all(seen == min(rows, MOST_PRINTED) for rows, seen in counts.values())
        assert page.ask(sentences) == len(long)
        page.ask(
            "(() => { const input = document.querySelector('input[data-filters=\"own-1\"]');"
            " input.value = 'calibrator 16'; input.dispatchEvent(new Event('input')); })()"
        )
        left = page.ask("document.querySelectorAll('#own-1 tbody tr:not([hidden])').length")
        assert 0 < left <= MOST_PRINTED
        assert {name: seen for name, _, seen in page.ask(shown)}["own-1"] == left
    finally:
        page.do("Emulation.setEmulatedMedia", media="")


def test_long_tables_fold_on_a_screen(page: Page, files: dict[str, Path]) -> None:
    """Ten rows, all of them by a button or where something is looked for; paper is folded apart from that."""
    rows = f"[...{TABLE}.tBodies[0].rows].filter(r => r.getClientRects().length).length"
    page.open(files["boathouse"])
    every = page.ask(f"{TABLE}.tBodies[0].rows.length")
    assert every > 10
    assert page.ask(rows) == 10
    page.ask(f"{TABLE}.nextElementSibling.click()")
    assert page.ask(rows) == every
    page.ask(f"{TABLE}.nextElementSibling.click()")
    page.do("Emulation.setEmulatedMedia", media="print")
    assert page.ask(rows) == every
    page.do("Emulation.setEmulatedMedia", media="")
    page.ask("document.querySelector('input[data-filters=heard-2]').focus()")
    page.write("image broadcasting")
    assert 10 < page.ask(rows) < every


def test_a_sheet_for_the_bench_folds_on_a_screen(page: Page, files: dict[str, Path]) -> None:
    """A screen has its first table and a button for the rest; paper, and a page without script, have all."""
    part = "document.querySelector('section[data-folds]')"
    seen = f"[...{part}.querySelectorAll('table')].filter(t => t.getClientRects().length).length"
    page.open(files["boathouse"], width=390)
    every = page.ask(f"{part}.querySelectorAll('table').length")
    assert every > 10
    assert page.ask(seen) == 0
    page.ask(f"{part}.querySelector('button.opens').click()")
    assert page.ask(seen) == 1
    page.ask(f"[...{part}.querySelectorAll('button.more')].pop().click()")
    assert page.ask(seen) == every
    page.ask(f"[...{part}.querySelectorAll('button.more')].pop().click()")
    assert page.ask(seen) == 1
    page.do("Emulation.setEmulatedMedia", media="print")
    assert page.ask(seen) == every
    page.do("Emulation.setEmulatedMedia", media="")
    page.do("Emulation.setScriptExecutionDisabled", value=True)
    try:
        page.open(files["boathouse"], width=390)
        assert page.ask(seen) == every
    finally:
        page.do("Emulation.setScriptExecutionDisabled", value=False)


@pytest.mark.parametrize("name", DEMOS)
def test_a_page_on_a_telephone_has_an_end(page: Page, files: dict[str, Path], name: str) -> None:
    """At 390 px the answer stands on the first screen, then the dials; the rest opens when it is wanted."""
    page.open(files[name], width=390, height=844)
    assert page.ask("document.querySelector('.verdict').getBoundingClientRect().bottom") < 844
    first = "document.querySelector('figure.dials').getBoundingClientRect().top"
    assert page.ask(first) < page.ask("document.querySelector('main').getBoundingClientRect().top")
    folded = page.ask("document.documentElement.scrollHeight")
    page.ask("[...document.querySelectorAll('button.more')].forEach(b => b.click())")
    assert folded < 0.2 * page.ask("document.documentElement.scrollHeight")
    assert folded <= 7 * 844


def test_what_is_closed_on_a_telephone_opens_by_its_link(page: Page, files: dict[str, Path]) -> None:
    """Also when the address leads there; a wide screen and paper have it open, and no button for it."""
    shown = "document.querySelector('section[data-folds] .caution').getClientRects().length"
    page.open(files["boathouse"], width=390)
    assert page.ask(shown) == 0
    page.ask("document.querySelector('main a[href=\"#bench\"]').click()")
    assert page.ask(shown) == 1
    page.open(files["boathouse"], width=390)
    page.do("Emulation.setEmulatedMedia", media="print")
    assert page.ask(shown) == 1
    page.do("Emulation.setEmulatedMedia", media="")
    page.open(files["boathouse"], width=1280)
    assert page.ask(shown) == 1
    buttons = "[...document.querySelectorAll('button.opens')].filter(b => b.getClientRects().length).length"
    assert page.ask(buttons) == 0


@pytest.mark.parametrize("name", DEMOS)
def test_words_of_a_cell_stand_beside_each_other(page: Page, files: dict[str, Path], name: str) -> None:
    """At 390 px a list in a cell runs on as text does: none of its words is a column a letter wide."""
    page.open(files[name], width=390)
    tall = "[...document.querySelectorAll('td span')].filter(s => s.getBoundingClientRect().height > 45)"
    assert page.ask("document.querySelectorAll('td span').length") > 100
    assert page.ask(f"{tall}.map(s => s.textContent)") == []


@pytest.mark.long
def test_heads_stand_on_every_page_of_a_table(page: Page, files: dict[str, Path]) -> None:
    """The buttons in them do not keep the browser from repeating them on paper."""
    page.open(files["boathouse"])
    page.do("Emulation.setEmulatedMedia", media="print")
    display = f"getComputedStyle({TABLE}.tHead.querySelector('button')).display"
    assert page.ask(display) == "contents"
    assert page.ask(f"getComputedStyle({TABLE}.tHead).display") == "table-header-group"
    page.do("Emulation.setEmulatedMedia", media="")


@pytest.mark.long
@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="no pdftotext on this machine")
@pytest.mark.parametrize("script", [True, False])
@pytest.mark.parametrize("paper", [(210.0, 297.0), (215.9, 279.4)], ids=["A4", "Letter"])
def test_heads_are_printed_on_every_page_of_a_table(
    page: Page, files: dict[str, Path], tmp_path: Path, script: bool, paper: tuple[float, float]
) -> None:
    """Whatever page has rows of the whistles or of the intrusions has the head of that table above them."""
    page.do("Emulation.setScriptExecutionDisabled", value=not script)
    try:
        page.open(files["boathouse"])
        (tmp_path / "report.pdf").write_bytes(page.printed(*paper))
    finally:
        page.do("Emulation.setScriptExecutionDisabled", value=False)
    done = subprocess.run(
        ["pdftotext", "-layout", tmp_path / "report.pdf", "-"], capture_output=True, text=True, check=True
    )
    pages = done.stdout.split("\f")
    found = {"intrusions": 0, "whistles": 0}
    for text in pages:
        for name, row, head in (
            ("intrusions", r"^ *[1-4] +[\d.]+-[\d.]+ +(strong|audible) ", r"^ *Range .*By way of"),
            ("whistles", r"^ *[1-4] +\d+-\d+ +\d+\.\d +", r"^ *Range .*What meets there"),
        ):
            first = re.search(row, text, re.MULTILINE)
            if first is None:
                continue
            found[name] += 1
            above = re.search(head, text[: first.start()], re.MULTILINE)
            assert above is not None, (name, text[:300])
    assert found["intrusions"] >= 2
    assert found["whistles"] >= 3

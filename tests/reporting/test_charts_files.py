"""Charts as files: three kinds, the same bytes every time, refused in plain words."""

from __future__ import annotations

import io
import re
import shlex
import subprocess
import sys
from functools import partial
from itertools import combinations
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import numpy as np
import numpy.typing as npt
import pytest
from matplotlib.image import imread

from spurplan.cli import main
from spurplan.errors import Refused
from spurplan.occupancy.bands import read_bands
from spurplan.reporting.charts import dial_row, if_change, ink, ranges, readings
from spurplan.reporting.charts.dial_row import BAR, FRONT, NOISE
from spurplan.reporting.charts.legend import Draw, a_band, a_line
from spurplan.reporting.charts.sheet import AUDIBLE, Box, Ground, Hatch, Pen, Sheet, Stroke, Words, text_width
from spurplan.responses.asking import Settings
from spurplan.responses.turning import turned_ranges
from tests.charting import ROOT, demo, picked, ranges_of, stretch
from tests.turns import by_turns

SET = str(ROOT / "demos" / "boathouse" / "set.toml")
SVG = "{http://www.w3.org/2000/svg}"


def _as_in_key(kind: str, sheet: Sheet, box: Box) -> None:
    dial_row.sample(sheet, kind, box.left, box.bottom - 0.5)


@pytest.fixture(scope="module")
def made() -> Sheet:
    turned = turned_ranges(demo("boathouse"), read_bands(None), Settings())
    return ranges.sheet(ranges_of("boathouse"), demo("boathouse"), 720.0, turned=turned)


@pytest.mark.parametrize("kind", ink.KINDS)
def test_the_same_sheet_gives_the_same_bytes(made: Sheet, kind: str) -> None:
    """No date, no chance: twice drawn is once drawn."""
    assert ink.picture(made, kind) == ink.picture(made, kind)


@pytest.mark.long
def test_another_process_gives_the_same_bytes(tmp_path: Path, made: Sheet) -> None:
    """Nor does the order of a set or the hash of a word show."""
    words = ["ranges", SET, "--top", "1", "--chart", str(tmp_path / "chart.svg")]
    for seed in ("1", "2"):
        subprocess.run(
            [sys.executable, "-m", "spurplan", *words],
            check=True,
            capture_output=True,
            env={"PYTHONHASHSEED": seed, "PYTHONPATH": str(ROOT), "PATH": "", "HOME": str(tmp_path)},
        )
        assert (tmp_path / "chart.svg").read_bytes() == ink.picture(made, "svg")


def test_a_user_s_own_settings_of_matplotlib_change_nothing(made: Sheet) -> None:
    """Somebody's style is for their charts."""
    import matplotlib as mpl

    before = ink.picture(made, "svg")
    with mpl.rc_context({"font.family": "monospace", "lines.linewidth": 9, "svg.fonttype": "path"}):
        assert ink.picture(made, "svg") == before
        assert mpl.rcParams["lines.linewidth"] == 9


def test_an_svg_is_well_formed_and_its_texts_are_text(made: Sheet) -> None:
    """Each text of the sheet stands in the file as letters that can be searched for."""
    tree = ElementTree.fromstring(ink.picture(made, "svg"))
    texts = ["".join(element.itertext()).strip() for element in tree.iter(f"{SVG}text")]
    assert sorted(texts) == sorted(word.text.strip() for word in made.words())


def test_an_svg_asks_for_nothing_and_names_no_time(made: Sheet) -> None:
    """No link, no script, no image, no date."""
    svg = ink.picture(made, "svg").decode()
    assert not re.search(r"<(?:image|script|a|use)\b|url\((?!#)|<dc:date>", svg)
    assert not re.search(r'href="(?!#)', svg)


def test_a_png_is_two_hundred_dots_an_inch(made: Sheet) -> None:
    """Sharp on paper."""
    png = ink.picture(made, "png")
    assert png[:8] == b"\x89PNG\r\n\x1a\n"
    assert int.from_bytes(png[16:20], "big") == round(720 / 72 * 200)


def test_a_pdf_has_no_date_and_one_page(made: Sheet) -> None:
    """Fonts embedded, no time of making."""
    pdf = ink.picture(made, "pdf")
    assert pdf[:5] == b"%PDF-"
    assert b"CreationDate" not in pdf
    assert b"ModDate" not in pdf
    assert len(re.findall(rb"/Type /Page\b", pdf)) == 1
    assert b"/FontFile2" in pdf


def test_a_chart_is_one_hue_on_white(made: Sheet) -> None:
    """One ink in all its weights; told apart by thickness and dashes."""
    svg = ink.picture(made, "svg").decode()
    assert set(re.findall(r"#[0-9a-f]{6}", svg)) == {"#ffffff", "#000000"}
    pens = {item.pen for item in made.items if isinstance(item, Stroke)}
    solid = sorted(pen.width for pen in pens if pen.line == "solid" and pen.tint == 1.0)
    assert solid[-1] >= 2 * solid[-2] or solid[-1] >= 2.0
    assert any(isinstance(item, Hatch) for item in made.items)
    # what is solid is ink and nothing between
    assert all(item.tint < 0.2 or item.tint == 1.0 for item in made.items if isinstance(item, Ground))


def copied(sheet: Sheet) -> npt.NDArray[np.bool_]:
    """Return which dots of a sheet are black in a copy in one bit, a hundred to the inch."""
    grey = imread(io.BytesIO(ink.picture(sheet, "png")))[:, :, 0]
    rows, columns = (size // 2 * 2 for size in grey.shape)
    halved = grey[:rows, :columns].reshape(rows // 2, 2, columns // 2, 2).mean(axis=(1, 3))
    return halved < 0.5


SAMPLES: dict[str, Draw] = {
    **{
        kind: partial(_as_in_key, kind)
        for kind in ("strong", "audible", "buried", "noise", "bar", "front end", "aerial")
    },
    "in eight worlds of ten": a_band(if_change.BAND_TINT, if_change.EDGE),
    "spread of a reading": a_band(readings.SPREAD_TINT, readings.EDGE),
    "inside a range": a_line(if_change.INSIDE),
    "usable": a_line(if_change.CURVE),
}


@pytest.mark.parametrize("name", SAMPLES)
def test_what_a_key_names_survives_a_copy_in_one_bit(name: str) -> None:
    """Wherever on the grid of the copy it falls: a grey hair line is gone from it."""
    for off in np.arange(0.0, 0.72, 0.12).tolist():
        made = Sheet(60.0, 40.0)
        SAMPLES[name](made, Box(20.0, 16.0 + off, 36.0, 22.0 + off))
        assert copied(made).sum() >= 4, off


@pytest.mark.parametrize(("one", "other"), [*combinations((NOISE, BAR, FRONT, AUDIBLE), 2)])
def test_lines_that_stand_together_differ_by_more_than_width(one: Pen, other: Pen) -> None:
    """The noise, what a tone needs, what the circuits ask and an audible one are told apart in a copy."""
    assert one.line != other.line
    assert one.tint == other.tint == 1.0


def test_letters_that_no_font_holds_do_no_harm() -> None:
    """An empty box in png and pdf, the letter itself in svg; no warning, no markup."""
    odd = ranges.sheet(picked([stretch(label="放送 $x^2$ \U0001f4fb <b> & ]]>")]), demo("boathouse"), 560.0)
    for kind in ink.KINDS:
        drawn = ink.picture(odd, kind)
    ElementTree.fromstring(ink.picture(odd, "svg"))
    assert "放送 $x^2$" in ink.picture(odd, "svg").decode()
    assert len(drawn) > 1000


def test_an_inline_svg_takes_ink_and_paper_of_the_page(made: Sheet) -> None:
    """Both colour schemes, no size of its own, a sentence for those who can not see it."""
    text = ink.inline_svg(made, "wide")
    element = ElementTree.fromstring(text)
    assert element.get("role") == "img"
    assert "range 4" in str(element.get("aria-label"))
    assert element.get("width") is None
    assert not re.findall(r"#[0-9a-f]{6}", text)
    assert "var(--ink)" in text
    assert not re.search(r"\bid=", text), "an id would stand twice in a page with two charts"


@pytest.mark.parametrize(
    "words",
    [["ranges", SET], ["dial", SET, "28.3", "MHz"], ["station", SET, "15300", "kHz"]],
    ids=lambda words: words[0],
)
@pytest.mark.parametrize("kind", by_turns(ink.KINDS, always=("svg",)))
def test_each_command_draws_each_kind(words: list[str], kind: str, tmp_path: Path, capsys: Any) -> None:
    """The chart goes to its file, the answer to standard output as ever."""
    target = tmp_path / f"chart.{kind.upper()}"
    assert main([*words, "--chart", str(target)]) == 0
    assert "Boathouse valve set" in capsys.readouterr().out
    assert target.stat().st_size > 5_000


@pytest.mark.parametrize("name", ["chart.gif", "chart", "chart.svg.txt"])
def test_another_ending_is_refused(name: str, tmp_path: Path, capsys: Any) -> None:
    """By name and remedy, before anything is written."""
    assert main(["ranges", SET, "--chart", str(tmp_path / name)]) == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert "does not end in .svg, .png or .pdf" in err
    assert list(tmp_path.iterdir()) == []


def test_a_missing_package_is_said_with_its_remedy(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: Any
) -> None:
    """Without the extra there is a sentence, not a traceback."""
    monkeypatch.setitem(sys.modules, "matplotlib", None)
    assert main(["ranges", SET, "--chart", str(tmp_path / "chart.svg")]) == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert err == (
        f"--chart: needs matplotlib, which is not installed; install it with: "
        f"{shlex.quote(sys.executable)} -m pip install matplotlib jinja2\n"
    )


def test_an_unwritable_chart_is_refused(tmp_path: Path) -> None:
    """As every other file."""
    with pytest.raises(Refused, match="no such folder"):
        ink.write(Sheet(100.0, 50.0), tmp_path / "no" / "chart.svg")


def test_no_window_system_is_touched() -> None:
    """Figures without pyplot: nothing is kept, nothing opened."""
    done = subprocess.run(
        [
            sys.executable,
            "-c",
            "import sys; from spurplan.cli import main; "
            f"main(['ranges', {SET!r}, '--chart', '/dev/null/no.svg']); "
            "print('matplotlib.pyplot' in sys.modules, 'pandas' in sys.modules, 'scipy' in sys.modules)",
        ],
        capture_output=True,
        text=True,
        check=True,
        cwd=ROOT,
    )
    assert done.stdout.splitlines()[-1] == "False False False"


@pytest.mark.parametrize("size", [6.2, 6.6, 7.4, 9.0, 12.0])
def test_a_long_line_is_no_longer_in_a_picture_than_it_was_laid_out_for(size: float) -> None:
    """Letters of a PNG stand where those of the other kinds do, not on the next whole dot."""
    text = "Most is lost by way of the IF breakthrough, Medium wave carrier near 1600 kHz first, " * 2
    made = Sheet(10.0 + 1.2 * text_width(text, size), 30.0)
    made.add(Words(10.0, 20.0, text, size))
    picture = imread(io.BytesIO(ink.picture(made, "png")))[..., :3].mean(axis=2)
    last = np.flatnonzero((picture < 0.8).any(axis=0))[-1] * 72 / ink.PNG_DPI
    assert 0.96 * text_width(text, size) < last - 10.0 <= text_width(text, size)

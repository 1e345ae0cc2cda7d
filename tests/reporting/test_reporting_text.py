"""Pages for people: they fit, say what they leave out, and do no harm."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.cells import cell_len

from spurplan import units
from spurplan.columns import Column, table_of
from spurplan.reporting.layout import Cells, default_layout, frequency_texts, written
from spurplan.reporting.markdown import markdown
from spurplan.reporting.plain import harmless
from spurplan.reporting.text import Page, fitting, text
from spurplan.reporting.views import intrusions
from spurplan.reporting.views.pairs import folded
from spurplan.responses.pairs.records import PAIR_COLUMNS
from tests.answers import HOSTILE, answer, row, table

MANY = [row(label=f"Station {n}", steps=[n, 1]) for n in range(50)]
DIAL_STRETCHES = [
    row(dial_low_hz=14_115_001, dial_high_hz=14_284_999, rf_low_hz=15_045_000, rf_high_hz=15_215_000),
    row(
        range="3",
        grade="buried",
        equation="IF1 = 2 LO1 - RF; IF2 = IF1 - LO2",
        label="Coast station Nordhafen",
    ),
    row(label=HOSTILE, row=3, grade="audible", heard_s="S5"),
]


def page(*rows: dict[str, object], width: int = 80, top: int = 30, emphasis: bool = False) -> str:
    made = answer(*rows)
    return text(made, Page(width, emphasis, top), intrusions.view(made))


@pytest.mark.parametrize("width", [72, 80, 100, 132, 200])
@pytest.mark.parametrize("rows", [MANY, DIAL_STRETCHES, [row()], [row(label="x" * 300)]])
def test_no_line_is_wider_than_the_page(width: int, rows: list[dict[str, object]]) -> None:
    """Labels wrap, whole columns go; no line is left for the terminal to break."""
    lines = page(*rows, width=width).splitlines()
    assert max(map(cell_len, lines)) <= width


@settings(deadline=None)  # the first call imports what tells wide characters
@given(st.lists(st.text(max_size=60), min_size=1, max_size=3), st.integers(72, 220))
def test_no_label_breaks_the_page(labels: list[str], width: int) -> None:
    """Wide characters take two columns, others none; the page fits with any of them."""
    lines = page(
        *(row(label=label, steps=[n, 1]) for n, label in enumerate(labels)), width=width
    ).splitlines()
    assert max(map(cell_len, lines)) <= width


def test_ranges_that_hold_one_setting_are_told_apart() -> None:
    """Which position of the switch is meant stays, whatever else must go."""
    shown = page(row(range="D"), row(range="E", heard_s="S8", equation="IF1 = 2 LO1 - RF; IF2 = IF1 - LO2"))
    assert re.search(r"^Range +", shown, re.MULTILINE)


def test_a_dial_marked_in_another_frequency_is_told_from_the_signal() -> None:
    """Behind a crystal the set shows something else; a pointer a little off is no column."""
    stretch = {"dial_low_hz": 14_100_000, "dial_high_hz": 14_300_000}
    other = page(row(**stretch, set_dial_hz=3_300_000), width=200)
    assert "Tuned to" in other
    assert "Set's dial" in other
    off = page(row(**stretch, set_dial_hz=14_205_000), width=200)
    assert "On the dial" in off
    assert "Set's dial" not in off


def test_none_found_is_not_the_end_of_it() -> None:
    """The levels are typical; a local station is not."""
    assert "a strong local station may come through" in " ".join(page().split())


def test_eighty_columns_say_who_where_how_loud_and_which_way() -> None:
    """The page of a pocket terminal answers the question without a manual."""
    shown = page(*DIAL_STRETCHES)
    for said in (
        "strong",
        "S9+16",
        "Marrowmere",
        "14.115-14.285",
        "15.045-15.215",
        "image",
        "(MHz)",
        "Margin",
    ):
        assert said in shown


@pytest.mark.parametrize("width", [80, 200])
def test_a_frequency_is_never_cut_or_broken(width: int) -> None:
    """Every frequency stands on one line, a stretch rounded outward to the kilohertz."""
    shown = page(row(dial_low_hz=14_115_001, dial_high_hz=14_284_999, label="long words " * 20), width=width)
    assert "14.115-14.285" in shown
    assert "15.130" in shown


def test_rows_left_out_are_counted() -> None:
    """Nothing goes without a word."""
    assert "20 more rows left out; --top 0 shows all 50." in page(*MANY)
    assert "left out" not in page(*MANY, top=0, width=200)
    assert page(*MANY, top=0).count("Station ") >= 50


def test_rows_that_say_the_same_are_one_row_and_that_is_said() -> None:
    """Two stations of one service by one way in are one line; programs get both."""
    shown = page(row(), row(label="Radio Windmill"))
    assert "Intrusions: 2 records in 1 line." in shown
    assert shown.count("S9+16") == 1


def test_columns_left_out_are_named() -> None:
    """What the width costs is said, and a wide page costs nothing."""
    narrow = " ".join(page(*DIAL_STRETCHES).split())
    assert re.search(r"Left out at this width: .*Rejection \(dB\), Moves, Level\.", narrow)
    assert "Shortened: By way of." in narrow
    assert "IF = RF - LO" not in narrow
    wide = page(*DIAL_STRETCHES, width=200)
    assert "Left out" not in wide
    assert "Shortened" not in wide
    assert "IF = RF - LO" in wide


@pytest.mark.parametrize("width", [40, 60, 80, 100, 200])
def test_range_and_margin_stay_at_any_width(width: int) -> None:
    """What decides is on the page of a telephone; the way in goes before it."""
    shown = page(row(range="D", dial_low_hz=14_115_001), row(range="E", margin_db=-3.4), width=width)
    heads = shown.split("-----")[0].split()
    assert {"Range", "Margin"} <= set(heads)
    assert "-3" in shown


def test_a_column_comes_back_where_a_wider_one_left_room() -> None:
    """Of two that go, the narrow one has room once the wide one went."""
    cells = [
        Cells("Cure", ["preselector of two circuits"], False, 0),
        Cells("Between (%)", ["98-100"], True, 2),
        Cells("Not cured", ["a station of the nineteen metre band by way of the image"], False, 1),
    ]
    shown, gone, _ = fitting(cells, 40)
    assert ([entry.head for entry in shown], gone) == (["Cure", "Between (%)"], ["Not cured"])


@given(
    st.integers(30, 90), st.lists(st.sampled_from(["99 %", "22 dB", "14.2 MHz", "so", "usable"]), min_size=30)
)
def test_a_number_and_its_unit_stay_on_one_line(width: int, words: list[str]) -> None:
    heading = " ".join(words)
    lines = text(replace(answer(), receiver=heading), Page(width)).splitlines()
    assert not any(line.strip().startswith(("%", "dB", "MHz")) for line in lines)
    assert heading in " ".join(line.strip() for line in lines)
    assert "\N{NO-BREAK SPACE}" not in "".join(lines)


def test_all_frequencies_of_a_table_have_one_unit() -> None:
    """A dial on short wave and an intruder on medium wave are both in kilohertz: they compare along a row."""
    made = table(
        [row(dial_low_hz=14_115_000, dial_high_hz=14_284_999, rf_low_hz=650_000, rf_high_hz=660_000)]
    )
    cells = {one.head: one.texts[0] for one in written(made, intrusions.columns_of(made))}
    assert cells["On the dial (kHz)"] == "14115-14285"
    assert cells["Really on (kHz)"] == "650-660"


@given(
    st.lists(st.tuples(st.integers(150_000, 30_000_000), st.integers(0, 2_000_000)), min_size=1, max_size=5)
)
def test_a_stretch_for_the_eye_holds_all_of_it(stretches: list[tuple[int, int]]) -> None:
    """Rounded outward and by less than 1 kHz: nothing that is heard lies beside what is said."""
    edges = [[low for low, _ in stretches], [low + wide for low, wide in stretches]]
    unit, (lows, highs) = frequency_texts(edges, aligned=False, near=True, outward=True)
    for (low, wide), said_low, said_high in zip(stretches, lows, highs, strict=True):
        if wide:
            assert 0 <= low - units.parse_hz(f"{said_low} {unit}") < 1_000
            assert 0 <= units.parse_hz(f"{said_high} {unit}") - (low + wide) < 1_000


def test_half_a_kilohertz_of_a_low_station_stays() -> None:
    """77.5 kHz is a station, 78 kHz is none; on short wave a kilohertz is as near as a pointer shows."""
    assert frequency_texts([[77_500, 1_278_000]], near=True) == ("kHz", [["77.5", "1278.0"]])
    assert frequency_texts([[11_171_376]], near=True) == ("MHz", [["11.171"]])


def test_assumptions_are_one_line_where_something_shows_them() -> None:
    """How many, and by what they are shown; alone on a page they are said."""
    made = answer(row())
    count = len(made.assumptions)
    folded = text(made, Page(80, assumed_by="--assumptions shows them"))
    assert f"{count} assumption{'s' if count > 1 else ''}: --assumptions shows them." in folded
    assert made.assumptions[0] not in folded
    assert made.assumptions[0] in text(made, Page(200))


def test_the_grade_is_a_word_with_and_without_emphasis() -> None:
    """Colour only repeats what the word says, in that cell alone; without it no escape is written."""
    plain, styled = page(*DIAL_STRETCHES), page(*DIAL_STRETCHES, emphasis=True)
    assert "\x1b" not in plain
    stressed = re.findall(r"\x1b\[[0-9;]+m(.*?)\x1b\[0m", styled)
    lines = intrusions.view(answer(*DIAL_STRETCHES)).tables
    assert lines is not None
    assert len(stressed) == len(lines["intrusions"]) > 1
    assert all(re.fullmatch(r"-?\d+", one) for one in stressed), "the margin, and nothing else"
    assert re.sub(r"\x1b\[[0-9;]*m", "", styled) == plain
    wide = page(*DIAL_STRETCHES, width=120)
    for grade in lines["intrusions"]["grade"]:
        assert grade in wide


def test_assumptions_and_cautions_stand_below_the_table() -> None:
    """What was taken for granted and what can hurt are on the page itself."""
    shown = page(row())
    assert (
        shown.index("By way of") < shown.index("Assumed:\n- one circuit") < shown.index("Caution: the tables")
    )


def test_levels_that_nobody_measured_are_said_to_be_assumed() -> None:
    """The page never passes an assumed level as a known one."""
    assert "All levels are assumed" in page(row())
    assert "1 of the 2 levels is assumed" in page(row(), row(level_from="table"))
    assert "assumed" not in page(row(level_from="table")).split("Assumed:")[0]


def test_nothing_found_says_so() -> None:
    """An empty answer is a sentence, not an empty page."""
    assert "No intrusions." in page()


def test_labels_are_shown_as_they_are_and_do_nothing() -> None:
    """Markup stays letters; sequences for the terminal are gone; marks that turn text round show."""
    shown = page(row(label=HOSTILE), width=200)
    assert "[red]Radio|Söder `x` \\u202e<b>" in shown
    assert not set(shown) & set("\x1b\x07\x9b\u202e")


@given(st.text())
def test_harmless_text_holds_nothing_a_terminal_acts_on(label: str) -> None:
    """Only printable characters and blanks are left, and harmless text stays as it is."""
    shown = harmless(label)
    assert not re.search("[\x00-\x1f\x7f-\x9f\u200e\u200f\u202a-\u202e\u2066-\u2069\ud800-\udfff]", shown)
    assert harmless(shown) == shown


@pytest.mark.parametrize(
    ("values", "unit", "texts"),
    [
        ([14_200_000, 7_100_000], "MHz", ["14.200", "7.100"]),
        ([14_200_001, 7_100_000], "kHz", ["14200.001", "7100.000"]),
        ([675_000, 15_130_000], "kHz", ["675", "15130"]),
        ([1_799_000], "kHz", ["1799"]),
        ([1_800_000], "MHz", ["1.800"]),
        ([250, None], "Hz", ["250", "-"]),
        ([-4_800, 900], "kHz", ["-4.8", "0.9"]),
        ([], "kHz", []),
    ],
)
def test_one_unit_serves_all_frequencies_of_a_column(
    values: list[int | None], unit: str, texts: list[str]
) -> None:
    """Megahertz with three decimals where that is exact and all are short wave, else kilohertz."""
    assert frequency_texts([values]) == (unit, [texts])


@given(st.lists(st.integers(1, 30_000_000_000), min_size=1, max_size=5))
def test_no_digit_of_a_frequency_is_lost(values: list[int]) -> None:
    """What is written reads back as the same hertz."""
    unit, [texts] = frequency_texts([values])
    assert [units.parse_hz(f"{written_one} {unit}") for written_one in texts] == values


@pytest.mark.parametrize("name", ["clear_share", "usable_low", "chance"])
def test_a_share_is_percent_and_never_rounded_to_all_or_nothing(name: str) -> None:
    """99.97 % clear is not clear, and unknown is not zero."""
    import numpy as np

    from spurplan.columns import Table

    column = Column(name, "float", "", True, "Clear", "part that is clear")
    shares = Table("ranges", (column,), {name: np.array([1.0, 0.9997, 0.5, 0.0001, 0.0, np.nan])})
    [cells] = written(shares)
    assert cells.head == "Clear (%)"
    assert cells.texts == ["100", ">99", "50", "<1", "0", "-"]


def test_the_default_layout_shows_each_column_that_has_a_head() -> None:
    """A column without a head stays out of text; two edges make one column."""
    made = table([row()])
    heads = [show.head for show in default_layout(made)]
    assert heads[:3] == ["Range", "Dial from", "From"]
    assert "To" not in heads
    shown = {name for show in default_layout(made) for name in show.fields}
    assert shown >= {column.name for column in made.columns if column.text}
    assert not shown & {"steps", "table", "row"}


def test_markdown_shows_labels_as_they_are() -> None:
    """A pipe, a bracket or a backtick in a label can not break the table, and no HTML passes."""
    shown = markdown(answer(row(label=HOSTILE), row()))
    lines = [line for line in shown.splitlines() if line.startswith("|")]
    assert len(lines) == 4
    assert len({len(re.findall(r"(?<!\\)\|", line)) for line in lines}) == 1
    assert "\\[red\\]Radio\\|Söder \\`x\\` \\\\u202e\\<b\\>" in shown
    assert "Caution: the tables" in shown


def test_markdown_counts_what_it_leaves_out() -> None:
    """The same sentence as in text."""
    shown = markdown(answer(*MANY), top=2)
    assert "48 more rows left out; --top 0 shows all 50." in shown


def test_nothing_reads_as_less_than_nothing() -> None:
    """What rounds to 0 has no sign; what does not keeps it."""
    column = Column("off_db", "float", "dB", False, "Off", "")
    found = table_of("t", (column,), [{"off_db": -0.04}, {"off_db": -0.06}])
    assert written(found)[0].texts == ["0.0", "-0.1"]


def test_pairs_that_touch_are_one_line_on_all_of_their_dial() -> None:
    """The loudest of them, and the stretch they cover together; what lies apart has its own line, and lines
    stand in the order of the table whatever their place on the dial."""
    stretches = [(9_000, 9_010), (7_000, 7_010), (7_011, 7_020), (8_000, 8_010)]
    unknown = {"int": 0, "float": 0.0, "text": "", "bool": False}
    records = [
        {column.name: unknown[column.kind] for column in PAIR_COLUMNS}
        | {"dial_low_hz": low, "dial_high_hz": high, "label_1": f"Station {number}", "label_2": "Buoy"}
        for number, (low, high) in enumerate(stretches)
    ]
    lines, remark = folded(table_of("pairs", PAIR_COLUMNS, records))
    told = [(r["label_1"], r["dial_low_hz"], r["dial_high_hz"], r["label_2"]) for r in lines.records()]
    assert told == [
        ("Station 0", 9_000, 9_010, "Buoy"),
        ("Station 1", 7_000, 7_020, "Buoy (and 1 more pair)"),
        ("Station 3", 8_000, 8_010, "Buoy"),
    ]
    assert remark.startswith("Pairs: 4 in 3 lines;")

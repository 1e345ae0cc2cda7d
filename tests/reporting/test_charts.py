"""What is drawn: places, heights, labels, as the layouts give them before anything is drawn."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import spurplan
from spurplan.reporting.charts import dial, ranges, setting
from spurplan.reporting.charts import sheet as sheets
from spurplan.reporting.charts.dial_row import AERIAL, FRONT, NOISE
from spurplan.reporting.charts.labels import Place, Wish, box_of, place
from spurplan.reporting.charts.marks import s_units, skyline, spoilt
from spurplan.reporting.charts.scale import NUMBERED, Scale
from spurplan.reporting.charts.sheet import Box, Hatch, Pen, Stroke, Words, cut, shown, text_width, wrapped
from spurplan.reporting.charts.verdicts import verdict
from spurplan.responses.asking import Settings, as_bands
from spurplan.responses.turning import turned_ranges
from spurplan.units import parse_hz
from tests.answers import HOSTILE, row, table
from tests.charting import DEMOS, WIDTHS, covering, crowd, demo, outside, picked, ranges_of, stretch
from tests.drawn_sets import twelve

SCALES = st.tuples(st.integers(10_000, 1_000_000_000), st.floats(1.01, 20.0), st.floats(80.0, 900.0)).map(
    lambda t: Scale(t[0], int(t[0] * t[1]) + 1, 32.0, 32.0 + t[2])
)


# the scale


@given(SCALES, st.floats(0.0, 1.0))
def test_a_scale_is_straight(scale: Scale, part: float) -> None:
    """A frequency a part of the way up stands the same part of the way along."""
    hz = scale.low_hz + part * (scale.high_hz - scale.low_hz)
    assert scale.at(hz) == pytest.approx(scale.left + part * (scale.right - scale.left))


@given(SCALES, st.floats(18.0, 60.0))
def test_ticks_stand_in_ones_twos_and_fives(scale: Scale, room: float) -> None:
    """Numerals are multiples of 1, 2 or 5 times a power of ten, have room, and are exact."""
    ticks = scale.ticks(room)
    assert [tick.hz for tick in ticks] == sorted({tick.hz for tick in ticks})
    assert all(scale.low_hz <= tick.hz <= scale.high_hz for tick in ticks)
    assert all(tick.x == pytest.approx(scale.at(tick.hz)) for tick in ticks)
    numbered = [tick for tick in ticks if tick.kind == NUMBERED]
    for tick in numbered:
        assert parse_hz(f"{tick.text} {scale.unit}") == tick.hz
    for one, two in pairwise(numbered):
        assert two.x - one.x >= room - 1e-6
        assert str(two.hz - one.hz).rstrip("0") in ("1", "2", "5")
    apart = [two.x - one.x for one, two in pairwise(ticks)]
    assert min(apart, default=9.0) >= 1.0, "ticks that run into each other"


def test_a_dial_reads_as_dials_do() -> None:
    """Eleven to thirty megahertz on a page: a numeral a megahertz, a long tick a half, short ones between."""
    ticks = Scale(11_000_000, 30_000_000, 0.0, 680.0).ticks(30.0)
    assert [tick.text for tick in ticks if tick.text][:3] == ["11", "12", "13"]
    assert {tick.hz % 500_000 for tick in ticks if tick.kind == "longer"} == {0}


@pytest.mark.parametrize(
    ("low", "high", "unit"), [(530_000, 1_620_000, "kHz"), (1_500_000, 4_600_000, "MHz")]
)
def test_the_unit_is_the_one_of_the_trade(low: int, high: int, unit: str) -> None:
    """Medium wave reads in kilohertz, short wave in megahertz (common practice)."""
    assert Scale(low, high, 0, 100).unit == unit


@pytest.mark.parametrize(("low", "high", "left", "right"), [(5, 5, 0, 1), (6, 5, 0, 1), (1, 2, 3, 3)])
def test_a_scale_without_length_is_refused(low: int, high: int, left: float, right: float) -> None:
    """Two ends, in order."""
    with pytest.raises(ValueError, match="two ends in order"):
        Scale(low, high, left, right)


# heights


@pytest.mark.parametrize(
    ("dbm", "hz", "units"),
    # IARU Region 1 Technical Recommendation R.1 (Brighton 1981, Torremolinos 1990): S9 is -73 dBm
    # up to 30 MHz and -93 dBm above, an S unit is 6 dB
    [
        (-73, 14_000_000, 9),
        (-79, 14_000_000, 8),
        (-121, 7_000_000, 1),
        (-93, 144_000_000, 9),
        (-53, 7_000_000, 9 + 20 / 6),
    ],
)
def test_a_height_is_the_heard_level_in_s_units(dbm: float, hz: int, units: float) -> None:
    """Six decibels an S unit, above S9 as below."""
    assert s_units(np.array([dbm]), np.array([hz]))[0] == pytest.approx(units)


stretches = st.lists(
    st.tuples(
        st.integers(11_000_000, 29_990_000),
        st.sampled_from([0, 90, 6_000, 40_000, 700_000, 5_000_000]),
        st.integers(-130, -30),
        st.sampled_from(["strong", "audible", "buried"]),
    ),
    min_size=1,
    max_size=25,
)


def as_table(found: list[tuple[int, int, int, str]]) -> Any:
    """Return stretches as records of intrusions."""
    return table(
        [
            row(
                dial_low_hz=low,
                dial_high_hz=min(low + width, 30_000_000),
                heard_dbm=float(dbm),
                loudest_dial_hz=low,
                grade=grade,
            )
            for low, width, dbm, grade in found
        ]
    )


@given(stretches)
def test_the_skyline_is_the_loudest_everywhere(found: list[tuple[int, int, int, str]]) -> None:
    """Where something is heard stands a mark as high as the loudest there, to a cell of the scale."""
    scale = Scale(11_000_000, 30_000_000, 32.0, 710.0)
    made = as_table(found)
    marks = skyline(made, np.arange(len(found)), scale)
    cell = int(0.25 / scale.pt_per_hz) + 2
    heights = s_units(made["heard_dbm"], made["loudest_dial_hz"])
    low, high = made["dial_low_hz"], made["dial_high_hz"]
    for mark in marks:
        assert mark.s_units == heights[mark.row]
        assert low[mark.row] <= mark.high_hz + cell
        assert mark.low_hz - cell <= high[mark.row]
        middle = (mark.low_hz + mark.high_hz) // 2
        here = heights[(low <= middle) & (high >= middle)]
        assert mark.s_units >= here.max(initial=0.0) - 0.05
    for n in range(len(found)):
        over = [m for m in marks if m.low_hz - cell <= high[n] and low[n] <= m.high_hz + cell]
        assert max(m.s_units for m in over) >= heights[n] - 0.05, "a stretch without a mark"
    edges = [edge for mark in marks for edge in (mark.low_hz, mark.high_hz)]
    assert edges == sorted(edges)


@given(stretches)
def test_what_is_spoilt_is_hatched_and_nothing_else(found: list[tuple[int, int, int, str]]) -> None:
    """Each audible hertz lies in a spoilt part; what is spoilt lies within a cell of something audible."""
    scale = Scale(11_000_000, 30_000_000, 32.0, 710.0)
    made = as_table(found)
    parts = spoilt(made, np.arange(len(found)), scale)
    cell = int(0.25 / scale.pt_per_hz) + 2
    heard = [(lo, min(lo + w, 30_000_000)) for lo, w, _, grade in found if grade != "buried"]
    for low, high in heard:
        for hz in (low, (low + high) // 2, high):
            assert any(part.low_hz - 1 <= hz <= part.high_hz + 1 for part in parts)
    for part in parts:
        for hz in (part.low_hz, (part.low_hz + part.high_hz) // 2, part.high_hz):
            assert any(low - cell <= hz <= high + cell for low, high in heard)


def test_nothing_buried_spoils() -> None:
    """A range of whispers is clear."""
    made = as_table([(12_000_000, 700_000, -120, "buried")])
    assert spoilt(made, np.arange(1), Scale(11_000_000, 30_000_000, 0.0, 600.0)) == []


# names

wishes = st.lists(
    st.tuples(st.floats(0.0, 600.0), st.floats(5.0, 250.0)).map(lambda t: Wish(*t)), max_size=40
)


@given(wishes, st.integers(1, 5))
def test_no_name_covers_another_or_its_leader(wanted: list[Wish], tiers: int) -> None:
    """Names keep apart by their boxes, stay on the page, stand over their marks, and leaders run free."""
    places = place(wanted, 0.0, 600.0, tiers)
    boxes = [(at, wanted[at.wish], box_of(at, wanted[at.wish], 100.0, 20.0, 17.0)) for at in places]
    for at, wish, box in boxes:
        assert box.left >= -1e-9
        assert box.right <= 600.0 + 1e-9
        assert box.left - 1e-9 <= wish.x <= box.right + 1e-9
        for other, theirs, ground in boxes:
            if other is at:
                continue
            assert not box.overlaps(ground)
            if other.tier > at.tier:  # its leader falls past us
                assert not box.left + 1e-6 < theirs.x < box.right - 1e-6
    assert len({at.wish for at in places}) == len(places)


@given(wishes)
def test_the_most_wanted_name_is_always_placed(wanted: list[Wish]) -> None:
    """Names are given up from the least wanted."""
    places = place(wanted, 0.0, 600.0, 3)
    if wanted:
        assert 0 in {at.wish for at in places}
    alone = place(wanted[:1], 0.0, 600.0, 3)
    assert [at.wish for at in alone] == [0][: len(wanted)]


def test_one_name_moves_to_let_another_in() -> None:
    """Two neighbours at the edge both find a place, whichever is asked for first."""
    for wanted in ([Wish(5, 70), Wish(60, 70)], [Wish(60, 70), Wish(5, 70)]):
        assert len(place(wanted, 0.0, 400.0, 2)) == 2
    assert place([Wish(5, 70), Wish(6, 70)], 0.0, 400.0, 1) == [Place(0, 0.0, 0)]


# words


@pytest.mark.parametrize(
    "text", ["25 m broadcasting", "image, IF = RF \u2212 LO", "VA To AVATAR", "W", "11\u201330 MHz"]
)
@pytest.mark.parametrize("bold", [False, True])
def test_a_text_is_drawn_no_longer_than_it_is_taken_to_be(text: str, bold: bool) -> None:
    """Matplotlib's own measure of the drawn text is at most ours, and not far below it."""
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import text_to_path

    font = FontProperties(family="DejaVu Sans", size=7.0, weight="bold" if bold else "normal")
    drawn = text_to_path.get_text_width_height_descent(text, font, False)[0]
    assert 0.9 * text_width(text, 7.0, bold) <= drawn <= text_width(text, 7.0, bold) + 0.01


@settings(deadline=None)
@given(st.text(max_size=60), st.floats(10.0, 300.0))
def test_a_text_that_is_cut_fits(text: str, room: float) -> None:
    """Whole, or with an ellipsis; a single letter stays in any case."""
    said = cut(shown(text), 7.0, room)
    assert said == shown(text) or said.endswith("…")
    assert text_width(said, 7.0) <= room or len(said) <= 2


@settings(deadline=None)
@given(st.lists(st.text("abcdefg ->", min_size=1, max_size=30)).map(" ".join))
def test_wrapping_loses_no_word(text: str) -> None:
    """Words that fit a line are all there, in order."""
    assert " ".join(wrapped(text, 7.0, 250.0)).split() == text.split()


@given(
    st.tuples(st.floats(0, 500), st.floats(0, 300), st.floats(0.1, 300), st.floats(0.1, 30)).map(
        lambda t: Box(t[0], t[1], t[0] + t[2], t[1] + t[3])
    ),
    st.floats(1.5, 6.0),
)
def test_hatching_stays_inside_and_leaves_no_gap(box: Box, gap: float) -> None:
    """Every line is on the rectangle and runs at 45 degrees; a rectangle wide enough has one."""
    lines = list(Hatch(box, gap).lines())
    for (x0, y0), (x1, y1) in lines:
        assert box.left - 1e-6 <= x0 <= x1 <= box.right + 1e-6
        assert box.top - 1e-6 <= y1 <= y0 <= box.bottom + 1e-6
        assert x1 - x0 == pytest.approx(y0 - y1, abs=1e-6)
    if box.right - box.left > gap:
        assert lines


# the charts


@pytest.mark.parametrize("name", DEMOS)
def test_ranges_stand_in_the_order_of_the_set(name: str) -> None:
    """One row a range, over its whole coverage."""
    drawn = ranges.rows(ranges_of(name), demo(name), 720.0)
    assert [(row.scale.low_hz, row.scale.high_hz) for row in drawn] == [
        (one.low_hz, one.high_hz) for one in demo(name).ranges
    ]


@pytest.mark.parametrize("name", DEMOS)
def test_the_spoilt_part_is_where_somebody_is_heard(name: str) -> None:
    """Hatched is the part of the range that the stretches of the answer cover together, to a cell an edge."""
    answer = ranges_of(name)
    heard: dict[str, set[int]] = {}
    for one in answer.intrusions.records():
        kilohertz = range(one["dial_low_hz"] // 1_000, one["dial_high_hz"] // 1_000 + 1)
        heard.setdefault(one["range"], set()).update(kilohertz)
    for drawn, record in zip(ranges.rows(answer, demo(name), 720.0), answer.ranges.records(), strict=True):
        hatched = sum(part.high_hz - part.low_hz for part in drawn.spoilt)
        span = record["high_hz"] - record["low_hz"]
        slack = 2 * 0.25 * max(len(drawn.spoilt), 1) / (drawn.scale.right - drawn.scale.left)
        covered = len(heard.get(record["range"], ())) * 1_000
        assert hatched / span == pytest.approx(covered / span, abs=slack + 2_000 * len(drawn.spoilt) / span)


@pytest.mark.parametrize("name", DEMOS)
def test_the_loudest_of_each_range_is_named_with_its_equation(name: str) -> None:
    """Whoever is loudest on a range stands there by name, over the place where it is heard."""
    answer = ranges_of(name)
    for width in WIDTHS:
        made = ranges.sheet(answer, demo(name), width)
        said = {word.text for word in made.words()}
        for drawn in ranges.rows(answer, demo(name), width):
            if drawn.names:
                assert drawn.names[0].text in said
                assert drawn.names[0].route in said
                assert "RF" in drawn.names[0].route
                loudest = max(mark.s_units for mark in drawn.marks)
                assert drawn.names[0].s_units == pytest.approx(loudest, abs=0.06)


def test_a_route_is_written_as_far_as_it_is_not_the_wanted_one() -> None:
    """Behind the odd stage a double superhet goes its usual way."""
    wanted = ((1, -1), (-1, 1))
    assert ranges.route_text("image", [[-1, 1], [-1, 1]], wanted) == "image, IF1 = RF − LO1"
    assert ranges.route_text("second image", [[1, -1], [1, -1]], wanted) == "second image, IF2 = LO2 − IF1"
    assert ranges.route_text("image", [[-1, 1]], ((1, -1),)) == "image, IF = RF − LO"


def test_a_range_on_which_nothing_is_heard_says_so() -> None:
    """No marks, no hatching, and a sentence."""
    first = ranges.rows(ranges_of("boathouse"), demo("boathouse"), 720.0)[0]
    assert (first.marks, first.spoilt, first.names) == ([], [], [])
    assert first.summary == "nothing heard that does not belong"


def test_what_is_unusable_or_unknown_is_explained(tmp_path: Path) -> None:
    """A range over its own IF; the image, dial + 930 kHz, leaves a table to 1700 kHz at 767 kHz: 69 %."""
    file, table = tmp_path / "set.toml", tmp_path / "bands.csv"
    file.write_text(
        'name = "Broadcast set"\n[[conversion]]\ninjection = "high"\nif = "465 kHz"\n'
        '[conversion.filter]\nbandwidth = "6 kHz"\n'
        '[[range]]\nname = "1"\ncoverage = ["400 kHz", "1600 kHz"]\nfront_end = []\n'
    )
    table.write_text("low_khz,high_khz,service,label,level\n100,1700,broadcast,All,-150 dBm\n")
    receiver = spurplan.read_receiver(file)
    answer = spurplan.ranges(receiver, bands=table)
    assert "69 % unknown" in ranges.rows(answer, receiver, 720.0)[0].summary
    texts = [one.text for one in ranges.sheet(answer, receiver, 720.0).items if isinstance(one, Words)]
    assert "the set's own IF" in texts
    assert "the set's own IF" not in [
        one.text
        for one in ranges.sheet(ranges_of("boathouse"), demo("boathouse"), 720.0).items
        if isinstance(one, Words)
    ]


@pytest.mark.parametrize(
    ("share", "said"),
    [
        (1.0, "all clear"),
        (0.9999, "over 99 % clear"),
        (0.2537, "25 % clear"),
        (0.001, "under 1 % clear"),
        (0.0, "nowhere clear"),
    ],
)
def test_nearly_clear_is_not_clear(share: float, said: str) -> None:
    """No share is rounded to all or nothing."""
    assert ranges.share_text(share) == said


def test_a_station_is_shown_where_it_belongs_and_where_not() -> None:
    """The pointer stands on its frequency, the marks where the answer says."""
    answer = spurplan.station(demo("boathouse"), frequency="15300 kHz")
    drawn = ranges.rows(answer, demo("boathouse"), 720.0)[-1]
    [own] = drawn.own
    assert own.low_hz <= 15_300_000 <= own.high_hz
    places = {(r["dial_low_hz"], r["dial_high_hz"]) for r in answer.intrusions.records()}
    for mark in drawn.marks:
        assert any(low - 30_000 <= mark.low_hz <= mark.high_hz <= high + 30_000 for low, high in places)
    assert "on frequency" in drawn.names[0].route


def test_a_unit_stays_with_its_number() -> None:
    """No line begins with one, whatever the room."""
    text = "most for what is usable: 82.4 % against 97.8 %. Nearest is 14.2 MHz, 46 dB down"
    for room in range(60, 400, 7):
        lines = wrapped(text, 9.0, float(room))
        assert not any(line.split()[0].strip(".,") in ("%", "MHz", "dB") for line in lines)
        assert " ".join(lines) == text


def said_on(made: sheets.Sheet) -> list[str]:
    return [word.text for word in made.words()]


@pytest.mark.parametrize("hz", [14_200_000, 28_300_000, 1_000_000])
def test_the_key_of_a_dial_names_what_is_drawn(hz: int) -> None:
    """Each grade that a tie has, and no other."""
    receiver = demo("boathouse")
    answer = spurplan.dial(receiver, frequency=hz)
    said = said_on(dial.sheet(answer, receiver, 720.0))
    grades = {tie.grade for one in setting.settings(answer, receiver, 720.0) for tie in one.ties}
    starts = {
        "strong": "strong if it is on",
        "audible": "audible if it is on",
        "buried": "buried in the noise",
    }
    assert {
        grade for grade, start in starts.items() if any(text.startswith(start) for text in said)
    } == grades


@pytest.mark.parametrize(("hz", "heard"), [(15_300_000, True), (900_000_000, False)])
def test_the_key_of_a_station_names_what_is_drawn(hz: int, heard: bool) -> None:
    """Hatching where something is heard, a pointer where it has a place of its own."""
    receiver = demo("boathouse")
    answer = spurplan.station(receiver, frequency=hz)
    said = said_on(ranges.sheet(answer, receiver, 720.0))
    assert ("something is heard" in said) is heard
    assert ("on frequency" in said) is heard
    assert "it is not heard there" in said


def test_a_part_of_a_cut_scale_in_another_unit_says_so() -> None:
    """1600 kHz beside 14.2 MHz: no numeral is read by the unit of another part."""
    receiver = demo("lockkeeper")
    answer = spurplan.dial(receiver, frequency="14.2 MHz")
    [drawn] = setting.settings(answer, receiver, 720.0)
    assert {scale.unit for scale in drawn.scales} == {"kHz", "MHz"}
    words = dial.sheet(answer, receiver, 720.0).words()
    for scale in drawn.scales:
        assert any(word.text == scale.unit and word.x == pytest.approx(scale.right) for word in words)


def test_a_stretch_in_words_is_in_whole_kilohertz() -> None:
    """Rounded outward; a single frequency is exact."""
    assert ranges.place_text(23_919_748, 23_930_253) == "23.919\u201323.931 MHz"
    assert ranges.place_text(14_200_500, 14_200_500) == "14.2005 MHz"


def test_an_intruder_is_drawn_where_it_is_and_tied_by_its_equation() -> None:
    """The image of 28.3 MHz with an IF of 465 kHz and the oscillator above lies at 29.23 MHz."""
    answer = spurplan.dial(demo("boathouse"), frequency="28.3 MHz")
    [drawn] = setting.settings(answer, demo("boathouse"), 720.0)
    image = next(tie for tie in drawn.ties if tie.equation == "image, IF = RF − LO")
    assert image.low_hz <= 28_300_000 + 2 * 465_000 <= image.high_hz
    assert (1, 28_765_000) in drawn.oscillator
    # the wanted frequency, the oscillator and the image stand as far apart as they are in hertz
    left, middle, right = (drawn.at(hz) for hz in (28_300_000, 28_765_000, 29_230_000))
    assert middle - left == pytest.approx(right - middle)
    loudest = max(answer.intrusions.records(), key=lambda r: r["heard_dbm"])
    assert drawn.ties[0].s_units == pytest.approx(9 + (loudest["heard_dbm"] + 73) / 6)
    made = dial.sheet(answer, demo("boathouse"), 720.0)
    assert {tie.equation for tie in drawn.ties} <= {word.text for word in made.words()}


def test_a_dial_shows_the_level_at_the_aerial_and_what_the_circuits_ask() -> None:
    """By the image the curve lies above the noise by the rejection; the cap is the level at the aerial."""
    answer = spurplan.dial(demo("boathouse"), frequency="14.2 MHz")
    [drawn] = setting.settings(answer, demo("boathouse"), 720.0)
    loudest = answer.intrusions.records(1)[0]
    image = next(tie for tie in drawn.ties if tie.equation == "image, IF = RF − LO")
    assert image.aerial_dbm == loudest["antenna_dbm"]
    asked = [point for part in drawn.front for point in part]
    at_dial, at_image = (np.interp(hz, *zip(*asked, strict=True)) for hz in (14_200_000, image.hz))
    assert at_dial == pytest.approx(loudest["floor_dbm"], abs=0.1)
    assert at_image - at_dial == pytest.approx(loudest["rejection_db"], abs=0.3)
    made = dial.sheet(answer, demo("boathouse"), 720.0)
    caps = {
        item.points[0][1]: (item.points[0][0] + item.points[1][0]) / 2
        for item in made.items
        if isinstance(item, Stroke) and item.pen == AERIAL and item.points[0][1] == item.points[1][1]
    }
    ticks = {word.text: word.y - 0.36 * word.size for word in made.words() if word.anchor == "end"}
    per_db = (ticks["−60"] - ticks["0"]) / -60.0
    assert caps[ticks["0"] + per_db * image.aerial_dbm] == pytest.approx(drawn.at(image.hz))


@pytest.mark.parametrize("pen", [FRONT, NOISE])
def test_a_dial_shows_noise_and_front_end_on_every_part_of_its_scale(pen: Pen) -> None:
    """Where a scale is cut each part has its own piece of the line."""
    answer = spurplan.dial(demo("boathouse"), frequency="11.5 MHz", everything=True)
    [drawn] = [one for one in setting.settings(answer, demo("boathouse"), 720.0) if one.head[0] == "4"]
    made = dial.sheet(answer, demo("boathouse"), 720.0)
    spans = {
        (item.points[0][0], item.points[-1][0])
        for item in made.items
        if isinstance(item, Stroke) and item.pen == pen
    }
    for scale in drawn.scales:
        assert any(
            (left, right) == (pytest.approx(scale.left), pytest.approx(scale.right)) for left, right in spans
        )


@pytest.mark.parametrize("title", [True, False])
def test_the_answer_in_a_sentence_stands_on_each(title: bool) -> None:
    """Bold, right below the title, and without a title first of all."""
    receiver = demo("boathouse")
    at = spurplan.dial(receiver, frequency="14.2 MHz")
    one = spurplan.station(receiver, frequency="15300 kHz")
    turned = turned_ranges(receiver, as_bands(None), Settings())
    for made, said in (
        (dial.sheet(at, receiver, 720.0, title), at.findings[0].sentence),
        (ranges.sheet(one, receiver, 720.0, title), "Heard on its own place, 15.3 MHz, "),
        (
            ranges.sheet(ranges_of("boathouse"), receiver, 720.0, title, turned=turned),
            verdict([each.busy for each in turned])[0],
        ),
    ):
        bold = [word.text for word in made.words() if word.bold][int(title) :]
        assert " ".join(bold).startswith(shown(said))


@given(st.lists(st.integers(100_000, 200_000_000), min_size=1, max_size=30), st.integers(1_000, 40_000_000))
def test_a_cut_scale_holds_every_point_and_fills_its_room(points: list[int], distance: int) -> None:
    """The stretches stand in order, with one measure, and no frequency falls into a cut."""
    scales = setting.cut_scales(points, distance, 30.0, 700.0)
    assert scales[0].left == pytest.approx(30.0)
    assert scales[-1].right == pytest.approx(700.0)
    for hz in points:
        assert any(scale.low_hz <= hz <= scale.high_hz for scale in scales)
    for one, two in pairwise(scales):
        assert one.high_hz < two.low_hz
        assert two.left - one.right == pytest.approx(setting.BREAK_PT)
        assert one.pt_per_hz == pytest.approx(two.pt_per_hz, rel=1e-9)


HARD_NAMES = [stretch(label=HOSTILE), stretch(label="中波放送局" * 20, dial_low_hz=14_190_000)]
ANSWERS = {
    "boathouse": lambda: (ranges_of("boathouse"), demo("boathouse")),
    "lockkeeper": lambda: (ranges_of("lockkeeper"), demo("lockkeeper")),
    "everything": lambda: (ranges_of("boathouse", everything=True), demo("boathouse")),
    "none": lambda: (picked([]), demo("boathouse")),
    "one": lambda: (picked([stretch()]), demo("boathouse")),
    "hostile": lambda: (picked(HARD_NAMES), demo("boathouse")),
    "thousands": lambda: (picked(crowd(5000)), demo("boathouse")),
}  # fmt: skip


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("case", list(ANSWERS))
def test_no_words_cover_each_other_on_the_ranges(case: str, width: float) -> None:
    """By their boxes, at every width; and none stands beyond the page."""
    answer, receiver = ANSWERS[case]()
    made = ranges.sheet(answer, receiver, width)
    assert covering(made.words()) == []
    assert outside(made) == []


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize(
    ("name", "at", "options"),
    [
        ("boathouse", "28.3 MHz", {}),
        ("boathouse", "11.5 MHz", {"everything": True, "dial_error": "20 kHz"}),
        ("boathouse", "600 kHz", {}),
        ("lockkeeper", "7.4 MHz", {"everything": True}),
    ],
)
def test_no_words_cover_each_other_on_a_dial(name: str, at: str, options: Any, width: float) -> None:
    """By their boxes, at every width, with no intruder and with hundreds."""
    made = dial.sheet(spurplan.dial(demo(name), frequency=at, **options), demo(name), width)
    assert covering(made.words()) == []
    assert outside(made) == []


@settings(max_examples=10, deadline=None)
@given(st.integers(0, 10_000), st.integers(1, 60), st.sampled_from(WIDTHS))
def test_no_words_cover_each_other_whatever_is_heard(seed: int, count: int, width: float) -> None:
    """Any crowd of intruders leaves a legible page."""
    made = ranges.sheet(picked(crowd(count, seed)), demo("boathouse"), width)
    assert covering(made.words()) == []
    assert outside(made) == []


def test_a_chart_of_thousands_is_no_larger_than_the_eye_needs() -> None:
    """Ten times the stretches do not make ten times the lines: a page can show so many."""
    few, many = (len(ranges.sheet(picked(crowd(n)), demo("boathouse"), 720.0).items) for n in (500, 5_000))
    assert many < 3 * few


def test_a_label_is_never_markup() -> None:
    """Dollar signs and brackets of a table are letters."""
    made = ranges.sheet(picked([stretch(label="$\\frac{1}{2}$ <b>Radio</b>")]), demo("boathouse"), 720.0)
    assert "$\\frac{1}{2}$ <b>Radio</b>" in {word.text for word in made.words()}


@pytest.mark.parametrize("width", WIDTHS)
def test_the_head_of_a_range_keeps_its_span(tmp_path: Path, width: float) -> None:
    """A long name gives way, on the page, and on a telephone it runs over no edge."""
    receiver, bands = twelve(tmp_path)
    one = receiver.ranges[6]
    heard = spurplan.ranges(receiver, bands=bands, range=one.name)
    there = spurplan.dial(receiver, bands=bands, frequency="15 MHz", range=one.name)
    for made in (ranges.sheet(heard, receiver, width), dial.sheet(there, receiver, width)):
        heads = [word.text for word in made.words() if word.bold and word.text.endswith("14\u201316.3 MHz")]
        assert len(heads) == 1
        assert outside(made) == []

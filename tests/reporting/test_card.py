"""The wall card: one sheet, nothing cut, nothing over anything else, seen apart in one bit."""

from __future__ import annotations

import html
import io
import re
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

import spurplan
from spurplan.occupancy.bands import Bands, read_bands
from spurplan.planning.cures.cures import loss_text
from spurplan.receiver.description import Receiver
from spurplan.receiver.sentence import span_text
from spurplan.reporting.charts import ink, ranges
from spurplan.reporting.charts.card import (
    HEIGHT,
    MOST_RANGES,
    THIN,
    WIDTH,
    Card,
    _most_lost,
    card,
    card_bytes,
    cure_text,
    sheet,
)
from spurplan.reporting.charts.dial_row import NOISE, WORDS_PT
from spurplan.reporting.charts.scale import NUMBERED, SHORT, Scale
from spurplan.reporting.charts.sheet import GRADE_PENS, Box, Sheet, Stroke, dashed
from spurplan.reporting.charts.short_names import band_name
from spurplan.reporting.charts.strip import CELL, FRAME, LEAST_CELLS, cells, lay_fill, runs
from spurplan.reporting.charts.verdicts import verdict, word_text
from spurplan.reporting.report import report
from spurplan.responses.asking import Settings
from spurplan.responses.listening.dial_words import WORDS, Chances, DialWords, range_word
from tests.browser import CHROMIUM, browser
from tests.charting import covering, demo, outside, ranges_of
from tests.drawn_sets import crowded, quiet, twelve, unlisted
from tests.turns import by_turns

SETS = ("boathouse", "lockkeeper", "quiet", "unlisted", "twelve", "crowded")
CURE = (
    "Best for the least: A preselector; on a busy evening 99 % (98 to over 99 %) instead of 93. Not told "
    "apart: an IF of 5.5 MHz, a valve preselector and 2 more. A pad, an IF trap and an aerial tuner do "
    "nothing about this. Left then: 11 m broadcasting by image, 1 %."
)
MADE: dict[str, Callable[[Path], tuple[Receiver, Bands]]] = {
    "quiet": quiet, "unlisted": unlisted, "twelve": twelve, "crowded": crowded,
}  # fmt: skip


@pytest.fixture(scope="module")
def cards(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Card]:
    folder = tmp_path_factory.mktemp("cards")
    out = {}
    for name in SETS:
        receiver, bands = MADE[name](folder) if name in MADE else (demo(name), read_bands(None))
        out[name] = card(receiver, bands, Settings(), CURE)
    return out


@pytest.mark.parametrize("name", SETS)
def test_everything_has_its_place(cards: dict[str, Card], name: str) -> None:
    """No words over words, nothing beyond the edge, no leader through a name, one size for every set."""
    made = sheet(cards[name])
    assert (made.width, made.height) == (WIDTH, HEIGHT)
    assert covering(made.words()) == []
    assert outside(made) == []
    uprights = [
        item.points
        for item in made.items
        if isinstance(item, Stroke) and item.pen == THIN and item.points[0][0] == item.points[1][0]
    ]
    boxes = [(word.text, word.box()) for word in made.words()]
    crossed = [
        text
        for (x, top), (_, bottom) in uprights
        for text, box in boxes
        if box.left + 0.5 < x < box.right - 0.5 and min(box.bottom, bottom) - max(box.top, top) > 0.5
    ]
    assert crossed == []


@pytest.mark.parametrize("name", SETS)
def test_it_says_what_a_card_must(cards: dict[str, Card], name: str) -> None:
    """The set, the verdict, each range with its word, what fools it, how to tell, the cure, cautions."""
    said = " ".join(word.text for word in sheet(cards[name]).words())
    for text in ("where the dial", "How to tell", "lethal voltages", "no licence", "A preselector"):
        assert text in said
    words = [one.word.split(",")[0].upper().replace("'", "\u2019") for one in cards[name].ranges]
    assert all(said.count(word) >= words.count(word) for word in words)


def test_nothing_that_intrudes_is_said_in_a_word(cards: dict[str, Card]) -> None:
    """A set into which nothing gets has solid dials, and no word but one."""
    said = cards["quiet"]
    assert {one.word for one in said.ranges} == {"believe"}
    assert "Nothing in the tables gets in" in said.entries[0].text
    assert all(set(one.turned.words.word.tolist()) == {WORDS.index("believe")} for one in said.ranges)


def test_tables_that_hardly_list_anybody_leave_a_dial_unknown(cards: dict[str, Card]) -> None:
    """Where a strong station on the image would be heard: dotted, and the card says why; else as ever."""
    said = cards["unlisted"]
    assert [one.word for one in said.ranges] == ["believe", "check", "unknown"]
    dotted = [
        one.turned.words.shares(one.turned.low_hz, one.turned.high_hz)["unknown"] for one in said.ranges
    ]
    assert dotted[2] > 0.99
    assert dotted[0] == 0.0
    assert 0.0 < dotted[1] < 1.0
    assert said.verdict == (
        "Believe long. Check trawler. Nobody can tell of short. On the images of trawler and short the "
        "tables list hardly anybody."
    )
    assert "not clear, but unknown" in said.entries[0].text
    texts = " ".join(word.text for word in sheet(said).words())
    assert "The tables list somebody on 0.1 % of what they span" in texts
    assert "nobody can tell" in texts
    for name in ("boathouse", "quiet"):
        texts = " ".join(word.text for word in sheet(cards[name]).words())
        assert "of what they span" not in texts


def test_the_loudest_stranger_is_none_where_it_belongs(cards: dict[str, Card]) -> None:
    """A harmonic way of a station to its own place makes a whistle there; it fools nobody about the dial."""
    for name, said in cards.items():
        _, found, loudest = said.entries[0].text.partition("Loudest")
        if found:
            dial, really = re.findall(r"(?: at | on )([\d.]+ [kM]Hz)", loudest)[-2:]
            assert dial != really, name


def test_a_file_of_pages_holds_every_card(tmp_path: Path) -> None:
    """Twelve ranges are two pages, in the report, too; their names are on one of them each."""
    receiver, bands = twelve(tmp_path)
    data = card_bytes(receiver, bands, "card.pdf")
    assert len(re.findall(rb"/Type\s*/Page\b", data)) == 2
    assert report(receiver, bands).count('<figure class="card">') == 2


@pytest.mark.parametrize("first", [0, 6])
def test_a_long_name_leaves_its_span_whole(tmp_path: Path, first: int) -> None:
    """Whatever word stands at the other end, where a range begins and ends can be read."""
    receiver, bands = twelve(tmp_path)
    made = sheet(card(receiver, bands, Settings(), first=first))
    said = {word.text for word in made.words()}
    for one in receiver.ranges[first : first + 6]:
        assert dashed(span_text(one.low_hz, one.high_hz)) in said
    assert covering(made.words()) == []


@pytest.mark.parametrize("first", [0, 6])
def test_six_ranges_with_long_names_keep_the_names_of_their_bands(tmp_path: Path, first: int) -> None:
    """Each band has its name and its word below the scale, for a rail without a name tells nothing."""
    receiver, bands = twelve(tmp_path)
    shown = card(receiver, bands, Settings(), CURE, first=first)
    made = sheet(shown)
    assert made.height == HEIGHT
    said = Counter(word.text for word in made.words())
    wanted = Counter(rail.name for one in shown.ranges for rail in one.rails)
    assert wanted
    assert not wanted - said
    assert covering(made.words()) == []


def test_it_says_what_the_cures_say(tmp_path: Path) -> None:
    """The recommendation in the words of the question itself, and who is left; on the report, too."""
    receiver, bands = demo("boathouse"), read_bands(None)
    findings = spurplan.cures(receiver, range="4").findings
    first = findings.recommended.outlook.losses[0]
    advice = f"{findings.sentences[0]} Left then: {loss_text(first)}."
    assert cure_text(findings) == advice
    for shown in (
        card_bytes(receiver, bands, "card.svg", range="4").decode(),
        report(receiver, bands, range="4"),
    ):
        letters = " ".join(re.findall(r"<text[^>]*>([^<]*)</text>", shown))
        assert advice in html.unescape(letters)


def test_ranges_without_room_stand_on_another_card(tmp_path: Path) -> None:
    """Twelve ranges make two cards of six, and every range stands on one of them."""
    receiver, bands = twelve(tmp_path)
    first, second = (card(receiver, bands, Settings(), first=at) for at in (0, 6))
    names = [one.turned.name for said in (first, second) for one in said.ranges]
    assert names == [one.name for one in receiver.ranges]
    assert (first.more, second.more) == (6, 0)


def test_the_verdict_joins_ranges_by_word(cards: dict[str, Card]) -> None:
    """Each range is named once, under its word; names that are too long are counted."""
    one = cards["boathouse"].ranges[0]
    words = ("believe", "check", "check", "don't, before a test", "unknown")
    shares = {
        "believe": (1.0, 0.0),
        "check": (0.9, 0.0),
        "don't, before a test": (0.2, 0.0),
        "unknown": (0.0, 1.0),
    }
    busy = [
        replace(one.turned.busy, range=str(n), usable=shares[word][0], unknown=shares[word][1], dead=0.0)
        for n, word in enumerate(words)
    ]
    full, short = verdict(busy)
    assert full == "Believe 0. Check 1 and 2. Test before you believe 3. Nobody can tell of 4."
    assert short.startswith("Believe 1 of 5 ranges. Check 2 of 5 ranges.")
    assert "ranges" in cards["twelve"].verdict


def rendered(word: str, dpi: int) -> float:
    """Return the part of a fill that a printer of one colour blackens."""
    from PIL import Image

    made = Sheet(400.0, 200.0)
    lay_fill(made, word, Box(0.0, 0.0, 400.0, 200.0))
    picture = Image.open(io.BytesIO(ink.picture(made, "png"))).convert("L")
    wide = round(400 * dpi / 72)
    small = np.asarray(picture.resize((wide, wide // 2), Image.Resampling.BOX))
    inner = small[10:-10, 10:-10]
    return float((inner < 128).mean())


@pytest.mark.parametrize("dpi", by_turns([100, 300], always=[100]))
def test_fills_are_seen_apart_in_one_bit(dpi: int) -> None:
    """Solid, close, crossed, dots, wide and white have their share of ink at a printer's resolution."""
    bounds = {
        "believe": (0.95, 1.0), "don't": (0.35, 0.5), "dead": (0.35, 0.5), "unknown": (0.2, 0.3),
        "check": (0.1, 0.2), "deaf": (0.0, 0.0),
    }  # fmt: skip
    for word, (low, high) in bounds.items():
        assert low <= rendered(word, dpi) <= high, word


def test_a_narrow_stretch_never_vanishes() -> None:
    """One hertz of the worst word is a cell of it, and no better cell stands over it."""
    scale = Scale(1_000_000, 30_000_000, 0.0, WIDTH)
    for at in (1_000_000, 17_000_003, 30_000_000):
        starts = sorted({1_000_000, at, min(at + 1, 30_000_000)})
        word = np.array([WORDS.index("don't" if low == at else "believe") for low in starts], dtype=np.uint8)
        low = np.array(starts, dtype=np.int64)
        made = cells(DialWords(low, np.append(low[1:] - 1, 30_000_000), word), scale)
        place = int((at - 1_000_000) / 29_000_000 * len(made))
        assert made[min(place, len(made) - 1)] == WORDS.index("don't")
        assert (made == WORDS.index("don't")).sum() == 1


@pytest.mark.parametrize("name", SETS)
def test_a_cell_shows_the_worst_that_reaches_into_it(cards: dict[str, Card], name: str) -> None:
    """Every edge stands within a cell of its stretch, and nothing clear over what is unknown."""
    check, dont = WORDS.index("check"), WORDS.index("don't")
    for one in cards[name].ranges:
        words = one.turned.words
        scale = Scale(one.turned.low_hz, one.turned.high_hz, 0.0, WIDTH)
        made = cells(words, scale)
        per_cell = (one.turned.high_hz - one.turned.low_hz) / len(made)
        edges = one.turned.low_hz + np.arange(len(made) + 1) * per_cell
        first = np.searchsorted(words.low_hz, edges[:-1], side="right") - 1
        last = np.maximum(np.searchsorted(words.low_hz, edges[1:], side="left") - 1, first)
        worst = np.array([words.word[a : b + 1].max() for a, b in zip(first, last, strict=True)])
        for cell in np.flatnonzero(made != worst).tolist():
            shown = int(made[cell])
            assert shown > WORDS.index("believe"), (one.turned.name, cell)
            near = made[max(cell - LEAST_CELLS, 0) : cell + LEAST_CELLS + 1]
            by_turns_spoilt = (worst[cell], shown) == (check, dont) and (near == dont).sum() >= 3
            assert by_turns_spoilt or shown in worst[max(cell - 1, 0) : cell + 2], (one.turned.name, cell)


@pytest.mark.skipif(CHROMIUM is None, reason="no chromium on this machine")
@pytest.mark.parametrize(
    ("name", "word", "low", "high"),
    [
        ("boathouse", "believe", 0.95, 1.0),
        ("boathouse", "check", 0.1, 0.2),
        ("crowded", "don't", 0.35, 0.5),
        ("unlisted", "unknown", 0.2, 0.3),
    ],
)
def test_a_card_in_one_bit_has_its_ink(
    cards: dict[str, Card], tmp_path: Path, name: str, word: str, low: float, high: float
) -> None:
    """The widest stretch of each fill on a card as a browser draws it, in one bit at 100 dpi."""
    from PIL import Image

    made = sheet(cards[name])
    (tmp_path / "card.svg").write_bytes(ink.picture(made, "svg"))
    width, height = made.width / 72 * 100, made.height / 72 * 100
    (tmp_path / "card.html").write_text(
        f'<body style="margin:0"><img src="card.svg" style="width:{width}px;height:{height}px">', "utf-8"
    )
    with browser() as page:
        page.open(tmp_path / "card.html", width=round(width), height=round(height))
        picture = np.asarray(Image.open(io.BytesIO(page.picture())).convert("L"))
    frames = sorted(
        {
            (item.points[0][1], item.points[1][1])
            for item in made.items
            if isinstance(item, Stroke)
            and item.pen == FRAME
            and item.points[0][0] == item.points[1][0] == WIDTH
            # a tick is shorter than any strip
            and item.points[1][1] - item.points[0][1] > 10.0
        }
    )
    assert len(frames) == len(cards[name].ranges)
    best = max(
        (
            (b - a, at, a, b)
            for at, one in enumerate(cards[name].ranges)
            for a, b, fill in runs(
                cells(one.turned.words, Scale(one.turned.low_hz, one.turned.high_hz, 0.0, WIDTH))
            )
            if fill == word
        )
    )
    _, at, a, b = best
    top, bottom = (round(y / 72 * 100) for y in frames[at])
    left, right = (round(x * CELL / 72 * 100) for x in (a, b))
    inner = picture[top + 3 : bottom - 3, left + 3 : right - 3]
    assert inner.size > 1_000
    assert low <= float((inner < 128).mean()) <= high


def test_hatching_too_narrow_to_be_read_is_the_closer_one() -> None:
    """Channels spoilt by turns are one texture; what is wide enough, or beside anything else, stays."""
    scale = Scale(1_000_000, 2_000_000, 0.0, WIDTH)
    check, dont, believe = (WORDS.index(word) for word in ("check", "don't", "believe"))
    per_cell = 1_000_000 / round(WIDTH / CELL)
    wide = round(per_cell * (LEAST_CELLS + 2))

    def drawn(*parts: tuple[int, int]) -> list[str]:
        lengths = [hz for _, hz in parts]
        low = 1_000_000 + np.cumsum([0, *lengths[:-1]])
        high = np.append(low[1:] - 1, 2_000_000)
        return [
            word
            for *_, word in runs(
                cells(DialWords(low, high, np.array([w for w, _ in parts], dtype=np.uint8)), scale)
            )
        ]

    by_turns_spoilt = [(dont, 2_000), (check, 4_000)] * 20
    assert drawn((believe, 300_000), *by_turns_spoilt, (dont, 2_000), (believe, 0)) == [
        "believe",
        "don't",
        "believe",
    ]
    assert drawn((dont, 9_000), (check, wide), (dont, 0)) == ["don't", "check", "don't"]
    assert drawn((dont, 9_000), (believe, 9_000), (dont, 0)) == ["don't", "believe", "don't"]
    assert drawn((believe, 9_000), (check, 9_000), (dont, 0)) == ["believe", "check", "don't"]


def test_ticks_stand_evenly() -> None:
    """On any scale the ticks are equally far apart in hertz, the longer ones and the numerals too."""
    made = np.random.default_rng(7)
    for _ in range(1_000):
        low = int(10 ** made.uniform(4, 8))
        scale = Scale(
            low, low + int(low * made.uniform(0.02, 20)) + 1_000, 0.0, float(made.uniform(120, 900))
        )
        ticks = scale.ticks(float(made.uniform(18, 70)))
        for kinds in ((NUMBERED, "longer", SHORT), (NUMBERED, "longer"), (NUMBERED,)):
            places = [tick.hz for tick in ticks if tick.kind in kinds]
            assert len({b - a for a, b in pairwise(places)}) <= 1
        if any(tick.kind == SHORT for tick in ticks):
            assert min(b.x - a.x for a, b in pairwise(ticks)) >= 3.1


def lost(width_hz: int, *losses: tuple[str, float]) -> Any:
    """Return a range so wide, of which so much goes by each way in."""
    some = [SimpleNamespace(response=name, share=share) for name, share in losses]
    return SimpleNamespace(low_hz=5_000_000, high_hz=5_000_000 + width_hz, busy=SimpleNamespace(losses=some))


def test_what_fools_a_set_most_is_counted_in_hertz() -> None:
    """A third of half a megahertz is less than a fifth of ten; shares are added up by width."""
    narrow, wide = lost(500_000, ("IF breakthrough", 0.3)), lost(10_000_000, ("image", 0.2))
    for both in ([narrow, wide], [wide, narrow]):
        assert _most_lost(both) == "image"
    # 150 kHz and twice 100 kHz: who takes less of each range takes more of the dial
    three = [narrow, lost(1_000_000, ("half-IF", 0.1)), lost(2_000_000, ("half-IF", 0.05))]
    assert _most_lost(three) == "half-IF"
    # several by one way on one range are one way
    assert _most_lost([lost(1_000_000, ("image", 0.3), ("half-IF", 0.2), ("half-IF", 0.2))]) == "half-IF"
    assert _most_lost([lost(1_000_000)]) is None
    assert _most_lost([]) is None


def test_cutting_a_range_in_two_changes_nothing_of_what_fools_the_set_most() -> None:
    """Wherever it is cut, with the same shares on either side."""
    other = lost(3_000_000, ("image", 0.25))
    for part in (1_000, 500_000, 3_999_000):
        halves = [lost(width, ("half-IF", 0.2)) for width in (part, 4_000_000 - part)]
        assert (
            _most_lost([*halves, other])
            == _most_lost([lost(4_000_000, ("half-IF", 0.2)), other])
            == "half-IF"
        )


def test_a_band_is_called_by_its_wavelength() -> None:
    """Else by its first words."""
    assert band_name("31 m broadcasting") == "31 m"
    assert band_name("20 m all modes") == "20 m"
    assert band_name("Medium wave broadcasting") == "medium wave"
    assert band_name("VHF sound broadcasting, eastern band") == "VHF sound"


def test_words_follow_the_shares() -> None:
    """Half lost is don't, much unknown is check, next to nothing known unknown, nothing lost believe."""
    for usable, unknown, untold, word, short in (
        (1.0, 0.0, 0.0, "believe", "believe"),
        (0.985, 0.0, 0.0, "believe, but for a little", "believe, but for a little"),
        (0.97, 0.0, 0.0, "check", "check"),
        (0.6, 0.3, 0.0, "check: much is unknown", "check"),
        (0.9, 0.1, 0.0, "check", "check"),
        (1.0, 0.0, 1.0, "unknown", "unknown"),
        (0.6, 0.0, 1.0, "check: much is unknown", "check"),
        (0.3, 0.3, 0.0, "don't, before a test", "don't"),
        (0.0, 1.0, 0.0, "unknown", "unknown"),
    ):
        chances = Chances(usable, unknown, untold, dead=0.0, weak_image=False)
        assert (chances.word, chances.short_word) == (word, short)
    weak = Chances(1.0, 0.0, 0.0, dead=0.0, weak_image=True)
    assert (weak.word, weak.short_word) == ("check, for its image", "check")


@pytest.mark.parametrize("name", SETS)
def test_a_range_and_a_band_all_over_it_have_one_word(cards: dict[str, Card], name: str) -> None:
    """The pieces of the strip, taken together, come to what the range comes to."""
    for one in cards[name].ranges:
        busy = one.turned.busy
        whole = one.turned.pieces.chances(one.turned.low_hz, one.turned.high_hz)
        assert whole.word == one.word == range_word(busy)
        for ours, theirs in (
            (whole.usable, busy.usable),
            (whole.unknown, busy.unknown),
            (whole.unlisted, busy.unlisted),
            (whole.dead, busy.dead),
        ):
            assert ours == pytest.approx(theirs, abs=0.01)


def test_a_band_all_over_a_range_that_is_believed_is_believed(cards: dict[str, Card]) -> None:
    """Though one setting in forty hangs on who is on the air, which the strip shows."""
    first = cards["boathouse"].ranges[0]
    hatched = first.turned.words.shares(first.turned.low_hz, first.turned.high_hz)["check"]
    assert 0.02 < hatched < 0.04
    assert first.word == "believe"
    assert {rail.word for rail in first.rails} == {"believe"}


def test_a_band_of_which_nobody_can_tell_is_not_believed(cards: dict[str, Card]) -> None:
    """Neither where its images are in no table, nor where they are weak."""
    short = cards["unlisted"].ranges[-1].turned
    told = 5_000_000 - 930_000
    assert short.pieces.chances(told + 50_000, told + 150_000).short_word == "unknown"
    last = cards["boathouse"].ranges[-1]
    weak = last.turned.busy.weak_image
    assert weak is not None
    inside = [rail for rail in last.rails if rail.low_hz >= weak.low_hz and rail.high_hz <= weak.high_hz]
    assert inside
    assert all(rail.word in ("check", "don't") for rail in inside)


PAPERS = [(210.0, 297.0), (215.9, 279.4)]


@pytest.mark.skipif(CHROMIUM is None, reason="no chromium on this machine")
@pytest.mark.parametrize(
    ("name", "paper"),
    by_turns(
        [(name, paper) for name in SETS for paper in PAPERS],
        always=[("twelve", PAPERS[1])],
        several=True,
    ),
)
def test_it_prints_on_one_page(tmp_path: Path, name: str, paper: tuple[float, float]) -> None:
    """Each card of the report is whole, on A4 and on Letter, and nothing of it is cut."""
    path = tmp_path / "report.html"
    receiver, bands = MADE[name](tmp_path) if name in MADE else (demo(name), read_bands(None))
    path.write_text(report(receiver, bands), "utf-8")
    cards_there = -(-len(receiver.ranges) // MOST_RANGES)
    with browser() as page:
        page.open(path)
        whole = len(re.findall(rb"/Type\s*/Page\b", page.printed(*paper)))
        page.do("Emulation.setEmulatedMedia", media="print")
        cut = page.ask(
            "[...document.querySelectorAll('figure.card')]"
            ".flatMap(c => [c.scrollHeight - c.clientHeight, c.scrollWidth - c.clientWidth])"
        )
        assert len(cut) == 2 * cards_there
        assert max(cut) <= 1
        page.do("Emulation.setEmulatedMedia", media="")
        page.ask("[...document.querySelectorAll('figure.card')].forEach(c => c.remove())")
        rest = len(re.findall(rb"/Type\s*/Page\b", page.printed(*paper)))
    assert whole == rest + cards_there


def test_the_noise_steps_where_another_level_is_s9(cards: dict[str, Card]) -> None:
    """Above 30 MHz S9 is 20 dB less (IARU Region 1, 1990): the line goes up by so much at one hertz."""
    one = cards["crowded"].ranges[-1]
    assert one.turned.low_hz < 30_000_000 < one.turned.high_hz
    for level in ranges.levels_of(ranges_of("boathouse"), one.turned):
        heights = dict(zip(level.hz, level.s_units, strict=True))
        assert heights[30_000_001] - heights[30_000_000] == pytest.approx(20 / 6, abs=0.1)


@pytest.mark.parametrize("width", [560.0, 270.0])
def test_a_chart_of_a_range_shows_its_words(cards: dict[str, Card], width: float) -> None:
    """Word and shares in the head, the strip the thickest thing, noise and bars wherever there is a mark."""
    answer = ranges_of("boathouse")
    for one in cards["boathouse"].ranges:
        made = ranges.sheet(answer, demo("boathouse"), width, title=False, turned=[one.turned])
        assert covering(made.words()) == []
        said = " ".join(word.text for word in made.words())
        assert word_text(one.turned.busy) in said
        row = ranges.rows(answer, demo("boathouse"), width, [one.turned])[0]
        drawn = [item for item in made.items if isinstance(item, Stroke) and item.pen == NOISE]
        # and one in the key; neither where nothing stands against it
        assert len(drawn) == 2 * bool(row.marks)
        assert max(pen.width for pen in GRADE_PENS.values()) < WORDS_PT

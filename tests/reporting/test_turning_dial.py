"""The turning dial in a browser: at every setting it says what `dial` says, and it turns by every hand."""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from statistics import median
from typing import Any

import numpy as np
import pytest

import spurplan
from spurplan.occupancy.bands import Bands, read_bands
from spurplan.receiver.changes.edits import changed
from spurplan.receiver.description import Receiver
from spurplan.reporting.charts.dial_page import dial_json, dial_page, encoded
from spurplan.reporting.report import html, page
from spurplan.responses.asking import Settings
from spurplan.responses.listening.dial_words import WORDS
from spurplan.responses.turning import TurnedRange, turned_ranges
from spurplan.units import s_text
from tests.browser import CHROMIUM, Page, browser
from tests.charting import demo
from tests.drawn_sets import crowded, quiet, twelve
from tests.turns import by_turns

pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="no chromium on this machine")
SETS = ("boathouse", "lockkeeper", "quiet", "twelve", "crowded")
SECTION = "document.getElementById('dial-section')"
FIELDS = ("rf_low_hz", "rf_high_hz", "grade", "equation", "label")
# a page may be given more than a report would carry
ANY_SIZE = 10_000_000
LEFT, RIGHT, BASE, HIGH = 34, 10, 292, 20


@dataclass(frozen=True)
class Opened:
    """A report on disk, and the set and tables it is about."""

    path: Path
    receiver: Receiver
    bands: Bands

    def turned(self) -> list[TurnedRange]:
        return turned_ranges(self.receiver, self.bands, Settings())


@pytest.fixture(scope="module")
def screen() -> Iterator[Page]:
    with browser() as one:
        yield one


class Reports(dict[str, Opened]):
    """Reports of sets, each made when it is first asked for."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def __missing__(self, name: str) -> Opened:
        drawn = {"quiet": quiet, "twelve": twelve, "crowded": crowded}
        receiver, bands = drawn[name](self.folder) if name in drawn else (demo(name), read_bands(None))
        shown = page(receiver, bands, Settings())
        data = dial_json(dial_page(receiver, bands, Settings()), ANY_SIZE)
        path = self.folder / f"{name}.html"
        path.write_text(html(replace(shown, dial=data)), "utf-8")
        self[name] = Opened(path, receiver, bands)
        return self[name]


@pytest.fixture(scope="module")
def opened(tmp_path_factory: pytest.TempPathFactory) -> Reports:
    return Reports(tmp_path_factory.mktemp("turning"))


def choose(screen: Page, number: int) -> None:
    """Choose a range by its place in the list, and wait until it is drawn."""
    screen.ask(
        f"(s => {{ s.selectedIndex = {number}; s.dispatchEvent(new Event('change')); }})"
        "(document.getElementById('dial-range'))"
    )
    drawn(screen)


def drawn(screen: Page) -> None:
    """Wait until the next picture has been drawn."""
    screen.ask("new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))")


def settings_of(one: TurnedRange, count: int, seed: int) -> list[int]:
    """Return settings of a range: both ends, edges of stretches and a hertz beside them, and random ones."""
    made = np.random.default_rng(seed)
    graded = one.response.graded
    here = one.response.lines.candidate[graded.line] == one.candidate
    edges = np.concatenate([graded.dial_low_hz[here], graded.dial_high_hz[here]])
    some = made.choice(edges, min(len(edges), count // 4), replace=False) if len(edges) else edges
    every = np.concatenate(
        [[one.low_hz, one.high_hz], some, some - 1, some + 1, made.integers(one.low_hz, one.high_hz, count)]
    )
    return np.clip(every[:count], one.low_hz, one.high_hz).astype(int).tolist()


def reading(text: str) -> int:
    """Return how many steps of an S meter a reading is up: S units, then decibels."""
    units, _, over = text.removeprefix("S").partition("+")
    return int(units) + int(over or 0)


def differences(
    screen: Page, opened: Opened, count: int, state: int = 0
) -> tuple[int, list[Any], float, list[Any]]:
    """Return how many rows were compared, which settings differ, the worst level, first readings far off."""
    screen.open(opened.path)
    compared, wrong, worst, off = 0, [], 0.0, []
    for number, one in enumerate(opened.turned()):
        hertz = settings_of(one, count, number)
        said = screen.ask(f"{json.dumps(hertz)}.map(hz => {SECTION}.rowsAt({state}, {number}, hz))")
        for hz, rows in zip(hertz, said, strict=True):
            truth = spurplan.dial(
                opened.receiver, bands=opened.bands, frequency=hz, range=one.name
            ).first.records()
            compared += len(truth)
            if Counter(tuple(r[f] for f in FIELDS) for r in rows) != Counter(
                tuple(r[f] for f in FIELDS) for r in truth
            ):
                wrong.append((one.name, hz))
                continue
            key = lambda r: (*(str(r[f]) for f in FIELDS), r["heard_dbm"])  # noqa: E731
            for mine, true in zip(sorted(rows, key=key), sorted(truth, key=key), strict=True):
                worst = max(worst, abs(mine["heard_dbm"] - true["heard_dbm"]))
            first = [max(some, key=lambda r: r["heard_dbm"], default=None) for some in (rows, truth)]
            if truth and abs(reading(first[0]["heard_s"]) - reading(first[1]["heard_s"])) > 1:
                off.append((one.name, hz))
    return compared, wrong, worst, off


@pytest.mark.parametrize("name", by_turns(["boathouse", "lockkeeper"], always=["lockkeeper"]))
def test_it_says_of_a_setting_what_dial_says(screen: Page, opened: Reports, name: str) -> None:
    """The same intruders by the same routes with the same grades, as loud to a decibel."""
    compared, wrong, worst, off = differences(screen, opened[name], 12)
    assert compared > 30
    assert wrong == []
    assert worst <= 1.0
    assert off == []


SUM = re.compile(r"(?P<terms>.+) = (?P<out>\u2212?[-0-9.\u202f]+)(?: kHz)?")
TERM = re.compile(r"(?P<sign>[+\u2212] |)(?:(?P<times>[0-9]+) \u00d7 )?(?P<khz>-?[0-9.\u202f]+)")


def khz_of(text: str) -> float:
    """Return a number as the dial writes it, thousands apart."""
    return float(text.replace("\u202f", "").replace("\u2212", "-"))


def sums_in(entry: str, stages: int) -> list[tuple[list[tuple[int, float]], float]]:
    """Return the sums at the end of an entry, one a mixer: terms with factors, and what they come to."""
    out = []
    for text in entry.split("; ")[-stages:]:
        found = SUM.fullmatch(text)
        assert found is not None, text
        terms = [
            ((-1 if term["sign"].startswith("\u2212") else 1) * int(term["times"] or 1), khz_of(term["khz"]))
            for term in TERM.finditer(found["terms"])
        ]
        out.append((terms, khz_of(found["out"])))
    return out


@pytest.mark.parametrize(("name", "stages"), [("lockkeeper", 2)])
def test_its_sums_lead_from_the_station_to_the_last_if(
    screen: Page, opened: Reports, name: str, stages: int
) -> None:
    """The first takes in what is sent, each other what the one before made; each is right, and the last makes
    the last IF, in the passband."""
    one = opened[name]
    last = one.receiver.conversions[-1]
    assert last.filter is not None
    screen.open(one.path)
    looked_at = 0
    for number, range_ in enumerate(one.receiver.ranges):
        choose(screen, number)
        hertz = np.linspace(range_.low_hz, range_.high_hz, 6).astype(int).tolist()
        listed = "[...document.querySelectorAll('#dial-list li')].map(item => item.textContent)"
        for entry in screen.ask(f"{hertz}.flatMap(hz => {{ {SECTION}.turnTo(hz); return {listed}; }})"):
            sent = re.search(r"really on ([0-9.\u202f]+) kHz", entry)
            assert sent is not None, entry
            came_in = khz_of(sent[1])
            for terms, out in sums_in(entry, stages):
                assert any(abs(abs(khz) - abs(came_in)) <= 1e-3 for _, khz in terms), entry
                # written to the hertz: each term may be half of one off as often as it counts
                off = 1e-3 * (1 + sum(abs(times) for times, _ in terms))
                assert sum(times * khz for times, khz in terms) == pytest.approx(out, abs=off), entry
                came_in = out
            assert abs(came_in - last.if_hz / 1e3) <= last.filter.bandwidth_hz / 2e3 + 0.01, entry
            looked_at += 1
    assert looked_at > 10


@pytest.mark.long
@pytest.mark.parametrize("name", SETS)
def test_it_says_of_many_settings_what_dial_says(screen: Page, opened: Reports, name: str) -> None:
    """At sixty settings of each range."""
    compared, wrong, worst, off = differences(screen, opened[name], 60)
    assert compared > 100 or name == "quiet"
    assert wrong == []
    assert worst <= 1.0
    assert off == []


@pytest.mark.parametrize("name", by_turns(SETS, always=("boathouse", "quiet")))
@pytest.mark.parametrize("width", [390, 1280])
def test_the_strip_shows_the_worst_of_each_pixel(
    screen: Page, opened: Reports, name: str, width: int
) -> None:
    """Every stretch reaches into the pixels it should, and nothing better stands where it is."""
    screen.open(opened[name].path, width=width)
    for number, one in enumerate(opened[name].turned()):
        choose(screen, number)
        parts = screen.ask(
            "[...document.querySelectorAll('#dial-svg .fill')]"
            ".map(r => [+r.getAttribute('x'), +r.getAttribute('width'), r.dataset.word])"
        )
        frame = screen.ask(
            "(r => [+r.getAttribute('x'), +r.getAttribute('width')])"
            "(document.querySelector('#dial-svg .frame'))"
        )
        shown = np.full(2_000, -1)
        for x, long, word in parts:
            shown[round(x) : round(x + long)] = WORDS.index(word)
        per_hz = frame[1] / (one.high_hz - one.low_hz)
        truth = np.full(2_000, -1)
        for low, high, word in zip(one.words.low_hz, one.words.high_hz, one.words.word.tolist(), strict=True):
            inside = slice(
                *(int(frame[0] + (hz - one.low_hz) * per_hz + 1e-9) + n for n, hz in ((0, low), (1, high)))
            )
            truth[inside] = np.maximum(truth[inside], word)
        # hatching narrower than its lines stand apart gives way to the closer one on either side
        for a, b in pairwise([0, *(np.flatnonzero(np.diff(truth)) + 1).tolist(), len(truth)]):
            around = truth[a - 1], truth[b] if b < len(truth) else -1
            if b - a < 5 and truth[a] == WORDS.index("check") and set(around) == {WORDS.index("don't")}:
                truth[a:b] = WORDS.index("don't")
        differ = np.flatnonzero(shown[LEFT : width - 30] != truth[LEFT : width - 30]) + LEFT
        # a pixel beside an edge may belong to either side
        edges = frame[0] + (np.append(one.words.low_hz, one.high_hz) - one.low_hz) * per_hz
        assert all(np.abs(edges - x).min() <= 1.5 for x in differ.tolist())


@pytest.mark.parametrize("name", by_turns(SETS, always=("boathouse", "quiet")))
@pytest.mark.parametrize("width", [390, 1280])
@pytest.mark.parametrize("dark", [False, True])
def test_nothing_is_fetched_and_nothing_hangs_over(
    screen: Page, opened: Reports, name: str, width: int, dark: bool
) -> None:
    """The console stays empty, the page is all there is to load, no animation runs, no sideways scrolling."""
    screen.complaints.clear()
    screen.requests.clear()
    screen.open(opened[name].path, width=width, dark=dark)
    drawn(screen)
    assert screen.ask("document.getElementById('dial-verdict').textContent.length") > 20
    assert screen.complaints == []
    assert set(screen.requests) <= {opened[name].path.as_uri(), "data:,"}
    assert screen.ask("document.documentElement.scrollWidth") == width
    assert screen.ask("document.getAnimations().length") == 0
    small = screen.ask(
        f"[...{SECTION}.querySelectorAll('select, button, input:not([type=checkbox])')]"
        ".filter(e => e.getClientRects().length && e.getBoundingClientRect().height < 44).map(e => e.id)"
    )
    assert small == []


def test_its_ticks_stand_evenly(screen: Page, opened: Reports) -> None:
    """On a thousand scales the ticks, the longer ones and the numerals are each equally far apart."""
    made = np.random.default_rng(11)
    scales = []
    for _ in range(1_000):
        low = round(10 ** made.uniform(4.5, 8))
        scales.append(
            (low, low + round(low * made.uniform(0.02, 20)) + 20_000, round(made.uniform(300, 1_200)))
        )
    screen.open(opened["boathouse"].path)
    drawn_ticks = screen.ask(f"{json.dumps(scales)}.map(([a, b, w]) => {SECTION}.ticksOf(a, b, w))")
    assert sum(len(ticks) > 5 for ticks in drawn_ticks) > 900
    for (low, high, pixels), ticks in zip(scales, drawn_ticks, strict=True):
        for least in (0, 1, 2):
            places = [hz for hz, kind in ticks if kind >= least]
            assert len({round(b - a, 3) for a, b in pairwise(places)}) <= 1, (low, high)
        if any(kind < 2 for _, kind in ticks):
            assert min(b[0] - a[0] for a, b in pairwise(ticks)) * pixels / (high - low) >= 4.4


def test_the_keyboard_turns_it(screen: Page, opened: Reports) -> None:
    """Tab goes from range to patches; arrows turn by 1 kHz, or 100 Hz; Home and End to the ends."""
    screen.open(opened["boathouse"].path)
    drawn(screen)
    screen.ask("document.getElementById('dial-range').focus()")
    order = []
    for _ in range(6):
        order.append(screen.ask("document.activeElement.id"))
        screen.press("Tab", 9)
    assert order == ["dial-range", "dial-close", "dial-slider", "dial-field", "dial-below", "dial-above"]
    for number, step in ((0, 100), (3, 1000)):
        choose(screen, number)
        screen.ask("document.getElementById('dial-slider').focus()")
        screen.press("Home", 36)
        low = screen.ask("+document.getElementById('dial-slider').value")
        screen.press("ArrowRight", 39)
        assert screen.ask("+document.getElementById('dial-slider').value") - low == step
        screen.press("PageUp", 33)
        assert screen.ask("+document.getElementById('dial-slider').value") > low + 2 * step
        screen.press("End", 35)
        drawn(screen)
        text = screen.ask("document.getElementById('dial-slider').getAttribute('aria-valuetext')")
        assert text.startswith(("1620 kHz.", "30000 kHz.")[number > 0])


def test_the_field_takes_only_what_lies_on_the_range(screen: Page, opened: Reports) -> None:
    """A bad or empty field leaves the dial where it is; leaving the field clamps it."""
    screen.open(opened["boathouse"].path)
    choose(screen, 3)
    write = (
        "((text, kind) => {{ const f = document.getElementById('dial-field'); f.value = text;"
        " f.dispatchEvent(new Event(kind)); }})('{}', '{}')"
    )
    at = "+document.getElementById('dial-slider').value"
    screen.ask(write.format("14200", "input"))
    assert screen.ask(at) == 14_200_000
    for text in ("", "2", "99999999"):
        screen.ask(write.format(text, "input"))
        assert screen.ask(at) == 14_200_000
    screen.ask(write.format("", "change"))
    assert screen.ask(at) == 14_200_000
    screen.ask(write.format("99999999", "change"))
    assert screen.ask(at) == 30_000_000


def test_patches_lead_to_what_is_spoilt(screen: Page, opened: Reports) -> None:
    """Above and below, to the middle of the next stretch that is not to be believed."""
    one = opened["boathouse"].turned()[3]
    screen.open(opened["boathouse"].path)
    choose(screen, 3)
    screen.ask(f"{SECTION}.turnTo(12300000)")
    worse = [
        (low + high) / 2
        for low, high, word in zip(
            one.words.low_hz.tolist(), one.words.high_hz.tolist(), one.words.word.tolist(), strict=True
        )
        if word >= WORDS.index("check")
    ]
    place = "document.getElementById('dial-field').valueAsNumber * 1000"
    screen.ask("document.getElementById('dial-above').click()")
    assert abs(screen.ask(place) - min(hz for hz in worse if hz > 12_300_000)) <= 1
    screen.ask(f"{SECTION}.turnTo(12300000)")
    screen.ask("document.getElementById('dial-below').click()")
    assert abs(screen.ask(place) - max(hz for hz in worse if hz < 12_300_000)) <= 1


def test_patches_lead_on_inside_a_long_one(screen: Page, opened: Reports) -> None:
    """From inside a stretch of many megahertz to its middle and its end; where none follows, that is said."""
    one = opened["boathouse"].turned()[3]
    low, high = int(one.words.low_hz[-1]), int(one.words.high_hz[-1])
    assert WORDS[one.words.word[-1]] == "check"
    assert high - low > (one.high_hz - one.low_hz) / 2
    screen.open(opened["boathouse"].path)
    choose(screen, 3)
    screen.ask(f"{SECTION}.turnTo({low + 1_000_000})")
    place = "document.getElementById('dial-field').valueAsNumber * 1000"
    waits = "document.getElementById('dial-above').getAttribute('aria-disabled')"
    drawn(screen)
    assert screen.ask(waits) == "false"
    for hz in ((low + high) / 2, high, high):
        screen.ask("document.getElementById('dial-above').click()")
        assert abs(screen.ask(place) - hz) <= 1
    drawn(screen)
    assert screen.ask(waits) == "true"
    for hz in ((low + high) / 2, low):
        screen.ask("document.getElementById('dial-below').click()")
        assert abs(screen.ask(place) - hz) <= 1


def test_a_finger_drags_it(screen: Page, opened: Reports) -> None:
    """A touch that moves along the slider moves the dial with it."""
    screen.open(opened["boathouse"].path, width=390)
    choose(screen, 3)
    screen.do("Emulation.setTouchEmulationEnabled", enabled=True)
    screen.ask("document.getElementById('dial-slider').scrollIntoView({block: 'center'})")
    box = screen.ask(
        "(r => [r.left, r.top, r.width, r.height])"
        "(document.getElementById('dial-slider').getBoundingClientRect())"
    )
    y = box[1] + box[3] / 2
    for kind, part in (("touchStart", 0.5), ("touchMove", 0.6), ("touchMove", 0.75)):
        point = {"x": box[0] + part * box[2], "y": y}
        screen.do("Input.dispatchTouchEvent", type=kind, touchPoints=[point])
    screen.do("Input.dispatchTouchEvent", type="touchEnd", touchPoints=[])
    screen.do("Emulation.setTouchEmulationEnabled", enabled=False)
    assert screen.ask("+document.getElementById('dial-slider').value") > 24_000_000


def test_the_knob_stands_under_the_pointer(screen: Page, opened: Reports) -> None:
    """At the ends and in the middle, to a pixel or two."""
    for width in (390, 1280):
        screen.open(opened["boathouse"].path, width=width)
        choose(screen, 3)
        for hz in (11_000_000, 20_000_000, 30_000_000):
            screen.ask(f"{SECTION}.turnTo({hz})")
            drawn(screen)
            pointer = screen.ask("document.querySelector('#dial-svg .pointer').getBoundingClientRect().left")
            left, long = screen.ask(
                "(r => [r.left, r.width])(document.getElementById('dial-slider').getBoundingClientRect())"
            )
            knob = left + 11 + (hz - 11_000_000) / 19_000_000 * (long - 22)
            assert abs(pointer - knob) <= 2


def test_it_tells_those_who_cannot_see_it(screen: Page, opened: Reports) -> None:
    """Roles, names and a status that follows at rest."""
    screen.open(opened["boathouse"].path)
    drawn(screen)
    nodes = screen.do("Accessibility.getFullAXTree")["nodes"]
    roles = {node["role"]["value"] for node in nodes if "role" in node}
    assert {"slider", "spinbutton", "combobox", "checkbox", "button", "status"} <= roles
    assert roles & {"image", "img"}
    screen.ask("new Promise(done => setTimeout(done, 900))")
    assert screen.ask("document.getElementById('dial-status').textContent") == screen.ask(
        "document.getElementById('dial-verdict').textContent"
    )


def test_it_says_what_the_pointer_shows(screen: Page, opened: Reports) -> None:
    """Range 4 of the boathouse set shows 20 kHz less than it receives; the others show what they receive."""
    screen.open(opened["boathouse"].path)
    for number in range(4):
        choose(screen, number)
        said = screen.ask("document.getElementById('dial-verdict').textContent")
        told = re.match(r"([\d\s]+)\skHz(?: \(the pointer shows ([\d\s]+)\))?", said)
        assert told is not None, said
        tuned, shows = (text and int("".join(text.split())) for text in told.groups())
        assert tuned is not None
        assert (shows is None) == (number < 3)
        if shows is not None:
            assert shows == tuned - 20


def test_without_script_nothing_speaks_of_turning(screen: Page, opened: Reports) -> None:
    """Neither on a screen without script nor on paper."""
    screen.do("Emulation.setScriptExecutionDisabled", value=True)
    try:
        screen.open(opened["boathouse"].path)
    finally:
        screen.do("Emulation.setScriptExecutionDisabled", value=False)
    # the card for the wall may tell to turn the real one
    shown = "document.getElementById('dial-section').getClientRects().length > 0"
    assert screen.ask(shown) is False
    seen = "[...document.querySelectorAll('{}')].filter(e => e.getClientRects().length).length"
    assert screen.ask(seen.format("main figure svg.wide")) == len(opened["boathouse"].receiver.ranges)
    texts = (
        "[...document.querySelectorAll('a, h2, label, button, summary')]"
        ".filter(e => e.getClientRects().length && /\\bturn/i.test(e.textContent)).map(e => e.textContent)"
    )
    assert screen.ask(texts) == []
    screen.open(opened["boathouse"].path)
    assert screen.ask(shown) is True
    screen.do("Emulation.setEmulatedMedia", media="print")
    assert screen.ask(shown) is False
    screen.do("Emulation.setEmulatedMedia", media="")


TIMED = """
(async () => {
  const real = globalThis.requestAnimationFrame, slider = document.getElementById('dial-slider'), spent = [];
  globalThis.requestAnimationFrame = work => real(at => {
    const start = performance.now(); work(at); spent.push(performance.now() - start); });
  for (let n = 0; n <= 240; n++) {
    slider.value = +slider.min + (slider.max - slider.min) * n / 240;
    slider.dispatchEvent(new Event('input'));
    await new Promise(done => real(() => real(done)));
  }
  globalThis.requestAnimationFrame = real;
  return spent;
})()
"""


@pytest.mark.long
@pytest.mark.parametrize(("name", "most_ms"), [("boathouse", 4.0), ("lockkeeper", 4.0), ("crowded", 8.0)])
@pytest.mark.parametrize("close_up", [False, True])
def test_it_follows_the_hand(
    screen: Page, opened: Reports, name: str, most_ms: float, close_up: bool
) -> None:
    """The script of a picture takes a few milliseconds, so that sixty a second can be drawn."""
    screen.open(opened[name].path)
    choose(screen, len(opened[name].receiver.ranges) - 1)
    if close_up:
        screen.ask("document.getElementById('dial-close').click()")
    spent = screen.ask(TIMED)
    assert len(spent) >= 200
    assert median(spent) <= most_ms


def test_the_script_is_small() -> None:
    """At most 24 kB as written."""
    path = Path(spurplan.__file__).parent / "reporting" / "templates" / "dial.js"
    assert path.stat().st_size <= 24_000


def test_a_label_cannot_end_the_data(tmp_path: Path) -> None:
    """Whatever a table calls a station, its name is data."""
    (tmp_path / "bad.csv").write_text(
        "low_hz,high_hz,service,label\n14000000,14000000,broadcast,</script><b>x\n", "utf-8"
    )
    data = dial_json(dial_page(demo("boathouse"), read_bands(tmp_path / "bad.csv"), Settings()))
    assert data is not None
    assert "<" not in data
    assert "</script><b>x" in json.loads(data)["occupants"]["labels"]


@pytest.mark.long
def test_too_much_to_turn_is_said(tmp_path: Path) -> None:
    """A page that would be too heavy does without the dial, and says so."""
    receiver, bands = crowded(tmp_path)
    shown = page(receiver, bands, Settings())
    assert shown.dial is None
    assert "Too crowded to turn" in html(shown)


def test_s_readings_are_those_of_the_program(screen: Page, opened: Reports) -> None:
    """By the same rule for a level, on either side of the change."""
    screen.open(opened["boathouse"].path)
    one = opened["boathouse"].turned()[3]
    hertz = settings_of(one, 12, 1)
    said = screen.ask(f"{json.dumps(hertz)}.map(hz => {SECTION}.rowsAt(0, 3, hz))")
    rows = [(row, hz) for hz, some in zip(hertz, said, strict=True) for row in some]
    assert len(rows) > 10
    assert all(row["heard_s"] == s_text(row["heard_dbm"], hz) for row, hz in rows)


@pytest.mark.long
def test_another_state_of_the_set_is_chosen_beside_it(screen: Page, tmp_path: Path) -> None:
    """The dial stays where it is, and what comes in is what comes in then."""
    receiver, bands = demo("boathouse"), read_bands(None)
    open_ranges = tuple(changed(one, receiver.name, front_end=()) for one in receiver.ranges)
    bare = changed(receiver, receiver.name, ranges=open_ranges)
    states = [
        (name, turned_ranges(one, bands, Settings()))
        for name, one in (("as it is", receiver), ("bare", bare))
    ]
    data = dial_json(encoded(receiver.name, states, Settings()), ANY_SIZE)
    (tmp_path / "two.html").write_text(html(replace(page(receiver, bands, Settings()), dial=data)), "utf-8")
    screen.open(tmp_path / "two.html")
    choose(screen, 3)
    screen.ask(f"{SECTION}.turnTo(14200000)")
    assert screen.ask("document.getElementById('dial-state').getClientRects().length") == 1
    screen.ask(
        "(s => { s.selectedIndex = 1; s.dispatchEvent(new Event('change')); })"
        "(document.getElementById('dial-state'))"
    )
    drawn(screen)
    assert screen.ask("document.getElementById('dial-field').valueAsNumber") == 14_200
    truth = spurplan.dial(bare, bands=bands, frequency=14_200_000, range="4").first.records()
    rows = screen.ask(f"{SECTION}.rowsAt(1, 3, 14200000)")
    assert len(rows) > len(screen.ask(f"{SECTION}.rowsAt(0, 3, 14200000)"))
    assert Counter(tuple(r[f] for f in FIELDS) for r in rows) == Counter(
        tuple(r[f] for f in FIELDS) for r in truth
    )
    compared, wrong, worst, off = differences(screen, Opened(tmp_path / "two.html", bare, bands), 60, state=1)
    assert compared > 1000
    assert (wrong, off) == ([], [])
    assert worst <= 1.0

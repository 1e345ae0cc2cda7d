"""The measuring sheet: what is on it, where, and what it warns of."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import spurplan
from spurplan.cautions import cautions_of
from spurplan.cli import main
from spurplan.errors import Refused
from spurplan.planning.bench.dial_settings import settings_hz
from spurplan.planning.bench.points import Bench, chosen, design
from spurplan.receiver.description import Range, Receiver
from spurplan.receiver.file.reading import parse_receiver
from spurplan.receiver.file.starter import starter_text
from spurplan.receiver.gang import capacitance_at_ends_pf
from spurplan.receiver.tracking import track
from spurplan.reporting.views.bench import sheet_view
from spurplan.units import hz_text
from tests.bench_logs import rows_of
from tests.planted import valve_set

SETS = Path(__file__).parents[1] / "receivers"
BOATHOUSE = SETS / "boathouse.toml"


@pytest.fixture(scope="module")
def sheet() -> spurplan.Answer:
    """The sheet of all ranges of the boathouse set."""
    return spurplan.bench_sheet(BOATHOUSE)


def lines(answer: spurplan.Answer, range_: str, dial_hz: int) -> dict[str, list[dict[str, Any]]]:
    """Return the lines of one setting by response."""
    out: dict[str, list[dict[str, Any]]] = {}
    for record in answer.tables["points"].records():
        if (record["range"], record["dial_hz"]) == (range_, dial_hz):
            out.setdefault(record["response"], []).append(record)
    return out


def test_the_agreed_fields_are_there_in_their_order(sheet: spurplan.Answer) -> None:
    """number, response, generator_hz, predicted_db, teaches, reading; the reading is left open."""
    agreed = ["number", "response", "generator_hz", "predicted_db", "teaches", "reading"]
    names = [column.name for column in sheet.first.columns]
    assert [name for name in names if name in agreed] == agreed
    assert all(reading is None for reading in sheet.points["reading"])
    assert sheet.points["number"].tolist() == list(range(1, len(sheet.first) + 1))


def test_responses_stand_where_arithmetic_puts_them(sheet: spurplan.Answer) -> None:
    """High side, 465 kHz: image 930 kHz above, IF on 465 kHz, half-IF 232.5 above, 2 LO - 465 kHz."""
    at = lines(sheet, "4", 19_350_000)
    assert [r["generator_hz"] for r in at["image"]] == [19_350_000 + 930_000]
    assert [r["generator_hz"] for r in at["IF breakthrough"]] == [465_000]
    assert [r["generator_hz"] for r in at["half-IF"]] == [19_350_000 + 232_500]
    oscillator = 19_350_000 + 465_000
    possible = {m * oscillator + side * 465_000 for m in (2, 3) for side in (-1, 1)}
    assert {r["generator_hz"] for r in at["LO-harmonic"]} < possible
    assert at["wanted"][0]["predicted_db"] == 0.0
    assert at["pointer"][0]["predicted_db"] is None


def test_settings_are_the_tracking_points_in_round_figures(sheet: spurplan.Answer) -> None:
    """550-1600 kHz, 465 kHz: near 603, 1022 and 1521 kHz (see the tests of tracking), to 5 kHz."""
    found = settings_hz(_medium_wave(), _medium_wave().ranges[0], 3)
    np.testing.assert_allclose(found, [603e3, 1022e3, 1521e3], rtol=0.02)
    assert all(hz % 5_000 == 0 for hz in found)
    for one in spurplan.read_receiver(BOATHOUSE).ranges:
        own = sorted({r["dial_hz"] for r in sheet.first.records() if r["range"] == one.name})
        assert len(own) == 3
        assert one.low_hz <= own[0]
        assert own[2] <= one.high_hz


def _medium_wave() -> Receiver:
    return Receiver.from_dict(
        {
            "name": "medium wave",
            "conversions": [{"injection": "high", "if_hz": 465_000, "filter": {"bandwidth_hz": 6_000}}],
            "ranges": [{"name": "1", "low_hz": 550_000, "high_hz": 1_600_000}],
        }
    )


@pytest.mark.parametrize("points", [1, 2, 4, 7, 25])
def test_any_number_of_settings_stays_inside_the_range(points: int) -> None:
    """N settings a range, rising, inside it; the middle alone, the outer two, or spread."""
    for receiver in (valve_set(), _medium_wave(), spurplan.read_receiver(SETS / "ferry_converter.toml")):
        for one in receiver.ranges:
            found = settings_hz(receiver, one, points)
            assert len(found) == points
            assert list(found) == sorted(set(found))
            assert one.low_hz <= found[0] <= found[-1] <= one.high_hz


def test_a_false_peak_stands_twice_the_if_beside_the_right_one(sheet: spurplan.Answer) -> None:
    """Signal f with f + 465 or f - 465 kHz gives 465 kHz; with the oscillator above, the higher is right."""
    for record in sheet.tables["alignment"].records():
        assert record["right_hz"] == record["dial_hz"] + 465_000
        assert record["wrong_hz"] == abs(record["dial_hz"] - 465_000)
        assert record["right_is"] == "higher"
        assert record["image_hz"] == record["dial_hz"] + 930_000
        # 15 % of an oscillator is about what trimmer and core can do: common practice
        apart = abs(record["right_hz"] - record["wrong_hz"]) / record["right_hz"]
        assert record["within_reach"] == (apart <= 0.15)
    reach = {r["range"]: r["within_reach"] for r in sheet.tables["alignment"].records()}
    assert reach == {"1": False, "2": False, "3": True, "4": True}


def price_of_a_padder_hz(range_: Range, factor: float) -> float:
    """Return the largest error between the outer two points with a padder so many times the right one. [Hz]

    Notes
    -----
    With the gang section C, padder P, trimmer T and coil L the oscillator stands on 1/(2 pi sqrt(L (T + C P
    / (C + P)))): L and T from the two outer points, and the error between.
    """
    low, high, if_hz = float(range_.low_hz), float(range_.high_hz), 465e3
    gang = range_.gang
    right = track(
        low, high, if_hz, c_max_pf=350.0 if gang is None else gang.c_max_pf,
        c_min_pf=None if gang is None else gang.c_min_pf, coil_uh=None if gang is None else gang.coil_uh,
    )  # fmt: skip
    total_low = 350.0 if gang is None else gang.c_max_pf
    stray = 0.0
    if gang is not None and (gang.c_min_pf is not None or gang.coil_uh is not None):
        stray = capacitance_at_ends_pf(low, high, gang.c_min_pf, gang.coil_uh)[0] - total_low
        total_low += stray
    padder = right.padder_pf * factor

    def branch(hz: Any) -> Any:
        c = total_low * (low / hz) ** 2 - stray
        return c * padder / (c + padder)

    ends = np.array([right.points_hz[0], right.points_hz[2]])
    # (2 pi f)^-2 = L T + L B, pF and uH alike
    y, b = (2 * np.pi * (ends + if_hz)) ** -2.0, branch(ends)
    coil = (y[0] - y[1]) / (b[0] - b[1])
    trimmer = y[0] / coil - b[0]
    f = np.linspace(right.points_hz[0], right.points_hz[2], 2_001)
    oscillator = 1.0 / (2 * np.pi * np.sqrt(coil * (trimmer + branch(f))))
    assert factor == 1.0 or np.abs(oscillator - if_hz - f).max() > 2.0 * right.peak_error_hz
    return float(np.abs(oscillator - if_hz - f).max())


@pytest.mark.parametrize("name", ["1", "2", "3", "4"])
def test_a_padder_off_costs_the_worse_of_too_large_and_too_small(sheet: spurplan.Answer, name: str) -> None:
    """10 % either way, worked out again from the circuit; which of the two is worse goes by the range."""
    one = next(one for one in spurplan.read_receiver(BOATHOUSE).ranges if one.name == name)
    small, large = (price_of_a_padder_hz(one, factor) for factor in (0.9, 1.1))
    row = next(row for row in sheet.tables["alignment"].records() if row["range"] == name)
    assert abs(small - large) > 0.009 * max(small, large)
    assert row["padder_off_hz"] == pytest.approx(max(small, large), rel=0.003)


def test_a_padder_at_its_end_has_a_remedy(sheet: spurplan.Answer, capsys: Any) -> None:
    """The low point says what to do with it, the high one what with the trimmer, the middle neither."""
    rows = [row for row in sheet.tables["alignment"].records() if row["range"] == "2"]
    assert "fixed" in rows[0]["at_end"]
    assert rows[1]["at_end"] is None
    assert "trimmer right in" in rows[2]["at_end"]
    assert [row["padder_off_hz"] is None for row in rows] == [False, True, True]
    assert main(["bench-sheet", str(BOATHOUSE)]) == 0
    assert "a padder 10 % off" in " ".join(capsys.readouterr().out.split()).lower()


def test_low_side_injection_is_right_on_the_lower_setting() -> None:
    """The other way round where the oscillator belongs below."""
    receiver = Receiver.from_dict(
        {
            "name": "low side",
            "conversions": [{"injection": "low", "if_hz": 465_000, "filter": {"bandwidth_hz": 6_000}}],
            "ranges": [{"name": "1", "low_hz": 20_000_000, "high_hz": 30_000_000}],
        }
    )
    for record in spurplan.bench_sheet(receiver).tables["alignment"].records():
        assert record["right_hz"] == record["dial_hz"] - 465_000
        assert record["wrong_hz"] == record["dial_hz"] + 465_000
        assert record["right_is"] == "lower"


@pytest.mark.parametrize(("q", "peaks"), [(40.0, True), (60.0, False)])
def test_it_warns_where_the_front_end_can_be_peaked_on_the_image(q: float, peaks: bool) -> None:
    """Under 25 dB of image rejection: two circuits at 20.5 MHz and 465 kHz pass that between Q 40 and 60.

    2*10*log10(1 + (Q v)^2) with v = 21.43/20.5 - 20.5/21.43 = 0.0887: 22.6 dB and 29.3 dB (arithmetic).
    """
    receiver = valve_set(q=q)
    v = 21.43 / 20.5 - 20.5 / 21.43
    assert (20.0 * math.log10(1.0 + (q * v) ** 2) < 25.0) == peaks
    [one] = spurplan.bench_sheet(receiver, points=1).tables["alignment"].records()
    assert one["dial_hz"] == pytest.approx(19.35e6, abs=0.2e6)
    assert one["peaks_on_image"] == peaks


def test_the_generator_can_be_too_weak(sheet: spurplan.Answer) -> None:
    """What it cannot reach is left out, but for image and IF, which say how to write that it was silent."""
    assert sheet.points["reachable"].all()
    weak = spurplan.bench_sheet(BOATHOUSE, range="2", generator_max="-50 dBm")
    records = weak.first.records()
    beyond = [r for r in records if not r["reachable"]]
    assert {r["response"] for r in beyond} <= {"image", "IF breakthrough"}
    assert beyond
    for record in beyond:
        assert record["generator_dbm"] > -50.0
        assert "write >50 dB" in record["note"]


def test_the_generators_own_harmonics_are_found_out() -> None:
    """IF breakthrough takes 465 kHz: with the set on 4650 kHz its tenth harmonic is the wanted signal.

    The settings move away from there, and where none can, the line says so.
    """
    low = Receiver.from_dict(
        {
            "name": "short",
            "conversions": [{"injection": "high", "if_hz": 465_000, "filter": {"bandwidth_hz": 6_000}}],
            "ranges": [{"name": "1", "low_hz": 4_649_000, "high_hz": 4_651_000}],
        }
    )
    answer = spurplan.bench_sheet(low, points=1)
    [record] = [r for r in answer.first.records() if r["response"] == "IF breakthrough"]
    assert "harmonic 10 comes in as wanted" in record["note"]
    wide = Receiver.from_dict(
        {
            "name": "wider",
            "conversions": [{"injection": "high", "if_hz": 465_000, "filter": {"bandwidth_hz": 6_000}}],
            "ranges": [{"name": "1", "low_hz": 4_500_000, "high_hz": 4_800_000}],
        }
    )
    records = {r["response"]: r for r in spurplan.bench_sheet(wide, points=1).first.records()}
    assert records["IF breakthrough"]["note"] is None
    assert abs(records["wanted"]["dial_hz"] - 4_650_000) < 20_000
    # half-IF at f + IF/2: twice that is 2 LO - IF, which the second harmonic of the oscillator brings in
    assert 2 * records["half-IF"]["generator_hz"] == 2 * (records["wanted"]["dial_hz"] + 465_000) - 465_000
    assert "harmonic 2 comes in as LO-harmonic" in records["half-IF"]["note"]


def test_the_sheet_measures_what_it_says_it_teaches() -> None:
    """With its lines read to 1 dB, every figure that a line teaches is known to a step that matters."""
    receiver = spurplan.read_receiver(BOATHOUSE)
    found = design(Bench(receiver, -13.0), receiver.ranges, 3)
    picked = [found.injects.index(i) for i in chosen(found) if i.reachable]
    rows = found.jacobian[picked]
    deviation = np.sqrt(np.diag(np.linalg.pinv(rows.T @ rows, rcond=1e-9)))
    taught = np.abs(rows).max(axis=0) > 1.0
    assert taught.sum() >= 9
    assert (deviation[taught] < 1.0).all()


def test_readings_at_the_ceiling_are_said_to_carry_no_q(sheet: spurplan.Answer) -> None:
    """Low on the lowest range the image is down at the ceiling: its line teaches that and not the Q."""
    for dial in (590_000, 1_010_000):
        [image] = lines(sheet, "1", dial)["image"]
        # a fifth of the power at most comes through the circuits: 10 log10(5/4) off the ceiling
        assert 70.0 - 0.97 < image["predicted_db"] < 70.0
        assert image["teaches"] == "ceiling"
        assert "carries no Q" in image["note"]
    [image] = lines(sheet, "4", 28_450_000)["image"]
    assert image["teaches"] == "loaded Q"


def test_a_converter_is_measured_through_both_mixers() -> None:
    """Image and second image, straight in on the tunable IF, the pointer on the old dial."""
    answer = spurplan.bench_sheet(SETS / "ferry_converter.toml", range="10 m", points=1)
    at = lines(answer, "10 m", int(answer.points["dial_hz"][0]))
    dial = int(answer.points["dial_hz"][0])
    tunable = dial - 24_500_000
    assert [r["generator_hz"] for r in at["IF breakthrough"]] == [tunable]
    assert [r["generator_hz"] for r in at["image"]] == [24_500_000 - tunable]
    assert [r["generator_hz"] for r in at["second image"]] == [dial + 910_000]
    assert at["pointer"][0]["pointer_hz"] == tunable


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ({"points": 0}, r'--points: "0" is no number of settings'),
        ({"points": 26}, r'--points: "26" is no number of settings'),
        ({"points": True}, r"--points"),
        ({"range": "9"}, r'--range: "9" is no range'),
        ({"generator_max": "loud"}, r'--generator-max: "loud" is not a generator level'),
        ({"generator_max": 300.0}, r'--generator-max: "300.0" is no generator level'),
        ({"reference": "S9"}, r"--reference"),
        ({"reference": "-3 dBm"}, r"--reference.*more than the generator gives"),
    ],
)
def test_options_outside_any_sense_are_refused(options: dict[str, Any], said: str) -> None:
    """Each names the option, the value, the rule and the remedy."""
    with pytest.raises(Refused, match=said):
        spurplan.bench_sheet(BOATHOUSE, **options)


def test_people_read_the_caution_first(capsys: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """Below what the sheet is, ahead of all there is to do, in text and in Markdown; in JSON among them."""
    monkeypatch.setenv("COLUMNS", "80")
    for form in ("text", "md"):
        assert main(["bench-sheet", str(BOATHOUSE), "--format", form]) == 0
        out = capsys.readouterr().out
        title, rest = out.split("Caution: ", 1)
        assert title.count("\n") <= 3
        assert " ".join(rest.split()).startswith("Valve sets, and any set on the mains, carry")
        assert out.count("Caution:") == len(cautions_of("bench-sheet"))
        assert out.rindex("Caution:") < out.index("How:")
        plain = " ".join(out.replace("\\", "").split())
        for said in ("may still be live", "charged after switch-off", "dummy aerial", "EMF", "__________"):
            assert said in plain, said
        assert "attenuator is the instrument" in plain
    assert (
        spurplan.bench_sheet(BOATHOUSE).cautions[0].startswith("Valve sets, and any set on the mains, carry")
    )


def test_no_line_is_left_out_and_none_is_too_wide(capsys: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """A sheet is complete, so it knows no --top, and 80 columns wide."""
    monkeypatch.setenv("COLUMNS", "80")
    assert main(["bench-sheet", str(BOATHOUSE)]) == 0
    out = capsys.readouterr().out
    assert out.count("__________") == len(spurplan.bench_sheet(BOATHOUSE).first)
    assert max(map(len, out.splitlines())) <= 80
    assert "left out; --top" not in out


def test_csv_is_the_sheet_to_fill_in(sheet: spurplan.Answer) -> None:
    """One row a line, its reading empty, its route as JSON."""
    rows = rows_of(sheet)
    assert len(rows) == len(sheet.first)
    assert {row["reading"] for row in rows} == {""}
    assert {row["steps"] for row in rows if row["response"] == "image"} == {"[[-1, 1]]"}


@pytest.mark.parametrize("side", ["high", "low"])
def test_the_generator_left_where_it_is_tells_the_side_of_the_oscillator(side: str) -> None:
    """A set built the other way round hears the generator again where the sheet of this one says wrong."""
    text = starter_text(coverage=("6 MHz", "18 MHz"), injection=side)
    other = starter_text(coverage=("6 MHz", "18 MHz"), injection={"high": "low", "low": "high"}[side])
    answer = spurplan.bench_sheet(parse_receiver(text))
    row = [
        row
        for row in answer.tables["alignment"].records()
        if row["check_dial_hz"] is not None and row["check_wrong_hz"] is not None
    ][-1]
    for made, dial_hz in ((text, row["check_dial_hz"]), (other, row["check_wrong_hz"])):
        heard = spurplan.station(parse_receiver(made), frequency=row["dial_hz"], everything=True).first
        images = [one for one in heard.records() if one["response"] == "image"]
        assert any(one["dial_low_hz"] <= dial_hz <= one["dial_high_hz"] for one in images)
    said = " ".join(sheet_view(answer).heading)
    assert (
        f"again with its dial at {hz_text(row['check_dial_hz'])}; heard at {hz_text(row['check_wrong_hz'])} "
        "instead, the oscillator stands on the wrong side."
    ) in said


def test_how_far_the_wrong_setting_is_off_is_told_of_the_right_one() -> None:
    """Twice the IF of the oscillator that belongs there: 930 kHz of 12 MHz and 465 kHz is 7.46 %."""
    receiver = valve_set()
    rows = spurplan.bench_sheet(receiver, points=3).tables["alignment"].records()
    if_hz = receiver.conversions[0].if_hz
    assert rows
    for row in rows:
        assert abs(row["right_hz"] - row["wrong_hz"]) == 2 * if_hz
        assert row["apart_percent"] == pytest.approx(100.0 * 2 * if_hz / row["right_hz"], rel=1e-6)
        assert row["right_hz"] == row["dial_hz"] + if_hz

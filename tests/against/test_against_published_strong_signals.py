"""Published figures of sets beside strong stations, against what `dial` answers about a made-up set."""

from __future__ import annotations

import contextlib
import io
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import spurplan
from spurplan.cli import main
from spurplan.receiver.description import Receiver
from spurplan.receiver.file.writing import write_receiver
from tests.outside import Differences, against
from tests.two_tones import plain_set

Set = dict[str, Any]
Stations = tuple[tuple[float, float], ...]
# a table says nothing about what is beyond it, so it ends far off, with nobody who is heard
FAR = ("60,beacon,R,-140 dBm", "90000,beacon,S,-140 dBm")
TUNED_KHZ = 7_100


def air(folder: Path, *stations: tuple[float, float]) -> Path:
    """A table of broadcasters: kHz and dBm."""
    rows = [f"{khz},broadcast,{khz} kHz,{dbm} dBm" for khz, dbm in stations]
    path = folder / "air.csv"
    path.write_text("\n".join(["freq_khz,service,label,level", *rows, *FAR, ""]), "utf-8")
    return path


def made(bandwidth: str = "2.2 kHz", **conversion: Any) -> Set:
    """A set without a front end that makes no products worth the name, noise figure 15 dB."""
    out = plain_set("7 MHz", "7.2 MHz", iip2=120.0, iip3=60.0) | {"noise_figure": "15 dB"}
    out["conversion"][0] |= conversion | {"filter": {"bandwidth": bandwidth}}
    return out


def noisy(bandwidth: str, *points: tuple[str, str]) -> Set:
    """The same with an oscillator whose noise is told."""
    return made(bandwidth, oscillator_noise=[list(point) for point in points])


def asked(folder: Path, of_set: Set, *stations: tuple[float, float], **options: Any) -> spurplan.Answer:
    """What `dial` answers with these on the air, products below the noise as well."""
    return spurplan.dial(
        Receiver.from_dict(of_set), bands=air(folder, *stations), frequency=f"{TUNED_KHZ} kHz", region=1,
        intermodulation=True, everything=True, **options,
    )  # fmt: skip


def floor_dbm(folder: Path, of_set: Set, **options: Any) -> float:
    """The noise in the bandwidth, as the answer tells it beside any product."""
    told = asked(folder, of_set, (7_000, -40.0), (7_050, -40.0), **options)
    return float(told.tables["pairs"].records()[0]["floor_dbm"])


def rise_db(folder: Path, of_set: Set, khz: float, dbm: float) -> float:
    """By how much the noise rises for one strong station beside the dial, as the answer tells it."""
    told = asked(folder, of_set, (khz, dbm), mode="ssb")
    by_effect = {one["effect"]: one for one in told.tables["overload"].records()}
    one = by_effect.get("reciprocal mixing")
    return 0.0 if one is None else float(one["amount_db"])


def where(rises: Callable[[float], float], wanted: float, low: float, high: float) -> float:
    """The level at which something that rises with it is as high as that."""
    while high - low > 0.01:
        middle = (low + high) / 2
        low, high = (middle, high) if rises(middle) < wanted else (low, middle)
    return (low + high) / 2


def three_db_blocker(folder: Path, of_set: Set, offset_khz: float) -> float:
    """How far over the floor a station is that doubles the noise. [dB]"""
    floor = floor_dbm(folder, of_set, mode="ssb")
    level = where(lambda dbm: rise_db(folder, of_set, TUNED_KHZ + offset_khz, dbm), 3.01, -80.0, 20.0)
    return level - floor


# Operating manual of a 1990s receiver, p. 35: with a filter of 2.2 kHz, a blocker 90 dB over the floor and
# 5 kHz off costs 3 dB, which it calls -123 dBc/Hz; 20 kHz off 109 dB, -142 dBc/Hz. kHz, dBc/Hz, dB
BLOCKERS = ((5, -123, 90.0), (20, -142, 109.0))


@against(
    "operating manual of a 1990s receiver, p. 35",
    "`dial`: blocker over the floor that costs 3 dB by oscillator noise",
    unit="dB",
    tolerance=0.5,
)
def test_blocker_that_costs_three_decibels(folder: Path) -> Differences:
    of_set = noisy("2.2 kHz", ("5 kHz", "-123 dB"), ("20 kHz", "-142 dB"))
    for offset_khz, dbc_hz, blocker_db in BLOCKERS:
        yield f"{offset_khz} kHz, {dbc_hz} dBc/Hz", three_db_blocker(folder, of_set, offset_khz) - blocker_db


# A published page on measuring oscillator noise: L = -(blocker - MDS) - 10 log10(bandwidth), the blocker what
# raises the noise by 3 dB; single sideband (2.5 kHz) adds 34 dB.
SSB_ADDS_DB = 34.0


@against(
    "a published page on measuring oscillator noise",
    "`dial`: noise in 1 Hz from the blocker that costs 3 dB in single sideband",
    unit="dB",
    tolerance=0.5,
)
def test_single_sideband_adds_34_decibels(folder: Path) -> Differences:
    """Measured as the page does, on the answers: what blocker over floor and 34 dB make is the file's."""
    for dbc_hz in (-110.0, -125.0, -140.0):
        of_set = noisy("2.5 kHz", ("10 kHz", f"{dbc_hz} dB"))
        measured = -three_db_blocker(folder, of_set, 15.0) - SSB_ADDS_DB
        yield f"{dbc_hz} dBc/Hz", measured - dbc_hz


def product_dbm(folder: Path, of_set: Set, *stations: tuple[float, float], table: str = "pairs") -> float:
    """The loudest product on the dial as the answer tells it."""
    told = asked(folder, of_set, *stations, audible_at=-100.0)
    found = [one["heard_dbm"] for one in told.tables[table].records() if one["lands_on"] == "dial"]
    return float(max(found))


def with_intercepts(iip2_dbm: float, iip3_dbm: float, **changes: Any) -> Set:
    return made() | {"iip2": f"{iip2_dbm} dBm", "iip3": f"{iip3_dbm} dBm"} | changes


THIRD = ((7_120, 7_140), (7_100 - 60, 7_100 - 30))
SECOND = ((3_000, 4_100), (2_500, 9_600))


def both(frequencies_khz: tuple[int, int], dbm: float) -> Stations:
    return tuple((khz, dbm) for khz in frequencies_khz)


@against(
    "list post on dynamic range: IIP3 +30 dBm, floor -115 dBm",
    "`dial`: tones whose product is at the floor, and their distance from it",
    unit="dB",
    tolerance=0.5,
)
def test_range_free_of_products(folder: Path) -> Differences:
    """A limit of -18.3 dBm and a range of 96.7 dB, in a set whose floor the answer puts at -115 dBm."""
    quiet = with_intercepts(60.0, 30.0, noise_figure="0 dB")

    def noise_of(dbm: float) -> Set:
        return quiet | {"noise": [["1 MHz", f"{dbm} dBm"], ["30 MHz", f"{dbm} dBm"]]}

    given = where(lambda dbm: floor_dbm(folder, noise_of(dbm)), -115.0, -150.0, -90.0)
    of_set = noise_of(given)
    floor = floor_dbm(folder, of_set)
    yield "floor", floor + 115.0
    limit = where(lambda dbm: product_dbm(folder, of_set, *both(THIRD[0], dbm)), floor, -60.0, 0.0)
    yield "limit", limit + 18.3
    yield "range", limit - floor - 96.7


@against(
    "Hausman, Carrier Triple Beats, Microwave Journal",
    "`dial`: f1 + f2 - f3 over 2 f1 - f2 of as strong tones",
    unit="dB",
    tolerance=0.5,
)
def test_triple_beat(folder: Path) -> Differences:
    """6 dB."""
    of_set = with_intercepts(60.0, 30.0)
    for dbm in (-45.0, -30.0):
        three = product_dbm(folder, of_set, (7_120, dbm), (7_150, dbm), (7_170, dbm), table="triples")
        yield f"{dbm} dBm", three - product_dbm(folder, of_set, *both(THIRD[0], dbm)) - 6.0


# Use selectivity to improve receiver intercept point: IIM3 = 3 P - 2 IIP3, IIM2 = 2 P - IIP2; a filter ahead
# that takes S dB off both tones lifts the third-order intercept by 1.5 S, the second-order one by 2 S.
INTERCEPTS = ((60.0, 30.0), (35.0, 5.0))
STOPPED_DB = (3.0, 10.0, 20.0)


@against(
    "Use selectivity to improve receiver intercept point",
    "`dial`: IIM3 and IIM2 of two tones from the intercepts of a set",
    unit="dB",
    tolerance=0.5,
)
def test_products_from_intercepts(folder: Path) -> Differences:
    for iip2, iip3 in INTERCEPTS:
        of_set = with_intercepts(iip2, iip3)
        for dbm in (-45.0, -30.0):
            for pair in THIRD:
                third = product_dbm(folder, of_set, *both(pair, dbm))
                yield f"IIP3 {iip3}, {pair} at {dbm} dBm", third - (3 * dbm - 2 * iip3)
            for pair in SECOND:
                second = product_dbm(folder, of_set, *both(pair, dbm))
                yield f"IIP2 {iip2}, {pair} at {dbm} dBm", second - (2 * dbm - iip2)


def stopping(s_db: float) -> list[dict[str, Any]]:
    """A front end that takes nothing off 7.1 MHz and that much off what stands 20 kHz away and farther."""
    edges = (("1 MHz", s_db), ("7.09 MHz", s_db), ("7.099 MHz", 0.0), ("7.101 MHz", 0.0), ("7.11 MHz", s_db))
    return [{"curve": [[hz, f"{db} dB"] for hz, db in (*edges, ("30 MHz", s_db))]}]


def with_front_end(of_set: Set, elements: list[dict[str, Any]]) -> Set:
    (one,) = of_set["range"]
    return of_set | {"range": [one | {"front_end": elements}]}


def intercepts_dbm(folder: Path, of_set: Set, dbm: float = -30.0) -> tuple[float, float]:
    """Second- and third-order intercept, read off two tones and the products that the answer tells."""
    second = product_dbm(folder, of_set, *both(SECOND[0], dbm))
    third = product_dbm(folder, of_set, *both(THIRD[0], dbm))
    return 2 * dbm - second, (3 * dbm - third) / 2


@against(
    "Use selectivity to improve receiver intercept point",
    "`dial`: intercepts with a filter ahead of the mixer over those without",
    unit="dB",
    tolerance=0.5,
)
def test_selectivity_ahead_of_the_mixer(folder: Path) -> Differences:
    """2 S and 1.5 S."""
    bare = with_intercepts(60.0, 30.0)
    bare_2, bare_3 = intercepts_dbm(folder, bare)
    for s_db in STOPPED_DB:
        with_2, with_3 = intercepts_dbm(folder, with_front_end(bare, stopping(s_db)))
        yield f"IIP2, S {s_db} dB", with_2 - bare_2 - 2.0 * s_db
        yield f"IIP3, S {s_db} dB", with_3 - bare_3 - 1.5 * s_db


@against(
    "Use selectivity to improve receiver intercept point",
    "`spurplan dial`: intercepts with a box in the aerial lead over those without",
    unit="dB",
    tolerance=0.5,
)
def test_selectivity_in_the_aerial_lead_by_the_command(folder: Path) -> Differences:
    """The same of a band-pass in the lead, printed by the command line."""

    def told_dbm(of_set: Set, frequencies_khz: tuple[int, int]) -> float:
        file = folder / "set.toml"
        write_receiver(Receiver.from_dict(of_set), file)
        table = str(air(folder, *both(frequencies_khz, -30.0)))
        words = ["dial", str(file), f"{TUNED_KHZ} kHz", "--bands", table, "--region", "1"]
        printed = io.StringIO()
        with contextlib.redirect_stdout(printed):
            assert main([*words, "--intermodulation", "--everything", "--format", "json"]) == 0
        found = json.loads(printed.getvalue())["pairs"]
        return float(max(one["heard_dbm"] for one in found if one["lands_on"] == "dial"))

    bare = with_intercepts(60.0, 30.0)
    for s_db in STOPPED_DB:
        behind = bare | {"ahead": [{"name": "band-pass", "elements": stopping(s_db)}]}
        second, third = (told_dbm(bare, pair) - told_dbm(behind, pair) for pair in (SECOND[0], THIRD[0]))
        # a product of order n falls by (n - 1) times what the intercept rises
        yield f"IIP2, S {s_db} dB", second - 2.0 * s_db
        yield f"IIP3, S {s_db} dB", third / 2 - 1.5 * s_db

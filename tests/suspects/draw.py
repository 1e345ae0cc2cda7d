"""Draws the cases of ``drawn.csv``: a set, a dial setting, a true way in, and what the bench shows of it.

python -m tests.suspects.draw > tests/suspects/drawn.csv
python -m tests.suspects.draw 27182 > other.csv         # of another seed

Knows nothing of the tool it is for: the ways in are worked out by hand below, and how common, how loud and
how often misread anything is are figures of this script alone [est], not those the tool weighs by.

The distribution, stated. A set is one of six (`SETS`), its dial uniform over one of its ranges to 1 kHz.
The true way in is drawn from `CAUSES`, with so many cases each. Who is heard is what an own rough list of
bands has on the frequency the way leads to. In one case of five of those that come from the air no table
has it. The tables of a case are rows made for it: the true one (unless it is in none), with two chances
of three something where the set is tuned, and with one of two something on each other way. They bear no
levels, but for a local station one case in two.

Told at first are what it sounds like (nine times of ten), how strong it is (seven of ten) and one, two or
three tests of the bench, the motion twice as likely as any other. The file has what each other test would
show, misreadings drawn already. `open_ways` counts the ways whose undisturbed predictions agree with
every test told at first: two or more make a case ambiguous. `other_set_hears` says whether another set,
tuned to where the transmitter really is, has it; `other_set_errs` whether it takes something else there
for it where it is not.

What more tests of the bench show comes from streams of their own, `MORE_SEED` further on each, so that the
columns before them are what they were without these. `loudest` says where on the dial it is loudest when
that is turned some kilohertz either way: a neighbour where he stands, up or down the dial; what does not move
with the dial at all, everywhere; all else here. One reading in twelve is wrong, another station close by
taken for it. `errs_each` is `other_set_errs` for one who looks for it on several frequencies in one go:
whether the first, the second ... at which it is not deceives him, each by itself and as often as one alone.
`same_set_hears` and `same_set_errs_each` are the like for one who tunes the set itself to where the
transmitter really is, as far as its ranges go: it is the same aerial at the same hour, and the station comes
by the front door there, so it is heard 19 times in 20, and otherwise has just closed down. `behind_others`
says whether other stations near by, tuned in, have it behind them too. What a strong station does to a
stage it does to every carrier that passes there: to third order the depth of cross-modulation goes with the
strong station alone and not with the carrier that it rides on (textbook); what comes in on the IF is there
wherever the dial stands; anything else has its one place. One time in ten there is no other station near by
to try it on; a carrier too weak to bring it up hides it 15 times in 100, and 6 times in 100 another that
sends the same programme is taken for it.
"""

from __future__ import annotations

import csv
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import numpy as np

SEED = 61_803
# of what was thought of later: added to the seed once, twice and so on, streams of their own
MORE_SEED = 1_000_003
# name: IFs, injection of the first mixer, circuits ahead of it, their Q, calibrator (0: none)
SETS: dict[str, tuple[tuple[int, ...], str, int, int, int]] = {
    "Gatehouse": ((465_000,), "high", 2, 55, 100_000),
    "Ferry": ((455_000,), "high", 1, 45, 0),
    "Orchard": ((1_600_000,), "high", 2, 60, 500_000),
    "Belfry": ((1_620_000, 455_000), "high", 2, 50, 100_000),
    "Weir": ((3_035_000, 100_000), "high", 2, 70, 0),
    "Kiln": ((470_000,), "low", 2, 40, 1_000_000),
}
RANGES_KHZ = ((2_000, 5_000), (5_000, 12_000), (12_000, 30_000))
CAUSES = {
    "station": 100, "image": 95, "half-IF": 45, "IF": 50, "oscillator harmonic": 45, "own": 60,
    "neighbour": 60, "overload": 45, "cross-modulation": 50, "transmitter harmonic": 50,
}  # fmt: skip
UNLISTED = 0.2
# roughly who is where [kHz]: common practice, from memory
ROUGHLY = (
    (255, 525, "beacon"), (525, 1_705, "broadcast"), (1_810, 2_000, "amateur"), (2_000, 2_850, "maritime"),
    (3_500, 3_800, "amateur"), (3_900, 4_000, "broadcast"), (4_063, 4_438, "maritime"),
    (4_750, 5_060, "broadcast"), (5_900, 6_200, "broadcast"), (6_200, 6_525, "maritime"),
    (7_000, 7_200, "amateur"), (7_200, 7_450, "broadcast"), (8_195, 8_815, "maritime"),
    (9_400, 9_900, "broadcast"), (10_100, 10_150, "amateur"), (11_600, 12_100, "broadcast"),
    (12_230, 13_200, "maritime"), (13_570, 13_870, "broadcast"), (14_000, 14_350, "amateur"),
    (15_100, 15_800, "broadcast"), (16_360, 17_410, "maritime"), (17_480, 17_900, "broadcast"),
    (18_068, 18_168, "amateur"), (21_000, 21_450, "amateur"), (21_450, 21_850, "broadcast"),
    (24_890, 24_990, "amateur"), (25_670, 26_100, "broadcast"), (26_960, 27_410, "citizens"),
    (28_000, 29_700, "amateur"),
)  # fmt: skip
EMISSIONS = {
    "broadcast": (("am", 1.0),),
    "amateur": (("cw", 0.4), ("ssb", 0.45), ("digital", 0.15)),
    "beacon": (("cw", 1.0),),
    "maritime": (("digital", 0.6), ("ssb", 0.4)),
    "citizens": (("am", 0.4), ("ssb", 0.6)),
    "fixed_mobile": (("digital", 0.5), ("ssb", 0.25), ("cw", 0.1), ("carrier", 0.15)),
}
HEARD = {
    "am": (("am", 0.88), ("carrier", 0.06), ("whistle", 0.06)),
    "cw": (("cw", 0.9), ("carrier", 0.06), ("noise", 0.04)),
    "ssb": (("ssb", 0.85), ("digital", 0.05), ("noise", 0.1)),
    "digital": (("digital", 0.85), ("noise", 0.15)),
    "carrier": (("carrier", 0.8), ("whistle", 0.2)),
}
# what the bench shows amiss
WRONG = {"moves": 0.04, "inverted": 0.07, "trimmer": 0.08, "fading": 0.06, "aerial_off": 0.03, "pitch": 0.05}
WRONG_LOUDEST = 1 / 12
LOUDEST = ("here", "up", "down", "everywhere")
ERRS = 0.06
SAME_SET_HEARS = 0.95
MOST_ON_OTHER_SET = 12
OTHERS_NEAR = 0.9
HIDDEN_BEHIND, TAKEN_BEHIND = 0.15, 0.06
PAD_SPREAD_DB = 2.0
TESTS = ("moves", "pad_drop_db", "trimmer", "inverted", "fading", "aerial_off", "pitch_moves")
AGREES_DB = 6.0
COLUMNS = (
    "case", "set", "dial_khz", "cause", "really_khz", "station_khz", "listed", "heard", "heard_told",
    "strength", "pitch_hz", "told", "open_ways", *TESTS, "other_set_hears", "other_set_errs", "air",
    "loudest", "errs_each", "same_set_hears", "same_set_errs_each", "behind_others",
)  # fmt: skip


@dataclass
class Way:
    """One way in at one setting, as the textbook has it."""

    cause: str
    rf_hz: int
    moves: float | None
    pad: float
    inverted: bool
    local: bool = False
    inside: bool = False
    # where the transmitter itself is, if not there
    station_hz: int = 0

    def trimmer(self, dial_hz: int) -> str:
        if self.inside or abs(self.rf_hz - dial_hz) < 0.008 * dial_hz:
            return "same"
        return "up" if self.rf_hz > dial_hz else "down"


@dataclass
class Air:
    """The rows of the tables of one case."""

    rows: list[str] = field(default_factory=list)
    spans: list[tuple[int, int]] = field(default_factory=list)

    def add(self, low: int, high: int, service: str, mode: str, label: str, level: str = "") -> None:
        self.rows.append(f"{low}:{high}:{service}:{mode}:{label}:{level}")
        self.spans.append((low, high))

    def holds(self, khz: float) -> bool:
        return any(low - 8 <= khz <= high + 8 for low, high in self.spans)


def ways(name: str, dial: int) -> list[Way]:
    """Return every way in at a dial setting, by hand."""
    ifs, injection, _, _, calibrator = SETS[name]
    high = 1 if injection == "high" else -1
    first = ifs[0]
    lo = dial + high * first
    found = [
        Way("station", dial, 1.0, 1.0, False),
        Way("image", dial + 2 * high * first, -1.0, 1.0, True),
        # 2 (LO - RF) is the IF
        Way("half-IF", dial + high * first // 2, 2.0, 2.0, False),
        Way("IF", first, 0.0, 1.0, high == 1),
    ]
    for k in (2, 3):
        found.append(Way("oscillator harmonic", k * lo - high * first, float(k), 1.0, False))
        found.append(Way("oscillator harmonic", k * lo + high * first, float(-k), 1.0, True))
    if len(ifs) == 2:
        # the second oscillator stands above the first IF: its image is 2 IF2 above that, and below the dial
        found.append(Way("image", lo - (first + 2 * ifs[1]), -1.0, 1.0, True))
        # the same oscillator as a signal on the dial
        second = first + ifs[1]
        k = round(dial / second)
        if k >= 2 and abs(k * second - dial) <= 3_000:
            found.append(Way("own", dial, 1.0, 0.0, False, inside=True))
    if calibrator and min(dial % calibrator, -dial % calibrator) <= 2_000:
        found.append(Way("own", dial, 1.0, 0.0, False, inside=True))
    found += [
        Way("transmitter harmonic", dial, 1.0, 1.0, False, local=True, station_hz=dial // k) for k in (2, 3)
    ]
    for off in (-10_000, -5_000, 5_000, 10_000):
        found.append(Way("neighbour", dial + off, 1.0, 1.0, False))
    # a strong station somewhere: on the carrier that is tuned in, or all over the dial
    found.append(Way("cross-modulation", 0, 1.0, 2.0, False, local=True))
    found.append(Way("overload", 0, None, 3.0, False, local=True))
    return [way for way in found if way.rf_hz > 0 or way.local]


def drawn(seed: int = SEED) -> Iterator[dict[str, Any]]:
    """Yield the cases in the order of the file."""
    rng, second, third, fourth = (np.random.default_rng(seed + i * MORE_SEED) for i in range(4))
    order = [cause for cause, count in CAUSES.items() for _ in range(count)]
    for number, at in enumerate(rng.permutation(len(order)).tolist(), start=1):
        case = _case(rng, order[at])
        yield {
            "case": number, **case, **_more(second, case), **_on_the_same_set(third),
            "behind_others": _behind_others(fourth, case),
        }  # fmt: skip


def _more(rng: np.random.Generator, case: dict[str, Any]) -> dict[str, Any]:
    """Return what the tests show that draw from a stream of their own."""
    off = case["really_khz"] - case["dial_khz"]
    loudest = "here"
    if case["cause"] == "neighbour":
        loudest = "up" if off > 0 else "down"
    elif case["cause"] == "IF" or (case["cause"] == "overload" and case["moves"] != "with"):
        # an overloaded stage has its station all over the dial where it did not move with it
        loudest = "everywhere"
    if rng.random() < WRONG_LOUDEST:
        loudest = str(rng.choice([word for word in LOUDEST if word != loudest]))
    errs = "".join(str(int(wrong)) for wrong in rng.random(MOST_ON_OTHER_SET) < ERRS)
    return {"loudest": loudest, "errs_each": errs}


def _on_the_same_set(rng: np.random.Generator) -> dict[str, Any]:
    """Return what the set itself hears where the transmitter is, and where it is not."""
    hears = int(rng.random() < SAME_SET_HEARS)
    errs = "".join(str(int(wrong)) for wrong in rng.random(MOST_ON_OTHER_SET) < ERRS)
    return {"same_set_hears": hears, "same_set_errs_each": errs}


def _behind_others(rng: np.random.Generator, case: dict[str, Any]) -> int | str:
    """Return whether other stations near by have it behind them; "" where there is none to try it on."""
    near, seen = rng.random() < OTHERS_NEAR, rng.random()
    there = case["cause"] in ("cross-modulation", "overload", "IF")
    return int(seen >= HIDDEN_BEHIND if there else seen < TAKEN_BEHIND) if near else ""


def _pick(rng: np.random.Generator, chances: Any) -> str:
    names, weights = zip(*chances, strict=True)
    return str(rng.choice(list(names), p=np.array(weights) / sum(weights)))


def _service(khz: float) -> str:
    return next((name for low, high, name in ROUGHLY if low <= khz <= high), "fixed_mobile")


def _case(rng: np.random.Generator, cause: str) -> dict[str, Any]:
    name, dial, way, rest = _setting(rng, cause)
    if way.local and cause != "transmitter harmonic":
        low, high, _ = ROUGHLY[int(rng.choice([1, 1, 8, 13]))]
        way.station_hz = int(rng.integers(low, high)) * 1_000
    khz = (way.station_hz or way.rf_hz) / 1_000
    service = _service(khz)
    emission = "carrier" if way.inside else _pick(rng, EMISSIONS[service])
    air = Air()
    listed = way.inside or bool(rng.random() >= UNLISTED)
    local = way.local or (cause == "neighbour" and rng.random() < 0.5)
    if listed and not way.inside:
        _row(rng, air, khz, service, emission, "Heard", local)
    others = [
        one for one in rest if one.cause in ("image", "half-IF", "IF", "oscillator harmonic", "neighbour")
    ]
    places = [one.rf_hz for one in others if rng.random() < 0.5]
    if rng.random() < 2 / 3 or cause == "cross-modulation":
        places.insert(0, dial)
    for place in places:
        there = place / 1_000
        if not air.holds(there) and not (not listed and abs(there - khz) < 260):
            _row(rng, air, there, _service(there), "", "Other", local=False)
    heard, pitch = _heard(rng, way, emission, dial)
    shown = _shown(rng, way, emission, heard, khz, dial, local)
    told = _told(rng, shown)
    return {
        "set": name, "dial_khz": dial // 1_000, "cause": cause, "really_khz": way.rf_hz / 1_000,
        "station_khz": khz, "listed": int(listed), "heard": heard, "heard_told": int(rng.random() < 0.9),
        "strength": _strength(rng, cause) if rng.random() < 0.7 else "",
        "pitch_hz": pitch if rng.random() < 0.6 else "",
        "told": " ".join(told), "open_ways": _open(way, rest, shown, told, dial), **shown,
        "other_set_hears": int(rng.random() < 0.88), "other_set_errs": int(rng.random() < ERRS),
        "air": ";".join(air.rows),
    }  # fmt: skip


def _setting(rng: np.random.Generator, cause: str) -> tuple[str, int, Way, list[Way]]:
    """Return a set, a dial setting where the cause is possible, its way and the others."""
    while True:
        name = str(rng.choice(list(SETS)))
        low, high = RANGES_KHZ[int(rng.integers(len(RANGES_KHZ)))]
        dial = int(rng.integers(low, high + 1)) * 1_000
        calibrator = SETS[name][4]
        if cause == "own" and calibrator and rng.random() < 0.8:
            dial = round(dial / calibrator) * calibrator + int(rng.integers(-2, 3)) * 1_000
            if not low * 1_000 <= dial <= high * 1_000:
                continue
        every = ways(name, dial)
        own = [way for way in every if way.cause == cause]
        own = [way for way in own if way.rf_hz > 150_000 or way.local]
        if own:
            way = own[int(rng.integers(len(own)))]
            return name, dial, way, [one for one in every if one is not way]


def _row(
    rng: np.random.Generator, air: Air, khz: float, service: str, mode: str, who: str, local: bool
) -> None:
    level = str(rng.choice(["-13 dBm", "-23 dBm"])) if local and rng.random() < 0.5 else ""
    mode = "" if service in ("broadcast", "fixed_mobile") or rng.random() < 0.5 else mode
    label = f"{who} {service} {round(khz)}"
    if local or rng.random() < 0.5:
        air.add(round(khz), round(khz), service, mode, label, level)
    else:
        low = round(khz) - int(rng.integers(10, 120))
        air.add(max(low, 100), round(khz) + int(rng.integers(10, 120)), service, "", label, level)


def _heard(rng: np.random.Generator, way: Way, emission: str, dial: int) -> tuple[str, float | str]:
    if way.inside:
        word = _pick(rng, (("carrier", 0.65), ("whistle", 0.3), ("noise", 0.05)))
    elif way.cause == "overload":
        word = _pick(rng, (("am", 0.6), ("noise", 0.35), ("whistle", 0.05)))
    elif way.cause == "cross-modulation":
        word = _pick(rng, (("am", 0.95), ("noise", 0.05)))
    elif way.cause == "neighbour":
        word = _pick(rng, (("noise", 0.4), ("whistle", 0.25), (emission, 0.35)))
    elif way.pad > 1.0 and emission in ("ssb", "digital"):
        word = _pick(rng, (("noise", 0.5), ("ssb", 0.25), ("digital", 0.25)))
    elif emission == "am" and way.cause in ("image", "oscillator harmonic", "half-IF", "IF"):
        word = _pick(rng, (("am", 0.65), ("whistle", 0.25), ("carrier", 0.1)))
    else:
        word = _pick(rng, HEARD[emission])
    if word not in ("whistle", "carrier", "cw"):
        return word, ""
    pitch = abs(way.rf_hz - dial) if way.cause == "neighbour" else int(rng.integers(3, 30)) * 100
    return word, round(pitch * float(rng.normal(1.0, 0.05)), -1) if pitch else ""


def _wrong(rng: np.random.Generator, test: str) -> bool:
    return bool(rng.random() < WRONG[test])


def _motion(moves: float, rng: np.random.Generator) -> str:
    word = {1.0: "with", -1.0: "against", 0.0: "not", 2.0: "twice"}.get(moves)
    if word is None and moves == -2.0 and rng.random() < 0.5:
        word = "twice"
    return word or f"{moves:g}"


def _shown(
    rng: np.random.Generator, way: Way, emission: str, heard: str, khz: float, dial: int, local: bool
) -> dict[str, Any]:
    """Return what each test of the bench shows, readings that go wrong among them."""
    moves = way.moves
    if moves is None:
        moves = 0.0 if rng.random() < 0.65 else 1.0
    motion = _motion(moves, rng)
    if _wrong(rng, "moves"):
        motion = str(rng.choice([word for word in ("with", "against", "twice", "not") if word != motion]))
    peak = way.trimmer(dial) if not (way.cause == "cross-modulation" or way.cause == "overload") else "same"
    if _wrong(rng, "trimmer"):
        peak = str(rng.choice([word for word in ("up", "down", "same") if word != peak]))
    inverted: int | str = ""
    if emission == "ssb" and way.pad == 1.0 and way.cause not in ("neighbour", "transmitter harmonic"):
        inverted = int(way.inverted != _wrong(rng, "inverted"))
    drop = 10.0 * way.pad + float(rng.normal(0.0, PAD_SPREAD_DB))
    if way.cause == "overload":
        drop = float(rng.uniform(18.0, 38.0))
    if way.inside or local:
        fades = 0.04
    elif khz < 1_705:
        fades = 0.2
    else:
        fades = 0.75
    goes = 0.02 if way.inside else 0.9 if way.cause == "IF" else 0.98
    pitch: int | str = ""
    if heard in ("whistle", "carrier", "cw"):
        stays = moves == 1.0 if heard == "whistle" else moves == 0.0
        pitch = int((not stays) != _wrong(rng, "pitch"))
    return {
        "moves": motion, "pad_drop_db": round(drop), "trimmer": peak, "inverted": inverted,
        "fading": int((rng.random() < fades) != _wrong(rng, "fading")),
        "aerial_off": "goes" if (rng.random() < goes) != _wrong(rng, "aerial_off") else "stays",
        "pitch_moves": pitch,
    }  # fmt: skip


def _told(rng: np.random.Generator, shown: dict[str, Any]) -> list[str]:
    can = [test for test in TESTS if shown[test] != ""]
    chance = np.array([2.0 if test == "moves" else 1.0 for test in can])
    count = int(rng.choice([1, 2, 3], p=[0.25, 0.4, 0.35]))
    return sorted(
        rng.choice(can, size=count, replace=False, p=chance / chance.sum()).tolist(), key=TESTS.index
    )


def _open(way: Way, rest: list[Way], shown: dict[str, Any], told: list[str], dial: int) -> int:
    """Return with how many ways what was told agrees, the true one among them where nothing was misread."""

    def agrees(one: Way) -> bool:
        checks = {
            "moves": one.moves is None or shown["moves"] == _motion(one.moves, np.random.default_rng(0))
            or (shown["moves"] == "twice" and abs(one.moves) == 2.0),
            "pad_drop_db": abs(shown["pad_drop_db"] - 10.0 * one.pad) <= AGREES_DB,
            "trimmer": shown["trimmer"] == one.trimmer(dial) or one.rf_hz == 0,
            "aerial_off": (shown["aerial_off"] == "stays") == one.inside,
            "inverted": shown["inverted"] == int(one.inverted),
            # these rule nobody out
            "fading": True, "pitch_moves": True,
        }  # fmt: skip
        return all(checks[test] for test in told)

    return len({(one.cause, one.rf_hz) for one in (way, *rest) if agrees(one)})


def _strength(rng: np.random.Generator, cause: str) -> str:
    """Return an S-meter's reading, 6 dB a unit."""
    middle, spread = {
        "station": (8.0, 2.5), "image": (6.0, 2.0), "half-IF": (4.0, 1.5), "IF": (6.0, 2.0),
        "oscillator harmonic": (4.0, 1.5), "own": (5.0, 2.0), "neighbour": (5.0, 2.0), "overload": (7.0, 2.0),
        "cross-modulation": (6.0, 2.0), "transmitter harmonic": (6.0, 2.0),
    }[cause]  # fmt: skip
    units = float(np.clip(rng.normal(middle, spread), 1.0, 13.0))
    return f"S{round(units)}" if round(units) <= 9 else f"S9+{round((units - 9.0) * 6.0)}"


def main() -> None:
    out = csv.DictWriter(sys.stdout, COLUMNS, lineterminator="\n")
    out.writeheader()
    out.writerows(drawn(*map(int, sys.argv[1:2])))


if __name__ == "__main__":
    main()

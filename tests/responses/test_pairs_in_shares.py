"""Products of two and three stations in shares, counts and grades."""

from __future__ import annotations

from itertools import combinations, permutations
from math import exp, log
from pathlib import Path
from statistics import NormalDist
from typing import Any

import numpy as np
import pytest

import spurplan
from spurplan.receiver.description import Receiver
from spurplan.responses.listening import arrivals_of_two
from tests.quiet_air import quiet_air
from tests.two_tones import plain_set

# 2 f1 - f2 lands on 7.1 MHz; nothing is beyond the tables
STATIONS = [(7_200_000, 7_200_000), (7_300_000, 7_300_000)]
FAR = ("60,beacon,R,-140 dBm", "90000,beacon,S,-140 dBm")


def table_of(folder: Path, level: str) -> Path:
    rows = [f"{low // 1000},broadcast,station {i},{level}" for i, (low, _) in enumerate(STATIONS)]
    path = folder / "air.csv"
    path.write_text("\n".join(["freq_khz,service,label,level", *rows, *FAR, ""]), "utf-8")
    return path


def answer_at(tmp_path: Path, level: str, **options: Any) -> spurplan.Answer:
    table = table_of(tmp_path, level)
    receiver = Receiver.from_dict(plain_set("7 MHz", "7.15 MHz", iip3=0.0))
    return spurplan.dial(
        receiver, bands=table, frequency="7.1 MHz", region=1, intermodulation=True, **options
    )


def test_the_chance_of_a_pair_is_that_of_both(tmp_path: Path) -> None:
    """Two stations, each on nine times in ten, far over the bar: spoilt 81 times in a hundred."""
    told = answer_at(tmp_path, "-10 dBm")
    (one,) = told.tables["dial"].records()
    assert one["usable_chance"] == pytest.approx(1.0 - 0.9 * 0.9, abs=0.01)
    (without,) = (
        spurplan.dial(
            Receiver.from_dict(plain_set("7 MHz", "7.15 MHz", iip3=0.0)),
            bands=table_of(tmp_path, "-10 dBm"),
            frequency="7.1 MHz",
            region=1,
        )
        .tables["dial"]
        .records()
    )
    assert without["usable_chance"] > 0.99


def test_spreads_add_in_quadrature_as_often_as_a_station_takes_part(tmp_path: Path) -> None:
    """The chance of 2 f1 - f2 against the level of both, 3 dB a decibel, spreads as all of it together."""
    scores = {}
    for dbm in (-33.0, -30.0):
        (one,) = answer_at(tmp_path, f"{dbm} dBm").tables["dial"].records()
        scores[dbm] = NormalDist().inv_cdf((1.0 - one["usable_chance"]) / 0.81)
    spread_db = 3.0 * 3.0 / (scores[-30.0] - scores[-33.0])
    # a station 3 dB, one of them twice; noise 5, the mixer 6 [est]: data/spreads.toml
    assert spread_db == pytest.approx((3.0**2 * (2**2 + 1**2) + 5.0**2 + 6.0**2) ** 0.5, rel=0.03)


def test_a_pair_is_counted_and_may_be_the_worst(tmp_path: Path) -> None:
    """The range counts it, names both, and says that it takes two."""
    table = table_of(tmp_path, "-10 dBm")
    receiver = Receiver.from_dict(plain_set("7 MHz", "7.15 MHz", iip3=0.0))
    told = spurplan.ranges(receiver, bands=table, region=1, intermodulation=True)
    (one,) = told.tables["ranges"].records()
    pairs = told.tables["pairs"].records()
    loudest = max(pairs, key=lambda pair: pair["margin_db"])
    assert one["worst_label"] == f"{loudest['label_1']} with {loudest['label_2']}"
    assert one["worst_response"] == "intermodulation"
    assert one["worst_margin_db"] == pytest.approx(loudest["margin_db"])
    assert one["intruders"] == len(pairs) + len(told.tables["intrusions"])
    said = spurplan.ranges(receiver, bands=table, region=1)
    assert any("not looked at" in clause for clause in said.assumptions)
    assert said.tables["ranges"].records()[0]["usable_share"] > one["usable_share"]


def on_air(folder: Path, stations: dict[int, float]) -> Path:
    """A table of broadcasters: kHz and dBm."""
    rows = [f"{khz},broadcast,{khz} kHz,{dbm} dBm" for khz, dbm in stations.items()]
    path = folder / "air.csv"
    path.write_text("\n".join(["freq_khz,service,label,level", *rows, *FAR, ""]), "utf-8")
    return path


def usable(folder: Path, stations: dict[int, float], khz: int, **options: Any) -> float:
    told = spurplan.dial(
        Receiver.from_dict(plain_set("7 MHz", "7.3 MHz", iip3=0.0)), bands=on_air(folder, stations),
        frequency=f"{khz} kHz", region=1, **{"intermodulation": True, **options},
    )  # fmt: skip
    return float(told.tables["dial"].records()[0]["usable_chance"])


# f1 + f2 - f3 on 7.1 MHz, and no 2 f1 - f2 within a passband of it
THREE = (7_120, 7_150, 7_170)


def test_the_chance_of_three_is_that_of_all_three(tmp_path: Path) -> None:
    """Three stations, each on nine times in ten, far over the bar: spoilt 729 times in a thousand."""
    strong = dict.fromkeys(THREE, -10.0)
    assert usable(tmp_path, strong, 7_100) == pytest.approx(1.0 - 0.9**3, abs=0.005)
    assert usable(tmp_path, dict.fromkeys(THREE[:2], -10.0), 7_100) > 0.99
    assert usable(tmp_path, strong, 7_100, intermodulation=False) > 0.99


# spreads of data/spreads.toml [est], and of the level of a station of its own: all in dB
STATION, NOISE, MIXER = 3.0, 5.0, 6.0


def spread_db(*times: int) -> float:
    """All spreads of a product in which stations take part so many times each, in quadrature."""
    own = sum((k * STATION) ** 2 for k in times)
    return float((own + NOISE**2 + MIXER**2) ** 0.5)


def test_spreads_of_three_add_in_quadrature(tmp_path: Path) -> None:
    """A decibel on all three is three on the product; the chance follows the spread of all together."""
    score = [
        NormalDist().inv_cdf((1.0 - usable(tmp_path, dict.fromkeys(THREE, dbm), 7_100)) / 0.9**3)
        for dbm in (-43.0, -40.0)
    ]
    assert 9.0 / (score[1] - score[0]) == pytest.approx(spread_db(1, 1, 1), rel=0.03)


def even_level_dbm(folder: Path) -> float:
    """The level of three equal stations whose product spoils every second time that all are on."""
    low, high = -80.0, -10.0
    while high - low > 0.1:
        middle = (low + high) / 2
        spoilt = 1.0 - usable(folder, dict.fromkeys(THREE, middle), 7_100)
        low, high = (middle, high) if spoilt < 0.5 * 0.9**3 else (low, middle)
    return (low + high) / 2


@pytest.mark.parametrize("seed", range(3))
def test_three_and_two_together_are_those_of_plain_loops(tmp_path: Path, seed: int) -> None:
    """Seven stations on even tens of kHz: of all threes that land on a setting the likeliest counts, of all
    pairs that do the likeliest, as one where the same station is the first of both."""
    even_dbm = even_level_dbm(tmp_path)
    rng = np.random.default_rng(seed)
    khz = (10 * np.sort(rng.choice(np.arange(700, 731), 7, replace=False))).tolist()
    air = dict(zip(khz, (even_dbm + rng.normal(0.0, 4.0, 7)).round(2).tolist(), strict=True))

    def worth(over_db: float, chance: float, spread: float) -> float:
        return -log(1.0 - chance * NormalDist().cdf(over_db / spread))

    met = 0
    for at in (at for at in range(7_000, 7_301, 10) if at not in air):
        threes = {
            (a, b, c): air[a] + air[b] + air[c] - 3 * even_dbm
            for a, b in combinations(khz, 2)
            for c in khz
            if a + b - c == at and c not in (a, b)
        }
        # 6.02 dB less, one of the two taking part twice
        twos = {
            (a, b): 2 * air[a] + air[b] - 3 * even_dbm - 6.02
            for a, b in permutations(khz, 2)
            if 2 * a - b == at
        }
        if not threes or met == 8:
            continue
        met += 1
        best: dict[int, float] = {}
        for found, chance, spread in ((threes, 0.9**3, spread_db(1, 1, 1)), (twos, 0.9**2, spread_db(2, 1))):
            if found:
                who = max(found, key=found.__getitem__)
                own = worth(found[who], chance, spread)
                best[who[0]] = max(best.get(who[0], 0.0), own)
        assert usable(tmp_path, air, at) == pytest.approx(exp(-sum(best.values())), abs=0.015), at
    assert met >= 5


def test_three_are_counted_and_may_be_the_worst(tmp_path: Path) -> None:
    """The range counts each product of three; where nothing else is so loud it names all three."""
    table = [on_air(tmp_path, dict.fromkeys(THREE, -10.0)), quiet_air(tmp_path)]
    # 7.1 MHz alone: what two of them make lands elsewhere
    receiver = Receiver.from_dict(plain_set("7.095 MHz", "7.105 MHz", iip3=0.0))
    told = spurplan.ranges(receiver, bands=table, region=1, intermodulation=True)
    (one,) = told.tables["ranges"].records()
    (three,) = told.tables["triples"].records()
    assert not len(told.tables["pairs"])
    assert (one["worst_label"], one["worst_response"]) == (
        "7120 kHz with 7150 kHz with 7170 kHz", "intermodulation",
    )  # fmt: skip
    assert one["worst_margin_db"] == pytest.approx(three["margin_db"])
    assert (one["intruders"], one["strong"]) == (1, 1)
    without = spurplan.ranges(receiver, bands=table, region=1).tables["ranges"].records()[0]
    assert without["intruders"] == 0
    # it is heard on six tenths of the range, seven times in ten
    lost = without["usable_share"] - one["usable_share"]
    assert lost == pytest.approx(0.6 * 0.9**3, abs=0.02)
    assert one["clear_share"] == pytest.approx(0.4, abs=0.01)


def test_shares_are_the_same_in_lots_of_any_size(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What is worked out together is a matter of memory."""
    rng = np.random.default_rng(3)
    khz = np.sort(rng.choice(np.arange(7_000, 7_300), 14, replace=False)).tolist()
    table = on_air(tmp_path, dict(zip(khz, rng.uniform(-45.0, -25.0, 14).tolist(), strict=True)))
    receiver = Receiver.from_dict(plain_set("7 MHz", "7.3 MHz", iip2=20.0, iip3=0.0))
    told = []
    for size in (100_000, 300):
        monkeypatch.setattr(arrivals_of_two, "AT_ONCE", size)
        told.append(
            spurplan.ranges(receiver, bands=table, region=1, intermodulation=True).tables["ranges"].records()
        )
    assert told[0] == told[1]
    assert told[0][0]["usable_share"] < 0.95

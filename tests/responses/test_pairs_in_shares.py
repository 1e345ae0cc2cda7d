"""Products of two stations in shares, counts and grades."""

from __future__ import annotations

from pathlib import Path
from statistics import NormalDist
from typing import Any

import pytest

import spurplan
from spurplan.receiver.description import Receiver
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

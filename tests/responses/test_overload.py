"""What strong stations do to a set: published figures, and a third-order stage sampled in time."""

from __future__ import annotations

from pathlib import Path
from tempfile import mkdtemp
from typing import Any

import numpy as np
import pytest

import spurplan
from spurplan.emissions import CARRIER, VOICE
from spurplan.occupancy.bands import read_bands
from spurplan.occupancy.expand import occupants_of
from spurplan.receiver.chain import compile_chains
from spurplan.receiver.description import Receiver
from spurplan.receiver.oscillator_noise import oscillator_noise_dbc_hz
from spurplan.responses.strong_signals.overload import (
    EFFECTS,
    blocking_db,
    cross_modulation_db,
    mixed_in_mw_hz,
    overload,
)
from tests.outside import Differences, against
from tests.two_tones import plain_set

FAR = ("60,beacon,R,-140 dBm", "90000,beacon,S,-140 dBm")


def air(folder: Path, *stations: tuple[float, float]) -> Path:
    """A table of broadcasters: kHz and dBm."""
    rows = [f"{khz},broadcast,{khz} kHz,{dbm} dBm" for khz, dbm in stations]
    path = folder / "air.csv"
    path.write_text("\n".join(["freq_khz,service,label,level", *rows, *FAR, ""]), "utf-8")
    return path


def made(bandwidth: str = "2.2 kHz", **conversion: Any) -> dict[str, Any]:
    """A set without a front end, far from its intercepts unless they are given, noise figure 15 dB."""
    out = plain_set("7 MHz", "7.2 MHz", iip2=120.0, iip3=60.0) | {"noise_figure": "15 dB"}
    out["conversion"][0] |= conversion | {"filter": {"bandwidth": bandwidth}}
    return out


def overload_of(receiver: dict[str, Any], table: Path, **options: Any) -> list[dict[str, Any]]:
    told = spurplan.dial(Receiver.from_dict(receiver), bands=table, frequency="7.1 MHz", region=1, **options)
    return told.tables["overload"].records()


def floor_dbm(receiver: dict[str, Any], table: Path) -> float:
    told = spurplan.dial(
        Receiver.from_dict(receiver),
        bands=table,
        frequency="7.1 MHz",
        region=1,
        intermodulation=True,
        everything=True,
    )
    return float(told.tables["pairs"].records()[0]["floor_dbm"])


# Made up: noise beside an oscillator in 1 Hz, far noisier than any that is built. [Hz, dBc/Hz] It ends ahead
# of where the sum product and the mirror of the IF stand: as samples, both would bring more of it.
NOISY = ((2_000, -78.0), (20_000, -101.0), (100_000, -108.0), (150_000, -150.0))


def noise_over_blocker_db(offset_hz: int, width_hz: int, seed: int) -> float:
    """Sample an oscillator whose phase wanders, multiply it with a carrier that far off the tuned frequency,
    and return the noise in a passband over what the carrier itself is behind the mixer."""
    samples, rate = 1 << 19, 1 << 20
    hertz = rate // samples  # 2 Hz a bin
    rng = np.random.default_rng(seed)
    at = np.arange(1, samples // 2) * hertz
    points, noise = zip(*NOISY, strict=True)
    dbc_hz = np.interp(np.log10(at), np.log10(points), noise)
    # a phase of density S has sidebands of S / 2 on either side; one bin of it is as wide as `hertz`
    size = np.sqrt(2.0 * 10.0 ** (dbc_hz / 10.0) * hertz)
    turned = (rng.normal(size=len(at)) + 1j * rng.normal(size=len(at))) / np.sqrt(2.0)
    spectrum = np.concatenate([[0.0], size * turned, [0.0]])
    phase = np.fft.irfft(spectrum, samples) * samples / np.sqrt(2.0)
    time = np.arange(samples) / rate
    oscillator_hz, if_hz = 360_000, 100_000
    blocker_hz = oscillator_hz - if_hz - offset_hz
    out = np.cos(2 * np.pi * oscillator_hz * time + phase) * np.cos(2 * np.pi * blocker_hz * time)
    power = np.abs(np.fft.rfft(out)) ** 2
    carrier = power[(if_hz + offset_hz) // hertz]
    passband = power[(if_hz - width_hz // 2) // hertz : (if_hz + width_hz // 2) // hertz]
    return float(10 * np.log10(passband.sum() / carrier))


@against(
    "time-domain simulation of a mixer with a made-up noisy oscillator",
    "noise that a strong neighbour mixes into the passband",
    unit="dB",
    tolerance=2.0,
)
def test_a_noisy_oscillator_in_time() -> Differences:
    """As far off as the noise is told, between two points and near the last one, above and below."""
    folder = Path(mkdtemp())
    receiver = made(oscillator_noise=[[f"{hz} Hz", f"{db} dB"] for hz, db in NOISY])
    floor = floor_dbm(receiver, air(folder, (7_000, -40.0), (7_050, -40.0)))
    for offset_khz, level in ((4, -60.0), (20, -40.0), (60, -35.0)):
        told = overload_of(receiver, air(folder, (7_100 + offset_khz, level)), mode="ssb")
        (one,) = (record for record in told if record["effect"] == "reciprocal mixing")
        mixed_dbm = floor + 10 * np.log10(10 ** (one["amount_db"] / 10) - 1)
        measured = level + noise_over_blocker_db(offset_khz * 1_000, 2_200, offset_khz)
        yield f"{offset_khz} kHz", mixed_dbm - measured


def test_a_quiet_oscillator_mixes_nothing_in(tmp_path: Path) -> None:
    """The same neighbours beside an oscillator 45 dB quieter are in no list."""
    quiet = made(oscillator_noise=[[f"{hz} Hz", f"{db - 45.0} dB"] for hz, db in NOISY])
    for offset_khz, level in ((4, -60.0), (20, -40.0)):
        assert not overload_of(quiet, air(tmp_path, (7_100 + offset_khz, level)), mode="ssb")


@against(
    "a third-order stage sampled in time", "loss of gain and borrowed modulation", unit="dB", tolerance=0.1
)
def test_blocking_and_cross_modulation_in_time() -> Differences:
    """A weak carrier beside a strong one through x + a3 x^3: level, and borrowed modulation."""
    samples, wanted, strong, audio, depth = 1 << 14, 1_201, 1_733, 7, 0.01
    t = 2 * np.pi * np.arange(samples) / samples
    # IIP3 of 0 dBm: 3/4 |a3| V^2 = 1 at 0 dBm, the larger signal compressed
    volt = 10 ** (-10 / 20)
    a3 = -4.0 / 3.0 / volt**2

    def line(at: int, modulation: float, above_db: float) -> float:
        v = volt * 10 ** (above_db / 20)
        x = 1e-6 * np.cos(wanted * t) + v * (1 + modulation * np.cos(audio * t)) * np.cos(strong * t)
        return float(2 * np.abs(np.fft.rfft(x + a3 * x**3))[at] / samples / 1e-6)

    for above_db in (-12.6, -8.4):
        measured = 20 * np.log10(line(wanted, 0.0, above_db))
        yield f"blocking, {above_db} dB", float(blocking_db(np.array([above_db]))[0]) - measured
        # published: 1 dB at IIP3 - 12.6, 3 dB at IIP3 - 8.4 [derived]
    for above_db in (-30.0, -40.0):
        own = 2 * line(wanted + audio, depth, above_db) / line(wanted, depth, above_db) / depth
        yield (
            f"cross-modulation, {above_db} dB",
            (float(cross_modulation_db(np.array([above_db]))[0]) - 20 * np.log10(own)),
        )


def test_a_strong_neighbour_is_named_with_what_a_pad_does(tmp_path: Path) -> None:
    """At -14 dBm against an intercept of 0 dBm: its programme is heard on the wanted carrier, in am alone."""
    receiver = made() | {"iip3": "0 dBm", "iip2": "60 dBm"}
    table = air(tmp_path, (7_150, -14.0))
    by_effect = {record["effect"]: record for record in overload_of(receiver, table)}
    cross = by_effect["cross-modulation"]
    assert (cross["label"], cross["f_hz"], cross["pad_gains_db_per_db"]) == ("7150 kHz", 7_150_000, 2)
    assert cross["amount_db"] == pytest.approx(12.04 + 2 * -14.0, abs=0.01)
    for mode in ("ssb", "cw"):
        assert "cross-modulation" not in {
            record["effect"] for record in overload_of(receiver, table, mode=mode)
        }
    # 6 dB of pad take 12 dB off it, which is then further down than 26 dB
    assert "cross-modulation" not in {
        record["effect"]
        for record in overload_of(receiver | {"ahead": [{"name": "pad", "gain": "-6 dB"}]}, table)
    }


def test_noise_of_kinds() -> None:
    """A free oscillator is quieter low down and farther off; multiplying adds 20 log k."""
    at = np.array([10_000.0, 100_000.0])
    low, high = (oscillator_noise_dbc_hz("lc", at, np.full(2, hz)) for hz in (5e6, 20e6))
    assert (high - low)[0] == pytest.approx(20 * np.log10(4))
    assert low[1] < low[0]
    assert low[1] == -155.0
    crystal, tripled = (oscillator_noise_dbc_hz("crystal", at, np.full(2, 1e7), k) for k in (1, 3))
    assert tripled - crystal == pytest.approx(20 * np.log10(3))
    assert oscillator_noise_dbc_hz("synthesiser", np.array([50_000.0]), at[:1])[0] == -120.0


def test_what_a_lead_takes_off_both_changes_nothing_of_the_noise_at_the_aerial(tmp_path: Path) -> None:
    """A neighbour 20 dB weaker at the mixer mixes in 20 dB less; the wanted signal is 20 dB weaker too."""
    occupants = occupants_of(read_bands(air(tmp_path, (7_130, -30.0))), region=1)
    flat_here = {"curve": [["1 MHz", "0 dB"], ["3 MHz", "20 dB"], ["30 MHz", "20 dB"]]}
    mixed_in = []
    for ahead in ([], [{"name": "high-pass", "elements": [flat_here]}]):
        receiver = Receiver.from_dict(made(oscillator_noise=[["10 kHz", "-110 dB"]]) | {"ahead": ahead})
        (chains,) = compile_chains([(receiver, receiver.ranges[0])])
        dial = np.array([7_100_000])
        assert chains.lead_loss_db(np.zeros(1, dtype=np.int64), dial) == pytest.approx(20.0 * len(ahead))
        power, _ = mixed_in_mw_hz(chains, occupants, np.ones(len(occupants)), dial[:, None])
        mixed_in.append(10 * np.log10(power[0, 0]))
    # 30 kHz off, beyond the last point: -30 - 110
    assert mixed_in == pytest.approx([-140.0, -140.0], abs=0.01)


def test_noise_by_a_strong_neighbour_makes_deaf_and_hides_nobody(tmp_path: Path) -> None:
    """The chance to hear the wanted signal falls; what an intruder is heard from stays."""
    image = (7_100 + 2 * 455, -80.0)
    told = {}
    for noise in ("-160 dB", "-90 dB"):
        receiver = Receiver.from_dict(made(oscillator_noise=[["10 kHz", noise]]))
        table = air(tmp_path, (7_130, -40.0), image)
        told[noise] = spurplan.dial(receiver, bands=table, frequency="7.1 MHz", region=1)
    usable = [one.tables["dial"].records()[0]["usable_chance"] for one in told.values()]
    # the image is on nine times in ten, and so is the neighbour: usable where neither is
    assert usable[0] == pytest.approx(0.1, abs=0.02)
    assert usable[1] == pytest.approx(0.1 * usable[0], abs=0.002)
    margins = [one.tables["intrusions"].records()[0]["margin_db"] for one in told.values()]
    assert margins[0] == margins[1]


def told_of_range(folder: Path, noise: list[list[str]], *stations: tuple[float, float]) -> dict[str, Any]:
    """What `ranges` says of 7 to 7.2 MHz in a set without noise of its own, and of who intrudes."""
    receiver = Receiver.from_dict(made(oscillator_noise=noise) | {"noise_figure": "0 dB"})
    told = spurplan.ranges(receiver, bands=air(folder, *stations), region=1)
    (one,) = told.tables["ranges"].records()
    return one | {"margins": [record["margin_db"] for record in told.tables["intrusions"].records()]}


def test_a_range_is_deaf_as_far_as_a_strong_neighbour_is_mixed_in(tmp_path: Path) -> None:
    """40 dB a decade from a station at its end: lost as far as the noise leaves less than a carrier needs."""
    strong_dbm, image = -35.0, (7_050 + 2 * 455, -80.0)
    slope = [["10 kHz", "-70 dB"], ["200 kHz", f"{-70 - 40 * np.log10(20)} dB"]]
    quiet = told_of_range(tmp_path, [["10 kHz", "-165 dB"]], (7_200, strong_dbm), image)
    noisy = told_of_range(tmp_path, slope, (7_200, strong_dbm), image)
    # a fair carrier is 59 dB over 1 Hz of the noise outside and needs 50; the image brings as much again
    outside_dbm_hz = noisy["wanted_dbm"] - 59.0
    mixed_dbm_hz = outside_dbm_hz + 10 * np.log10(10**0.9 - 2.0)
    reach_hz = 10_000 * 10 ** ((strong_dbm - 70.0 - mixed_dbm_hz) / 40.0)
    assert 0.2 < reach_hz / 200_000 < 0.8
    assert quiet["lost_to_noise"] < 0.01
    # the neighbour is on nine times in ten
    assert noisy["lost_to_noise"] == pytest.approx(0.9 * reach_hz / 200_000, abs=0.015)
    # of most of the dial these tables tell nothing
    assert noisy["clear_share"] < quiet["clear_share"]
    # nobody is hidden by it
    for name in ("margins", "intruders", "strong", "audible"):
        assert noisy[name] == quiet[name]


def test_noise_mixed_in_is_summed_setting_by_setting(tmp_path: Path) -> None:
    """What each brings at its distance, its chance by that; those that bring nothing are left out."""
    receiver = Receiver.from_dict(made(oscillator_noise=[["10 kHz", "-100 dB"], ["100 kHz", "-130 dB"]]))
    (chains,) = compile_chains([(receiver, receiver.ranges[0])])
    dial = np.array([[7_020_000, 7_100_000, 7_150_000]])
    stations = {7_000: -30.0, 7_200: -20.0, 7_210: -140.0}
    occupants = occupants_of(read_bands(air(tmp_path, *stations.items())), region=1)
    chance_of = {7_000_000: 0.9, 7_200_000: 0.5, 7_210_000: 0.1}
    chance = np.array([chance_of.get(hz, 1.0) for hz in occupants.low_hz.tolist()])
    power, there = mixed_in_mw_hz(chains, occupants, chance, dial)
    for k, hz in enumerate(dial[0].tolist()):
        brought = []
        for khz, dbm in stations.items():
            decades = np.clip(np.log10(abs(khz * 1_000 - hz) / 10_000), 0.0, 1.0)
            brought.append(10 ** ((dbm - 100.0 - 30.0 * decades) / 10))
        assert 10 * np.log10(power[0, k]) == pytest.approx(10 * np.log10(sum(brought)), abs=0.05)
        assert there[0, k] == pytest.approx(np.average(list(chance_of.values()), weights=brought), abs=0.005)
    nobody, never = mixed_in_mw_hz(chains, occupants.take(np.arange(0)), np.zeros(0), dial)
    assert not nobody.any()
    assert not never.any()


def test_only_a_carrier_lends_its_programme(tmp_path: Path) -> None:
    """Speech without a carrier blocks as a broadcaster does, and lends nothing to another carrier."""
    receiver = Receiver.from_dict(plain_set("7 MHz", "7.2 MHz", iip2=120.0, iip3=0.0))
    (chains,) = compile_chains([(receiver, receiver.ranges[0])])
    occupants = occupants_of(read_bands(air(tmp_path, (7_130, -5.0))), region=1)
    effects = {}
    for sound in (CARRIER, VOICE):
        of_sound = occupants.replace(sound=np.full(len(occupants), sound, dtype=np.int8))
        some = overload(chains, of_sound, np.array([7_100_000]))
        effects[sound] = {EFFECTS[code] for code in some.effect.tolist()}
    assert effects[CARRIER] - effects[VOICE] == {"cross-modulation"}
    assert "blocking" in effects[VOICE]

"""What becomes of a dial: usable, unknown, dead, lost to noise, lost to intruders, and how sure that is."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

import spurplan
from spurplan.occupancy.bands import read_bands
from spurplan.occupancy.expand import occupants_of
from spurplan.receiver.chain import Chains, compile_chains
from spurplan.receiver.description import Receiver
from spurplan.responses.asking import Settings
from spurplan.responses.listening import worlds as worlds_of
from spurplan.responses.listening.arrivals import Dials
from spurplan.responses.listening.findings import TYPICAL, RangeFinding
from spurplan.responses.listening.presence import Presence, present
from spurplan.responses.listening.share import Air, Shares, shares
from spurplan.responses.listening.worlds import Spreads, Worlds, shipped_spreads

ROOT = Path(__file__).parents[2]
STRANGER_DBM = -33.0


def a_set(**given: Any) -> Receiver:
    """Return a set with one range of 7 to 9 MHz, an IF of 455 kHz and two circuits."""
    front: dict[str, Any] = {"front_end": [{"circuits": 2, "q": 60}], "front_end_ceiling": "60 dB"}
    return Receiver.from_dict(
        {
            "name": "at the bench",
            "conversion": [{"injection": "high", "if": "455 kHz", "filter": {"bandwidth": "6 kHz"}}],
            "range": [{"name": "1", "coverage": ["7 MHz", "9 MHz"], **front}],
            **given,
        }
    )


def judged(
    receiver: Receiver,
    bands: Path | None = None,
    *,
    spreads: Spreads | None = None,
    worlds: Worlds | None = None,
    count: int = 1_000,
    change: Any = None,
    number: int = 0,
) -> Shares:
    chains = chains_of(receiver, number)
    occupants = occupants_of(read_bands(bands), region=1)
    presence = present(occupants, 1, "typical")
    if change is not None:
        presence = change(presence)
    dials = Dials(chains.low_hz, chains.high_hz, count)
    air = Air(occupants, presence, STRANGER_DBM)
    return shares(chains, air, Settings(), dials, worlds or Worlds(), spreads or shipped_spreads())


def chains_of(receiver: Receiver, number: int = 0) -> Chains:
    return compile_chains([(receiver, receiver.ranges[number])])[0]


@pytest.fixture
def one_station(tmp_path: Path) -> Path:
    """A station on the image of 8 MHz, of a known level; bands that keep images within the tables."""
    path = tmp_path / "one.csv"
    path.write_text(
        "freq_khz,low_khz,high_khz,service,label,mode,level\n"
        "8910,,,broadcast,on the image,am,-45 dBm\n"
        ",1,2,fixed_mobile,far below,,\n,29000,29001,fixed_mobile,far above,,\n",
        encoding="utf-8",
    )
    return path


@pytest.mark.parametrize("number", range(4))
def test_what_becomes_of_a_dial_adds_to_all_of_it(number: int) -> None:
    """Usable, unknown, dead, lost to noise and to intruders; usable is no less than clear."""
    receiver = spurplan.read_receiver(ROOT / "demos/boathouse/set.toml")
    told = judged(receiver, number=number)
    whole = told.usable + told.unknown + told.dead + told.noise + told.intruders
    np.testing.assert_allclose(whole, 1.0, atol=1e-12)
    assert told.usable >= told.clear
    low, high = told.interval()
    assert low <= told.usable + 0.03
    assert high >= told.usable - 0.03


def test_one_station_spoils_the_settings_whose_image_it_is(one_station: Path) -> None:
    """Strong and on nine tenths of the time, it takes nine tenths of a passband's width of dial."""
    told = judged(a_set(), one_station, count=4_000)
    spoilt = told.spoilt[0]
    settings = np.linspace(7_000_000, 9_000_000, 4_001)[:-1] + 250
    inside = np.abs(settings - 8_000_000) <= 3_000
    np.testing.assert_allclose(spoilt[inside], 0.9, atol=0.02)
    assert spoilt[~inside].max() < 1e-3
    assert told.intruders[0] == pytest.approx(0.9 * 6_000 / 2_000_000, rel=0.1)


def test_a_station_at_the_bar_spoils_half_the_time_that_it_is_on(one_station: Path) -> None:
    """Its level and everything else are as likely above as below what they are taken for."""
    receiver = a_set()
    margin = spurplan.dial(
        receiver, bands=one_station, frequency="8 MHz", level={"broadcast": "-45 dBm"}
    ).intrusions["margin_db"]
    level = -45.0 - margin.max()
    text = one_station.read_text("utf-8").replace("-45 dBm", f"{level:.2f} dBm")
    one_station.write_text(text, encoding="utf-8")
    told = judged(receiver, one_station, count=4_000)
    assert told.spoilt.max() == pytest.approx(0.45, abs=0.05)


def test_without_spreads_there_is_one_world(one_station: Path) -> None:
    """All spreads at nothing, the share is a point; two seeds of the real ones differ."""
    point = judged(a_set(), spreads=shipped_spreads().times(0.0))
    assert np.ptp(point.worlds) == pytest.approx(0.0, abs=1e-12)
    one, other = (judged(a_set(), worlds=Worlds(seed)) for seed in (1, 2))
    assert (one.worlds != other.worlds).any()
    assert one.worlds.mean() == pytest.approx(other.worlds.mean(), abs=0.02)
    np.testing.assert_array_equal(one.worlds, judged(a_set(), worlds=Worlds(1)).worlds)


def test_a_deaf_set_is_not_a_clear_one() -> None:
    """More noise of its own never raises what is usable, and what it takes is lost to noise."""
    usable = [judged(a_set(noise_figure=f"{figure} dB")).usable[0] for figure in (3, 12, 25, 40, 60)]
    assert all(np.diff(usable) <= 1e-12)
    assert usable[-1] < usable[0]
    deaf = judged(a_set(noise_figure="60 dB"))
    assert deaf.noise[0] > 0.9
    assert deaf.place[0] < 0.1


LOUDER = {
    "levels": lambda p: p.replace(median_dbm=p.median_dbm + 3, most_dbm=p.most_dbm + 3),
    "numbers": lambda p: p.replace(per_hz=p.per_hz * 2),
    "chances": lambda p: p.replace(chance=np.minimum(p.chance * 1.5, 1.0)),
}


@pytest.mark.parametrize("more", LOUDER)
def test_more_on_the_air_is_never_better(more: str) -> None:
    """Usable falls, or stays, when levels, numbers or chances rise."""
    receiver = spurplan.read_receiver(ROOT / "demos/boathouse/set.toml")

    def change(presence: Presence) -> Presence:
        return LOUDER[more](presence)

    for number in range(4):
        before, after = judged(receiver, number=number), judged(receiver, number=number, change=change)
        assert after.usable[0] <= before.usable[0] + 1e-9


def test_who_is_said_to_be_louder_is_louder_by_as_much(tmp_path: Path) -> None:
    """A level given for a service is its typical one: the median of its stations moves with it, none else."""
    path = tmp_path / "two.csv"
    rows = "9400,9900,broadcast,31 m,\n10100,10150,amateur,30 m,\n9700,9705,broadcast,Known,-60 dBm\n"
    path.write_text("low_khz,high_khz,service,label,level\n" + rows, encoding="utf-8")
    bands = read_bands(path)
    # -33 dBm is what is typical there
    medians = [
        present(occupants_of(bands, levels={"broadcast": level}), 1, "typical").median_dbm
        for level in ("-33 dBm", "-23 dBm", "-53 dBm")
    ]
    typical = present(occupants_of(bands), 1, "typical").median_dbm
    np.testing.assert_allclose(medians[0], typical)
    for median, louder_db in zip(medians[1:], (10.0, -20.0), strict=True):
        # ascending by frequency: the band, who is known, the amateurs
        np.testing.assert_allclose(median - typical, [louder_db, 0.0, 0.0], atol=1e-9)


def test_a_setting_within_a_bandwidth_of_the_if_is_dead() -> None:
    """Six kilohertz either way of 7.4 MHz, whatever else is there."""
    told = judged(
        a_set(conversion=[{"injection": "high", "if": "7.4 MHz", "filter": {"bandwidth": "6 kHz"}}])
    )
    assert told.dead[0] == pytest.approx(12_000 / 2_000_000, abs=1.1e-3)


def test_beyond_the_tables_is_unknown(tmp_path: Path) -> None:
    """Tables that end at 8.5 MHz leave the images of 7.6 MHz and up open."""
    path = tmp_path / "short.csv"
    path.write_text("low_khz,high_khz,service,label\n1,8510,fixed_mobile,all\n", encoding="utf-8")
    told = judged(a_set(), path)
    assert told.unknown[0] == pytest.approx((9.0 - 7.6) / 2.0, abs=0.01)
    assert told.usable[0] < 0.31


@pytest.mark.parametrize(
    ("place", "why"), [(0.3, "the place is to blame, not the set"), (0.1, "the set is deaf there")]
)
def test_noise_is_the_place_s_where_a_set_without_its_own_would_lose_half_of_it(
    place: float, why: str
) -> None:
    """Of four tenths lost to noise three would be lost to any set, or one."""
    zero = dict.fromkeys(("usable_low", "usable_high", "clear", "unknown", "dead", "wanted_dbm"), 0.0)
    shares_of_it = {"usable": 0.5, "noise": 0.4, "place": place, "intruders": 0.1}
    finding = RangeFinding("1", 7_000_000, 9_000_000, False, TYPICAL, **{**zero, **shares_of_it})
    assert finding.lost_said == f"40 % is lost to noise: {why}."


def test_each_spread_is_the_figure_of_its_name(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever the file says of one, none other is taken for it."""
    names = ("level", "activity", "noise", "q", "ceiling", "mixer", "detection")
    table = {"common": {name: float(at) for at, name in enumerate(names)}, "level": {"ism": 9.0}}
    monkeypatch.setattr(worlds_of, "_table", lambda: table)
    read = shipped_spreads.__wrapped__()
    figures = (
        read.level_db, read.activity, read.noise_db, read.q,
        read.ceiling_db, read.mixer_db, read.detection_db,
    )  # fmt: skip
    assert figures == (0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0)
    assert (read.service_db("ism"), read.service_db("amateur")) == (9.0, 0.0)


def test_worlds_have_the_spread_they_should() -> None:
    """Each factor has mean 0 and spread 1, and factors do not follow each other."""
    worlds = Worlds()
    one, other = worlds.scores("q"), worlds.scores("noise")
    assert one.mean() == pytest.approx(0.0, abs=1e-12)
    assert one.std() == pytest.approx(1.0, abs=0.02)
    assert abs(np.corrcoef(one, other)[0, 1]) < 0.35


def test_a_raster_is_the_people_of_its_band(tmp_path: Path) -> None:
    """A service listed as carriers of a raster takes as much of a dial as listed as a band."""
    lost = []
    for row in (",9000,9900,5", ",9000,9900,"):
        path = tmp_path / "rows.csv"
        text = "freq_khz,low_khz,high_khz,raster_khz,service,label\n"
        text += f"{row},broadcast,all of them\n"
        path.write_text(text + ",1,2,,ism,far below\n,29000,29001,,ism,far above\n", encoding="utf-8")
        lost.append(judged(a_set(), path).intruders[0])
    assert lost[1] > 0.1
    assert lost[0] == pytest.approx(lost[1], abs=0.01)


def test_one_station_by_several_ways_is_still_one(tmp_path: Path) -> None:
    """While the only station is off the air nothing is lost, by however many ways it comes in when on."""
    path = tmp_path / "mast.csv"
    rows = "low_khz,high_khz,service,label,mode,level\n87500,108000,broadcast,a mast on the hill,fm,20 dBm\n"
    path.write_text(rows + "1,2,ism,far below,,\n200000,200001,ism,far above,,\n", encoding="utf-8")
    ranges = [{"name": "1", "coverage": ["14 MHz", "30 MHz"], "front_end_ceiling": "40 dB"}]
    told = judged(a_set(range=ranges), path)
    ways = {tuple(told.ways.lines.steps[line].ravel().tolist()) for line in told.arrivals.line.tolist()}
    assert len(ways) > 1
    by_setting = np.bincount(told.arrivals.place)
    assert by_setting.max() > 1
    # a level of its own: on in nine of ten hours
    assert told.spoilt.max() == pytest.approx(0.9, abs=1e-3)

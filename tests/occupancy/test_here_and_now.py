"""A place, a month and an hour carried through the tool: options, levels, noise, own stations, refusals."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import spurplan
from spurplan.cli import main
from spurplan.columns import Answer
from spurplan.errors import Refused
from spurplan.occupancy.band_rows import LEAST_KW, MOST_KW
from spurplan.occupancy.bands import read_bands
from spurplan.occupancy.expand import occupants_of
from spurplan.occupancy.occupants import FROM_SKY
from spurplan.occupancy.sky import HereAndNow, atmospheric_fa_db, station_dbm
from spurplan.occupancy.sky.this_hour import MARK
from spurplan.place import Place
from spurplan.receiver.file.reading import parse_receiver
from spurplan.receiver.file.tables import receiver_tables
from spurplan.receiver.noise import MAN_MADE, compile_floor
from spurplan.reporting.report import report
from spurplan.responses.asking import Settings, as_receiver
from tests.papers import DEMO, ROOT
from tests.turns import by_turns

SET = ROOT / DEMO
HERE: dict[str, Any] = {"place": "50N,10E", "month": 1}
NOON: dict[str, Any] = {**HERE, "utc": "1200"}
NIGHT: dict[str, Any] = {**HERE, "utc": "0000"}
# where no estimate stands for want of a model: neighbours, medium and long wave, VHF
ESTIMATED = ("citizens", "ism", "radionavigation")


def now(utc: float, month: int = 1, sunspots: float | None = None) -> HereAndNow:
    return HereAndNow(Place(50.0, 10.0), month=month, utc_hour=utc, sunspots=sunspots)


@pytest.fixture(scope="module")
def shipped() -> Any:
    return read_bands()


class TestLevels:
    def test_shipped_short_wave_rows_take_the_level_of_the_hour(self, shipped: Any) -> None:
        """Broadcast, amateur, maritime, aeronautical, fixed and standard-frequency rows are all covered."""
        found = occupants_of(shipped, region=1, utc="0000", now=now(0.0))
        services = np.array(found.services)[found.service]
        inside = (found.low_hz >= 1_810_000) & (found.high_hz <= 28_000_000)
        for service in (
            "broadcast", "amateur", "maritime", "aeronautical", "fixed_mobile", "standard_frequency",
        ):  # fmt: skip
            rows = inside & (services == service)
            assert rows.any(), service
            assert (found.level_from[rows] == FROM_SKY).all(), service

    def test_every_shipped_service_has_numbers_for_the_hour_or_an_estimate(self, shipped: Any) -> None:
        """Citizens' band too: what no model knows keeps its estimate, and none goes without."""
        table = now(12.0).activity
        found = occupants_of(shipped, region=1, now=now(12.0))
        middle = np.sqrt(found.low_hz.astype(float) * found.high_hz)
        rows = table.rows_for(found.service, found.services, middle, 1)
        services = np.array(found.services)[found.service]
        for service in set(services.tolist()):
            marks = {table.mark[row] for row in rows[services == service]}
            assert marks <= {MARK, "[est]"}, service
            assert (marks == {"[est]"}) == (service in ESTIMATED), service

    def test_a_level_of_the_row_or_of_the_options_stands(self, tmp_path: Path) -> None:
        """Somebody who knows the level knows better than a model."""
        table = tmp_path / "own.csv"
        table.write_text("freq_khz,service,label,level\n6070,broadcast,Known,-40 dBm\n6075,broadcast,Not,\n")
        found = occupants_of(read_bands(table), now=now(0.0))
        assert found.level_dbm[0] == -40.0
        assert [found.level_from[k] == FROM_SKY for k in (0, 1)] == [False, True]
        asked = occupants_of(read_bands(table), now=now(0.0), levels={"broadcast": "-33 dBm"})
        assert asked.level_dbm.tolist() == [-40.0, -33.0]

    def test_a_station_of_known_site_has_the_level_of_its_path(self, tmp_path: Path) -> None:
        """Latitude, longitude and power of a row give what the sky gives for that path."""
        table = tmp_path / "own.csv"
        table.write_text("freq_khz,service,label,lat,lon,power_kw\n6070,broadcast,Far,40.4,-3.7,100\n")
        found = occupants_of(read_bands(table), now=now(20.0, sunspots=90.0), antenna_gain_db=-4.0)
        path = station_dbm(
            50.0,
            lon=10.0,
            to_lat=40.4,
            to_lon=-3.7,
            frequency_hz=6_070_000,
            power_kw=100.0,
            month=1,
            utc_hour=20.0,
            r12=90.0,
        )
        assert found.level_dbm[0] == pytest.approx(float(path) - 4.0, abs=1e-9)
        assert found.of_own_path.tolist() == [True]

    def test_where_noise_was_measured_a_short_aerial_takes_as_much_off_the_sky(self, tmp_path: Path) -> None:
        """20 log(15 MHz / f) below 15 MHz, nothing above; what a row says of the terminals stands."""
        table = tmp_path / "own.csv"
        table.write_text(
            "freq_khz,service,label,lat,lon,power_kw,level\n"
            "5000,broadcast,Far,40.4,-3.7,100,\n5005,broadcast,Known,,,,-50 dBm\n"
            "17500,broadcast,High,40.4,-3.7,100,\n"
        )
        matched, real = (
            occupants_of(read_bands(table), now=now(12.0), terminals=terminals).level_dbm
            for terminals in (False, True)
        )
        # a third of 15 MHz: 9.54 dB; each is looked up in its middle
        assert (matched - real).tolist() == pytest.approx([9.542, 0.0, 0.0], abs=0.01)

    def test_a_site_without_an_hour_changes_nothing(self, tmp_path: Path) -> None:
        """Without a month there is no path to work out."""
        table, bare = tmp_path / "own.csv", tmp_path / "bare.csv"
        table.write_text("freq_khz,service,label,lat,lon,power_kw\n6070,broadcast,Far,40.4,-3.7,100\n")
        bare.write_text("freq_khz,service,label\n6070,broadcast,Far\n")
        levels = [occupants_of(read_bands(path)).level_dbm.tolist() for path in (table, bare)]
        assert levels[0] == levels[1]

    @pytest.mark.parametrize(
        ("row", "said"),
        [
            ("6070,,,40.4,,100", "row 2: has no lon"),
            ("6070,,,91,0,100", 'row 2, column lat: "91" is not from -90 to 90'),
            ("6070,,,40,190,100", 'column lon: "190" is not from -180 to 180'),
            ("6070,,,40,19,0", 'column power_kw: "0" is not from 1e-06 to 10000'),
            ("6070,,,40,19,lots", 'column power_kw: "lots"'),
            (",5900,6200,40,19,100", "row 2: gives the site of one station to a band"),
        ],
    )
    def test_a_damaged_site_is_refused(self, row: str, said: str, tmp_path: Path) -> None:
        """A site is whole, on the Earth, and that of one station."""
        table = tmp_path / "own.csv"
        freq, low, high, *site = row.split(",")
        cells = ",".join((freq, low, high, "broadcast", "X", *site))
        table.write_text(f"freq_khz,low_khz,high_khz,service,label,lat,lon,power_kw\n{cells}\n")
        with pytest.raises(Refused) as refused:
            read_bands(table)
        assert said in str(refused.value)

    def test_a_part_of_a_site_is_left_alone_and_named(self, tmp_path: Path) -> None:
        """A list may have powers for a reason of its own; nobody shall think that they were used."""
        table = tmp_path / "own.csv"
        table.write_text("freq_khz,service,label,power_kw\n6070,broadcast,Far,lots\n")
        told = spurplan.dial(SET, bands=table, frequency="14.2 MHz", **NIGHT)
        assert any("power_kw" in line for line in told.assumptions)

    @pytest.mark.parametrize("power_kw", [LEAST_KW, MOST_KW])
    def test_limits_of_power_are_those_of_the_path(self, power_kw: float) -> None:
        """What a table may say can be worked out, and nothing beyond."""
        path = {"lat": 50.0, "lon": 10.0, "to_lat": 40.4, "to_lon": -3.7, "frequency_hz": 6_070_000}
        when = {"month": 1, "utc_hour": 20.0, "r12": 90.0}
        assert np.isfinite(station_dbm(**path, power_kw=power_kw, **when))
        with pytest.raises(Refused, match="power_kw"):
            station_dbm(**path, power_kw=power_kw * (2.0 if power_kw == MOST_KW else 0.5), **when)


class TestNoise:
    def test_atmospheric_noise_is_added_as_a_power(self) -> None:
        """Man-made, galactic and atmospheric noise stand together, to a tenth of a decibel."""
        set_ = as_receiver(SET, Settings(**NIGHT))
        hz = np.array([600e3, 1.5e6, 3.65e6, 7.1e6, 9.9e6, 10.1e6, 14.2e6, 28.3e6])
        storms = atmospheric_fa_db(50.0, lon=10.0, month=1, utc_hour=0.0, frequency_hz=hz).fa_db
        line = MAN_MADE[set_.environment].figure_db(hz)
        galactic = np.where(hz >= 10e6, 10 ** ((52.0 - 23.0 * np.log10(hz / 1e6)) / 10), 0.0)
        power = 10 ** (line / 10) + galactic + 10 ** (storms / 10)
        expected = -174.0 + 10 * np.log10(power) + set_.antenna_gain_db
        np.testing.assert_allclose(compile_floor(set_).external_dbm_per_hz(hz), expected, atol=0.1)

    def test_noise_of_an_hour_has_few_bends(self) -> None:
        """An IF scan cuts its work at every bend: a dozen on a range of short wave, not a hundred."""
        for options in (NOON, NIGHT):
            bends = compile_floor(as_receiver(SET, Settings(**options))).corners()
            assert len(bends) < 40
            assert np.count_nonzero((bends > 11e6) & (bends < 30e6)) < 12

    def test_the_least_noise_is_no_more_than_any(self) -> None:
        """What prunes must hold everywhere on a range, over steps and rising stretches too."""
        floor = compile_floor(as_receiver(SET, Settings(**NOON)))
        rng = np.random.default_rng(7)
        low = 10 ** rng.uniform(5.3, 7.4, 200)
        high = low * 10 ** rng.uniform(0.0, 0.6, 200)
        least = floor.least_external_dbm_per_hz(low, high)
        for part in np.linspace(0.0, 1.0, 41):
            assert (floor.external_dbm_per_hz(low + part * (high - low)) >= least - 1e-9).all()

    def test_measured_noise_stays(self) -> None:
        """Noise that was measured has its thunderstorms in it already."""
        text = SET.read_text().replace(
            'environment = "rural"', 'noise = [["1 MHz", "-90 dBm"], ["30 MHz", "-110 dBm"]]'
        )
        set_ = parse_receiver(text)
        then = as_receiver(set_, Settings(**NIGHT))
        hz = np.array([1e6, 7e6])
        same = [compile_floor(one).external_dbm_per_hz(hz).tolist() for one in (set_, then)]
        assert same[0] == same[1]
        assert (
            "noise stays as it was measured, whatever the hour"
            in spurplan.dial(set_, frequency="14.2 MHz", **NIGHT).assumptions
        )

    def test_no_file_gets_the_noise_of_an_hour(self) -> None:
        """The hour belongs to the question, not to the set."""
        set_ = as_receiver(SET, Settings(**NIGHT))
        assert set_.atmospheric is not None
        assert receiver_tables(set_) == receiver_tables(as_receiver(SET))
        assert as_receiver(set_, Settings()).atmospheric is None


def loudest_at(label: str, frequency: str, **options: Any) -> float:
    """Return the level at the aerial of a band on its own frequency, as `dial` tells it."""
    told = spurplan.dial(SET, frequency=frequency, everything=True, **options)
    levels = [
        row["antenna_dbm"]
        for row in told.tables["on_frequency"].records()
        if label in row["label"] and row["level_from"] == "sky"
    ]
    assert levels, label
    return float(max(levels))


@pytest.mark.parametrize(
    ("label", "frequency", "sign", "least_db"),
    [
        ("49 m", "6.07 MHz", +1, 2.0),
        ("80 m", "3.65 MHz", +1, 10.0),
        ("13 m", "21.6 MHz", -1, 10.0),
    ],
)
def test_noon_differs_from_midnight_in_the_right_sense(
    label: str, frequency: str, sign: int, least_db: float
) -> None:
    """Low bands are louder at night, high ones at noon: common knowledge, by as much as everybody hears."""
    night = loudest_at(label, frequency, **NIGHT, sunspots=120)
    noon = loudest_at(label, frequency, **NOON, sunspots=120)
    assert sign * (night - noon) >= least_db


class TestAsking:
    def test_what_was_taken_is_told(self) -> None:
        """Place, month, hour, sunspots, the error, sporadic E and what is estimated stand in the answer."""
        told = spurplan.dial(
            SET, frequency="14.2 MHz", place="JO40", month="January", utc="1200", sunspots=35
        )
        said = "\n".join(told.assumptions)
        assert "the sky at 50.5N,9E, January, 1200 UTC, sunspot number 35:" in said
        for words in ("+-15 dB", "sporadic E is left out", "powers, are estimates"):
            assert words in said
        taken = {name: told.settings[name] for name in ("place", "month", "utc", "sunspots")}
        assert taken == {"place": "50.5N,9E", "month": 1, "utc": "1200", "sunspots": 35.0}

    def test_a_place_in_the_file_serves_as_well_and_never_refuses(self) -> None:
        """Alone it leaves the medians, and says so; with month and hour it is the place."""
        set_ = parse_receiver('place = "50N,10E"\n' + SET.read_text())
        alone = spurplan.dial(set_, frequency="14.2 MHz", utc="1200")
        assert any("no month and hour for 50N,10E" in one for one in alone.assumptions)
        bare = spurplan.dial(SET, frequency="14.2 MHz", utc="1200")
        assert alone.tables["intrusions"].records() == bare.tables["intrusions"].records()
        then = spurplan.dial(set_, frequency="14.2 MHz", utc="1200", month=1)
        by_option = spurplan.dial(SET, frequency="14.2 MHz", **NOON)
        assert then.tables["intrusions"].records() == by_option.tables["intrusions"].records()

    @pytest.mark.parametrize(
        ("options", "said"),
        [
            ({"place": "50N,10E"}, "has no --month and no --utc beside it"),
            ({"place": "50N,10E", "month": 3}, "has no --utc beside it"),
            ({"place": "50N,10E", "utc": "1200"}, "has no --month beside it"),
            ({"month": 3, "utc": "1200"}, "has no place beside it"),
            ({"sunspots": 70}, "changes nothing without a month"),
            ({**NOON, "place": "95N,10E"}, "lies beyond a pole"),
            ({**NOON, "place": 50}, "is not a place as text"),
            ({**NOON, "month": 13}, "is not a month from 1 to 12"),
            ({**NOON, "month": "Jnauary"}, 'did you mean "January"'),
            ({**NOON, "month": True}, "is not a number"),
            ({**NOON, "month": 1.5}, "is not a number"),
            ({**NOON, "utc": "2560"}, "is not a time"),
            ({**NOON, "sunspots": "many"}, "is not a number"),
            ({**NOON, "sunspots": 1000}, "is not a sunspot number from 0 to 300"),
            ({**NOON, "sunspots": float("nan")}, "is not a number"),
        ],
    )
    def test_what_is_none_or_lacks_its_fellow_is_refused(self, options: dict[str, Any], said: str) -> None:
        """A place, month, hour or sunspot number is refused like everything else, with what is missing."""
        with pytest.raises(Refused) as refused:
            spurplan.dial(SET, frequency="14.2 MHz", **options)
        assert said in str(refused.value)

    def test_a_bad_place_in_the_file_is_refused_at_its_key(self) -> None:
        """The file's place is checked where it stands."""
        with pytest.raises(Refused, match='place: "52N" is not a place'):
            parse_receiver('place = "52N"\n' + SET.read_text())


QUESTIONS: dict[str, Callable[..., Answer]] = {
    "dial": lambda **o: spurplan.dial(SET, frequency="14.2 MHz", **o),
    "ranges": lambda **o: spurplan.ranges(SET, range="2", **o),
    "station": lambda **o: spurplan.station(SET, frequency="15130 kHz", **o),
    "suspects": lambda **o: spurplan.suspects(SET, frequency="14.2 MHz", **o),
    "birdies": lambda **o: spurplan.birdies(SET, range="1", **o),
    "converter": lambda **o: spurplan.converter(SET, cover="50:52 MHz", crystal="48 MHz", **o),
    "if_change": lambda **o: spurplan.if_change(SET, if_="1.6 MHz", range="4", **o),
    "cures": lambda **o: spurplan.cures(SET, range="4", **o),
}


@pytest.mark.parametrize("name", QUESTIONS)
def test_every_question_takes_the_hour_and_says_so(name: str) -> None:
    """Listening and planning alike: settings and assumptions name what the answer rests on."""
    told = QUESTIONS[name](**NIGHT)
    assert (told.settings["place"], told.settings["month"], told.settings["sunspots"]) == ("50N,10E", 1, 70.0)
    assert any(line.startswith("the sky at 50N,10E, January, 0000 UTC") for line in told.assumptions)
    bare = QUESTIONS[name](utc="0000")
    assert (bare.settings["place"], bare.settings["month"], bare.settings["sunspots"]) == (None, None, None)
    assert not any("the sky at" in line for line in bare.assumptions)


def test_a_station_turns_up_as_loud_as_its_own_path_tonight(tmp_path: Path) -> None:
    """`station` asks where it comes in, at the level of this hour; at noon and at night not the same."""
    table = tmp_path / "own.csv"
    table.write_text("freq_khz,service,label,lat,lon,power_kw\n6070,broadcast,Tall mast,40.4,-3.7,100\n")
    heard = {
        utc: spurplan.station(SET, bands=table, label="tall", everything=True, **HERE, utc=utc)
        .tables["wanted"]
        .records()
        for utc in ("1200", "2000")
    }
    for rows in heard.values():
        assert rows
        assert {row["level_from"] for row in rows} == {"sky"}
    assert heard["2000"][0]["antenna_dbm"] > heard["1200"][0]["antenna_dbm"] + 5.0


def test_the_report_says_hour_and_place() -> None:
    """Whoever finds the page knows for when it holds."""
    pytest.importorskip("matplotlib")
    page = report(SET, range="2", **NIGHT, sunspots=35)
    assert "at 0000 UTC; in January at 50N,10E, sunspot number 35;" in page


PLANS = [
    ("cures", "--range", "4"),
    ("if-change", "--if", "1600kHz"),
    ("converter", "--cover", "21MHz:21.45MHz"),
]


@pytest.mark.parametrize("words", by_turns(PLANS, always=PLANS[:1]))
def test_what_is_planned_for_an_hour_says_that_hour(words: tuple[str, ...], capsys: Any) -> None:
    """The first sentences speak of the hour asked about, and of a busy evening where none was."""
    command, *rest = words
    said = []
    for hour in ([], ["--place", "60N,25E", "--month", "12", "--utc", "1200"]):
        assert main([command, str(SET), *rest, *hour]) == 0
        said.append(" ".join(capsys.readouterr().out.split())[:700].lower())
    evening, this_hour = "on a busy evening", "at that hour of a busy day"
    assert [(evening in text, this_hour in text) for text in said] == [(True, False), (False, True)]

"""From rows to occupants: rasters, widths, region, hours, levels."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spurplan.emissions import CARRIER
from spurplan.errors import Refused
from spurplan.occupancy.band_rows import SERVICES
from spurplan.occupancy.bands import Bands, read_bands
from spurplan.occupancy.expand import occupants_of
from spurplan.occupancy.occupants import Occupants
from spurplan.occupancy.typical_levels import LevelTable, read_levels, typical_levels
from spurplan.units import parse_level

HEAD = "low_khz,high_khz,freq_khz,raster_khz,bandwidth_khz,service,label,region,mode,level,hours,days\n"


def bands(folder: Path, rows: str, head: str = HEAD) -> Bands:
    """Return the bands of one table."""
    (folder / "north.csv").write_text(head + rows, encoding="utf-8")
    return read_bands(folder / "north.csv")


def levels(occupants: Occupants) -> list[float]:
    """Return the levels as plain numbers."""
    return [float(level) for level in occupants.level_dbm]


def test_a_raster_is_laid_out_from_low_to_high(tmp_path: Path) -> None:
    """531 to 560 kHz every 9 kHz: the last carrier is 558, there is none on 560."""
    o = occupants_of(bands(tmp_path, "531,560,,9,,broadcast,Carrier,,,,,\n"))
    assert o.low_hz.tolist() == o.high_hz.tolist() == [531_000, 540_000, 549_000, 558_000]
    assert o.row.tolist() == [2, 2, 2, 2]


def test_width_is_shared_out_to_both_sides_and_rounded_outward(tmp_path: Path) -> None:
    o = occupants_of(bands(tmp_path, ",,7100,,0.003,ism,x,,,,,\n,,7200,,9,ism,x,,,,,\n"))
    assert o.low_hz.tolist() == [7_099_998, 7_195_500]
    assert o.high_hz.tolist() == [7_100_002, 7_204_500]


def test_width_does_not_go_below_one_hertz(tmp_path: Path) -> None:
    o = occupants_of(bands(tmp_path, ",,1,,9,ism,x,,,,,\n"))
    assert (int(o.low_hz[0]), int(o.high_hz[0])) == (1, 5_500)


@pytest.mark.parametrize(
    ("region", "labels"),
    [
        (1, ["all", "one", "one and three", "world"]),
        (2, ["all", "world"]),
        (3, ["all", "one and three", "world"]),
        (None, ["all", "one", "one and three", "world"]),
    ],
)
def test_rows_of_other_regions_are_left_out(tmp_path: Path, region: int | None, labels: list[str]) -> None:
    """A row without a region applies everywhere."""
    b = bands(
        tmp_path,
        ",,1,,,ism,all,,,,,\n,,2,,,ism,one,1,,,,\n,,3,,,ism,one and three,1;3,,,,\n,,4,,,ism,world,W,,,,\n",
    )
    o = occupants_of(b, region=region)
    assert [o.labels[code] for code in o.label] == labels


@pytest.mark.parametrize("region", [0, 4, True, "1", 1.0])
def test_other_regions_are_refused(tmp_path: Path, region: Any) -> None:
    with pytest.raises(Refused, match=r"region: .* is not an ITU region; give 1, 2 or 3"):
        occupants_of(bands(tmp_path, ",,1,,,ism,x,,,,,\n"), region=region)


def test_silent_hours_are_left_out_and_doubt_is_told(tmp_path: Path) -> None:
    b = bands(
        tmp_path, ",,1,,,ism,always,,,,,\n,,2,,,ism,evening,,,,1800-2200,\n,,3,,,ism,weekday,,,,,mon-fri\n"
    )

    def names(**when: str) -> list[str]:
        o = occupants_of(b, **when)  # type: ignore[arg-type]
        return [o.labels[code] for code in o.label]

    assert names() == ["always", "evening", "weekday"]
    assert names(utc="0600") == ["always", "weekday"]
    assert names(utc="1900", day="sun") == ["always", "evening"]
    assert names(day="sun") == ["always", "evening"]
    assert "no time given: 2 stations with hours" in " ".join(occupants_of(b).assumptions)
    assert "no day given: 1 station with days" in " ".join(occupants_of(b, utc="1900").assumptions)
    assert "given" not in " ".join(occupants_of(b, utc="1900", day="mon").assumptions)


def test_bad_options_are_told_together(tmp_path: Path) -> None:
    b = bands(tmp_path, ",,1,,,ism,x,,,,,\n")
    with pytest.raises(Refused) as refused:
        occupants_of(b, utc="99", day="x", levels={"ham": "S9", "ism": "S99"}, antenna_gain_db=float("nan"))
    assert [fault.place for fault in refused.value.faults] == [
        "utc",
        "day",
        "antenna_gain_db",
        "levels",
        "levels, ism",
    ]


def test_order_is_by_edges_then_table_and_row(tmp_path: Path) -> None:
    b = bands(
        tmp_path,
        "5,9,,,,ism,a,,,,,\n1,9,,,,ism,b,,,,,\n1,9,,,,ism,c,,,,,\n1,8,,,,ism,d,,,,,\n,,1,,,ism,e,,,,,\n",
    )
    o = occupants_of(b)
    assert [o.labels[code] for code in o.label] == ["e", "d", "b", "c", "a"]


def test_level_comes_from_table_then_option_then_typical(tmp_path: Path) -> None:
    b = bands(
        tmp_path, ",,7100,,,amateur,own,,,-40 dBm,,\n,,7101,,,amateur,asked,,,,,\n,,7102,,,ism,typical,,,,,\n"
    )
    o = occupants_of(b, levels={"amateur": "S9+10"})
    assert levels(o) == [-40.0, -63.0, -73.0]
    assert o.level_from.tolist() == [0, 1, 2]
    assert levels(occupants_of(b, levels={"amateur": parse_level("S9")}))[1] == -73.0


def test_s_units_are_read_at_the_frequency_of_the_occupant(tmp_path: Path) -> None:
    """S9 is -73 dBm up to and including 30 MHz and -93 dBm above.

    IARU Region 1 Technical Recommendation R.1, Brighton 1981, Torremolinos 1990.
    """
    b = bands(
        tmp_path,
        ",,30000,,,amateur,a,,,S9,,\n,,30000.001,,,amateur,b,,,S9,,\n,,50000,,,amateur,c,,,S7,,\n"
        "29990,30010,,10,,amateur,d,,,S9,,\n",
    )
    o = occupants_of(b)
    found = {
        (o.labels[c], int(hz)): float(dbm) for c, hz, dbm in zip(o.label, o.low_hz, o.level_dbm, strict=True)
    }
    assert found == {
        ("a", 30_000_000): -73.0,
        ("b", 30_000_001): -93.0,
        ("c", 50_000_000): -105.0,
        ("d", 29_990_000): -73.0,
        ("d", 30_000_000): -73.0,
        ("d", 30_010_000): -93.0,
    }


def test_the_aerial_lowers_assumed_levels_alone(tmp_path: Path) -> None:
    """Levels of a table and those asked for were said to stand at the terminals."""
    b = bands(tmp_path, ",,7100,,,amateur,a,,,S9,,\n,,7101,,,amateur,b,,,,,\n,,7102,,,ism,c,,,,,\n")
    plain, short = (occupants_of(b, levels={"amateur": "S9"}, antenna_gain_db=gain) for gain in (0.0, -12.0))
    assert (short.level_dbm - plain.level_dbm).tolist() == [0.0, 0.0, -12.0]
    assert "-12 dB for the aerial" in " ".join(short.assumptions)


@pytest.mark.parametrize(
    ("service", "khz", "dbm"),
    [
        # Typical levels of the project's own physics notes: estimates, no source.
        ("broadcast", 200, -33),
        ("broadcast", 1000, -43),
        ("broadcast", 6000, -33),
        ("broadcast", 12_100, -33),
        ("broadcast", 13_600, -43),
        ("broadcast", 17_900, -43),
        ("broadcast", 18_900, -53),
        ("broadcast", 26_000, -53),
        ("broadcast", 100_000, -33),
        ("amateur", 3_600, -53),
        ("amateur", 7_300, -53),
        ("amateur", 10_100, -63),
        ("amateur", 21_450, -63),
        ("amateur", 24_890, -73),
        ("amateur", 29_000, -73),
        ("citizens", 27_205, -63),
        ("aeronautical", 8_900, -73),
        ("maritime", 2_182, -73),
        ("standard_frequency", 10_000, -73),
        ("fixed_mobile", 5_100, -73),
        ("radionavigation", 300, -83),
        ("beacon", 14_100, -103),
    ],
)
def test_typical_levels(service: str, khz: int, dbm: float) -> None:
    assert typical_levels().dbm(service, np.array([khz * 1000], np.int64)).tolist() == [dbm]


def test_typical_levels_know_every_service_at_every_frequency() -> None:
    """No service has a hole in it, from 1 Hz to 30 GHz."""
    table = typical_levels()
    assert set(table.services) == set(SERVICES)
    for name, (low, high, _, _) in table.services.items():
        assert low[0] == 1, name
        assert high[-1] == 30_000_000_000, name
        np.testing.assert_array_equal(low[1:], high[:-1])


def test_an_unknown_service_takes_the_loudest_level_and_is_named(tmp_path: Path) -> None:
    b = bands(tmp_path, ",,7100,,,amatuer,x,,,,,\n")
    o = occupants_of(b)
    assert levels(o) == [typical_levels().loudest_dbm]
    assert o.unknown_services == ("amatuer",)
    assert 'service "amatuer" is not known (did you mean "amateur"?)' in " ".join(o.assumptions)
    assert levels(occupants_of(b, levels={"amatuer": "S5"})) == [-97.0]


def test_a_band_across_two_classes_takes_the_level_at_its_low_edge_and_says_so(tmp_path: Path) -> None:
    o = occupants_of(bands(tmp_path, "12000,14000,,,,broadcast,Wide band,,,,,\n"))
    assert levels(o) == [-33.0]
    assert "the typical level changes inside Wide band: the one at the low edge is taken" in o.assumptions


def test_a_table_of_levels_can_be_given(tmp_path: Path) -> None:
    """Where it says nothing the typical level stands."""
    (tmp_path / "mine.csv").write_text(
        "service,low_khz,high_khz,level\namateur,7000,7100,S9\nmeteor,1,99,S1\n"
    )
    b = bands(tmp_path, ",,7100,,,amateur,a,,,,,\n,,7101,,,amateur,b,,,,,\n,,50,,,meteor,c,,,,,\n")
    o = occupants_of(b, levels=tmp_path / "mine.csv")
    assert levels(o) == [-121.0, -73.0, -53.0]
    assert o.level_from.tolist() == [1, 1, 2]
    assert levels(occupants_of(b, levels=str(tmp_path / "mine.csv"))) == levels(o)


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ("amateur,7000,7100,loud\n", 'row 2, column level: "loud" is not a level'),
        ("amateur,7100,7000,S9\n", 'row 2, column low_khz: "7100" is not below high_khz 7000'),
        ("amateur,7000,7100,S9\namateur,7099,7200,S9\n", "row 3: overlaps row 2 of the same service"),
        (",7000,7100,S9\n", 'column service: "" is empty'),
        ("amateur,-1,7100,S9\n", 'column low_khz: "-1" is not a number'),
    ],
)
def test_a_damaged_table_of_levels_is_refused(tmp_path: Path, rows: str, said: str) -> None:
    (tmp_path / "mine.csv").write_text("service,low_khz,high_khz,level\n" + rows)
    with pytest.raises(Refused) as refused:
        read_levels(tmp_path / "mine.csv")
    assert said in str(refused.value)


def test_a_service_of_a_level_file_that_no_table_has_is_told(tmp_path: Path) -> None:
    """Misspelt, it would leave the typical level in force and nobody would know."""
    (tmp_path / "mine.csv").write_text("service,low_khz,high_khz,level\nbrodcast,1,30000,S9\n")
    said = occupants_of(
        bands(tmp_path, ",,7100,,,amateur,x,,,,,\n"), levels=tmp_path / "mine.csv"
    ).assumptions
    assert any(
        'no table has the service "brodcast"' in s and s.endswith('(did you mean "broadcast"?)') for s in said
    )


@pytest.mark.parametrize("level", [-53, -53.0, None])
def test_a_level_that_is_no_text_is_refused(tmp_path: Path, level: Any) -> None:
    with pytest.raises(Refused, match=f'levels, amateur: "{level}" is not a level as text'):
        occupants_of(bands(tmp_path, ",,7100,,,amateur,x,,,,,\n"), levels={"amateur": level})


@pytest.mark.parametrize("option", ["utc", "day"])
def test_a_time_that_is_no_text_is_refused(tmp_path: Path, option: str) -> None:
    with pytest.raises(Refused, match=f'{option}: "1800" is not text'):
        occupants_of(bands(tmp_path, ",,7100,,,amateur,x,,,,,\n"), **{option: 1800})


def test_shared_edges_of_levels_belong_to_the_lower_row(tmp_path: Path) -> None:
    (tmp_path / "mine.csv").write_text(
        "service,low_khz,high_khz,level\nx,200,300,-20 dBm\nx,100,200,-10 dBm\n"
    )
    table: LevelTable = read_levels(tmp_path / "mine.csv")
    at = table.dbm("x", np.array([99_999, 100_000, 200_000, 200_001, 300_000, 300_001], np.int64))
    np.testing.assert_array_equal(at, [np.nan, -10, -10, -20, -20, np.nan])


def test_what_a_mode_sounds_like(tmp_path: Path) -> None:
    """A carrier of AM or telegraphy beats; everything else is speech or data, as wide as its mode."""
    modes = ["all", "am", "ssb", "cw", "digital", "beacon", "narrow", "fm", ""]
    rows = "".join(f",,{n},,,ism,x,,{mode},,,\n" for n, mode in enumerate(modes, 1))
    o = occupants_of(bands(tmp_path, rows))
    assert [mode for mode, sound in zip(modes, o.sound, strict=True) if sound == CARRIER] == [
        "am",
        "cw",
        "beacon",
    ]
    assert dict(zip(modes, o.width_hz.tolist(), strict=True))["ssb"] == 2_700
    assert o.mode[-1] == -1


def test_too_many_occupants_are_refused_before_they_are_made(tmp_path: Path) -> None:
    rows = "1,100000,,1,,ism,x,,,,,\n" * 51
    with pytest.raises(Refused, match="5,100,000 stations and carriers, more than 5,000,000"):
        occupants_of(bands(tmp_path, rows))


def test_take_keeps_words_and_reach(tmp_path: Path) -> None:
    o = occupants_of(bands(tmp_path, ",,1,,,ism,a,,,,,\n,,2,,,ism,b,,,,,\n,,3,,,ism,c,,,,,\n"))
    some = o.take(np.array([0, 2]))
    assert [some.labels[code] for code in some.label] == ["a", "c"]
    assert (some.reach, len(some)) == (o.reach, 2)


row_forms = st.one_of(
    st.tuples(st.just("spot"), st.integers(1, 60_000_000), st.integers(0, 20_000), st.just(0)),
    st.tuples(st.just("band"), st.integers(1, 60_000_000), st.just(0), st.integers(0, 100_000)),
    st.tuples(
        st.integers(1, 9_000), st.integers(1, 60_000_000), st.integers(0, 20_000), st.integers(0, 40_000)
    ),
)


@given(
    st.lists(
        st.tuples(row_forms, st.sampled_from(SERVICES), st.sampled_from(["", "S7", "-20 dBm"])),
        min_size=1,
        max_size=6,
    ),
    st.sampled_from([0.0, -6.0]),
)
@settings(max_examples=150, deadline=None)
def test_expansion_equals_one_carrier_at_a_time(
    tmp_path_factory: pytest.TempPathFactory, rows: list[Any], gain: float
) -> None:
    """Edges, rows and levels equal those of a plain loop over rows and carriers."""
    head = "low_hz,high_hz,freq_hz,raster_hz,bandwidth_hz,service,label,level\n"
    text, expected = "", []
    typical = typical_levels()
    for line, ((form, low, width, span), service, level) in enumerate(rows, 2):
        wide = str(width) if width else ""
        if form == "spot":
            text += f",,{low},,{wide},{service},x,{level}\n"
            carriers = [(low, low)]
        elif form == "band":
            text += f"{low},{low + span},,,,{service},x,{level}\n"
            carriers = [(low, low + span)]
        else:
            text += f"{low},{low + span},,{form},{wide},{service},x,{level}\n"
            carriers = [(hz, hz) for hz in range(low, low + span + 1, form)]
        for first, last in carriers:
            half = (width + 1) // 2
            dbm = (
                parse_level(level).dbm(first)
                if level
                else float(typical.dbm(service, np.array([first], np.int64))[0]) + gain
            )
            expected.append((max(1, first - half), last + half, line, dbm, 0 if level else 2))
    o = occupants_of(bands(tmp_path_factory.mktemp("rows"), text, head), antenna_gain_db=gain)
    found = zip(*(a.tolist() for a in (o.low_hz, o.high_hz, o.row, o.level_dbm, o.level_from)), strict=True)
    assert list(found) == sorted(expected, key=lambda item: item[:3])

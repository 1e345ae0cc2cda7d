"""Lists of crystals: what they may say, what is refused, and which crystals could be ordered."""

from __future__ import annotations

from pathlib import Path

import pytest

from spurplan.errors import Refused
from spurplan.planning.converter.candidates import injection_spans
from spurplan.planning.converter.crystals import (
    LEAST_ORDERED_HZ,
    MOST_ORDERED_HZ,
    on_step,
    read_stock,
    shipped_stock,
    single,
    usual_mode,
)
from spurplan.receiver.description import Range


def written(folder: Path, text: str) -> Path:
    path = folder / "stock.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_list_says_frequency_mode_tolerance_and_note(tmp_path: Path) -> None:
    """Every column is read; an empty mode is the usual one, an empty tolerance unknown."""
    text = "freq_mhz,mode,tolerance_ppm,note,shelf\n14.318180,fundamental,30,colour,2\n48,,,,\n100,5th,20,,\n"
    crystals = read_stock(written(tmp_path, text))
    assert [(c.frequency_hz, c.mode, c.tolerance_ppm, c.note) for c in crystals] == [
        (14_318_180, "fundamental", 30.0, "colour"),
        (48_000_000, "3rd", None, ""),
        (100_000_000, "5th", 20.0, ""),
    ]


@pytest.mark.parametrize(("column", "written_as"), [("freq_khz", "14318.18"), ("freq_hz", "14318180")])
def test_other_units_may_stand_for_megahertz(tmp_path: Path, column: str, written_as: str) -> None:
    """freq_khz and freq_hz mean what they say."""
    assert read_stock(written(tmp_path, f"{column}\n{written_as}\n"))[0].frequency_hz == 14_318_180


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", r"stock.csv: is empty"),
        ("freq_mhz,mode\n", r"stock.csv: has a header and no rows"),
        ("mode,note\n3rd,\n", r"stock.csv: has no column freq_mhz"),
        ("freq_mhz,freq_khz\n1,1000\n", r"stock.csv: has both freq_mhz and freq_khz"),
        ("freq_mhz,mode\n14,4th\n", r'row 2, column mode: "4th" is not a mode of a crystal; did you mean'),
        (
            "freq_mhz,mode\n14,tuning fork\n",
            r'"tuning fork" is not a mode .*known here: fundamental, 3rd, 5th',
        ),
        ("freq_mhz,tolerance_ppm\n14,1e9\n", r'column tolerance_ppm: "1e9" is not a number.*5 to 100 parts'),
        ("freq_mhz,tolerance_ppm\n14,1000000000\n", r'"1000000000" is more than 1,000 ppm: no crystal'),
        ("freq_mhz,tolerance_ppm\n14,-20\n", r'"-20" has a sign'),
        ("freq_mhz\n14.3181818\n", r'"14.3181818" is finer than 1 Hz'),
        ("freq_mhz\n0\n", r'"0" is below 1 Hz'),
        (
            "freq_mhz\n22000\n",
            r'column freq_mhz: "22000" is no crystal: 22000 MHz is above 500 MHz; give it in the unit',
        ),
        ("freq_mhz\n-12.5\n", r'"-12.5" is not a number; write plain digits without a sign'),
        ("freq_mhz\n14,318\n", r"row 2"),
    ],
)
def test_nonsense_in_a_list_is_refused_with_its_place(tmp_path: Path, text: str, said: str) -> None:
    """File, row, column, value and rule are said."""
    with pytest.raises(Refused, match=said):
        read_stock(written(tmp_path, text))


def test_every_fault_of_a_list_is_said_at_once(tmp_path: Path) -> None:
    """Three bad cells are three faults."""
    with pytest.raises(Refused) as refused:
        read_stock(written(tmp_path, "freq_mhz,mode,tolerance_ppm\nx,3rd,5\n14,9th,5\n14,3rd,1e9\n"))
    assert len(refused.value.faults) == 3


def test_the_shipped_list_holds_common_crystals_and_says_which_are_from_memory() -> None:
    """The colour subcarrier, the serial-port family and the second-oscillator crystals are in it.

    10.7 - 0.455 = 10.245, 21.4 - 0.455 = 20.945, 45.0 - 0.455 = 44.545 MHz.
    """
    by_hz = {c.frequency_hz: c for c in shipped_stock()}
    assert len(by_hz) == len(shipped_stock()) == 89
    assert {3_579_545, 4_433_619, 14_318_180, 1_843_200, 11_059_200} <= set(by_hz)
    assert {10_700_000 - 455_000, 21_400_000 - 455_000, 45_000_000 - 455_000} <= set(by_hz)
    assert all(c.tolerance_ppm for c in by_hz.values())
    # a crystal marked 27 MHz for a citizens' band set is cut for its third overtone
    assert by_hz[27_125_000].mode == "3rd"
    import csv
    from importlib.resources import files

    rows = list(csv.DictReader((files("spurplan") / "data" / "stock_crystals.csv").read_text().splitlines()))
    assert {row["source"] for row in rows} == {"from memory", "lists of common crystals"}
    assert sum(row["source"] == "from memory" for row in rows) == 35


# Two crystal makers' limits: fundamental to 29 and 30 MHz, third overtone 18-75 and 25-90 MHz,
# fifth 50-120 and 60-150 MHz.
@pytest.mark.parametrize(
    ("mhz", "mode"), [(1, "fundamental"), (29, "fundamental"), (45, "3rd"), (75, "3rd"), (116, "5th")]
)
def test_modes_follow_makers_limits(mhz: int, mode: str) -> None:
    """What a crystal of a frequency is usually cut for."""
    assert usual_mode(mhz * 1_000_000) == mode == single(mhz * 1_000_000).mode


def test_a_step_gives_every_crystal_that_brings_a_whole_cover_into_a_range() -> None:
    """21.0-21.45 MHz into 7.0-7.5 MHz on a step of 10 kHz, each side counted by hand.

    Below: 21.45 - 7.5 = 13.95 to 21.0 - 7.0 = 14.0: 6 crystals. Above: 21.45 + 7.0 = 28.45 to
    21.0 + 7.5 = 28.5: 6 crystals. The sum would need a crystal below nought.
    """
    one = Range.from_dict({"name": "1", "low_hz": 7_000_000, "high_hz": 7_500_000})
    spans = injection_spans([(21_000_000, 21_450_000)], [one])
    crystals = on_step(10_000, spans, 1_000)
    assert [c.frequency_hz for c in crystals] == [
        *range(13_950_000, 14_000_001, 10_000),
        *range(28_450_000, 28_500_001, 10_000),
    ]
    assert not any(c.listed for c in crystals)


def test_a_step_orders_what_makers_cut_and_multiplies_above_it() -> None:
    """Injections of 240 to 250 MHz come from 120 to 125 MHz doubled; nothing below 1 MHz is ordered."""
    crystals = on_step(500_000, [(240_000_000, 250_000_000), (1, 2_000_000)], 1_000)
    assert [c.frequency_hz for c in crystals] == [
        1_000_000, 1_500_000, 2_000_000, *range(120_000_000, 125_000_001, 500_000),
    ]  # fmt: skip
    assert min(c.frequency_hz for c in crystals) >= LEAST_ORDERED_HZ
    assert max(c.frequency_hz for c in crystals) <= MOST_ORDERED_HZ


def test_a_step_too_fine_is_refused_with_the_remedy() -> None:
    """More crystals than can be looked through are not looked through in part."""
    with pytest.raises(Refused, match=r'--step: "10 Hz" gives more than 1,000 crystals; take a coarser step'):
        on_step(10, [(1_000_000, 2_000_000)], 1_000)

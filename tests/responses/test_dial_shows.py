"""What the main dial is marked in: the signal, or an IF that is tuned by it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

import spurplan
from spurplan.errors import Refused
from spurplan.receiver.changes import with_converter
from spurplan.receiver.description import Conversion, Receiver
from spurplan.receiver.file.reading import parse_receiver
from spurplan.reporting.views.intrusions import view
from spurplan.units import hz_text

FIXED = {"injection": "high", "if": "455 kHz", "filter": {"bandwidth": "4 kHz"}}
TABLE = "low_khz,high_khz,service,label\n14000,14350,amateur,20 m\n"


def band_set(**given: Any) -> Receiver:
    """Return a set with a crystal for its band, 14.0 to 14.5 MHz on a tunable IF of 3.5 to 3.0 MHz."""
    one = {"name": "20 m", "coverage": ["14 MHz", "14.5 MHz"], **given}
    made = {"name": "band set", "conversion": [{"crystal": "17.5 MHz"}, FIXED], "range": [one]}
    return Receiver.from_dict(made)


@pytest.fixture
def table(tmp_path: Path) -> Path:
    path = tmp_path / "air.csv"
    path.write_text(TABLE, encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("given", "shown"),
    [
        ({}, 3_300_000),
        ({"dial_shows": "first_if"}, 3_300_000),
        ({"dial_shows": "signal"}, None),
        ({"dial_shows": "signal", "dial_offset": "5 kHz"}, 14_205_000),
        ({"dial_offset": "5 kHz"}, 3_305_000),
    ],
)
def test_the_dial_of_a_set_with_a_crystal_for_its_band(
    given: dict[str, str], shown: int | None, table: Path
) -> None:
    """The tunable IF unless it is said to be marked in the signal; its offset comes on top."""
    answer = spurplan.dial(band_set(**given), bands=table, frequency="14.2 MHz")
    (wanted,) = [row for row in answer.on_frequency if row["label"] == "20 m"]
    assert wanted["set_dial_hz"] == shown
    assert answer.settings["set_dial_hz"] == shown
    said = f"at 14.2 MHz, where its dial shows {hz_text(shown)}" if shown else "at 14.2 MHz"
    assert view(answer).heading[0] == f"band set {said}"


@pytest.mark.parametrize(
    ("given", "shown", "meant"),
    [
        ({}, "3.3 MHz", "14.2 MHz"),
        ({"dial_offset": "5 kHz"}, "3.3 MHz", "14.205 MHz"),
        ({"dial_shows": "signal", "dial_offset": "-5 kHz"}, "13.998 MHz", "14.003 MHz"),
    ],
)
def test_whoever_gives_what_the_dial_shows_is_told_what_is_received(
    given: dict[str, str], shown: str, meant: str, table: Path
) -> None:
    """17.5 MHz less the dial is the signal; the pointer's error is taken off first."""
    with pytest.raises(Refused, match=rf'on range "20 m" the dial shows that at {meant}: give the frequency'):
        spurplan.dial(band_set(**given), bands=table, frequency=shown)
    with pytest.raises(Refused, match=r'the set tunes "20 m" 14 MHz to 14\.5 MHz'):
        spurplan.dial(band_set(**given), bands=table, frequency="12 MHz")


def test_its_sheet_and_its_log_are_in_what_the_dial_shows(table: Path, tmp_path: Path) -> None:
    """The pointer is due on the signal's own frequency and read against it."""
    sheet = spurplan.bench_sheet(band_set(dial_shows="signal"))
    rows = [row for row in sheet.first.records() if row["response"] == "pointer"]
    assert rows
    for row in rows:
        mhz = row["dial_hz"] / 1e6
        assert f"{mhz:g} MHz as described" in row["note"]


@pytest.mark.parametrize(
    ("given", "new"),
    [({}, "second_if"), ({"dial_shows": "first_if"}, "second_if"), ({"dial_shows": "signal"}, None)],
)
def test_behind_a_converter_the_dial_stays_as_it_is_marked(
    given: dict[str, str], new: str | None, table: Path
) -> None:
    """70.2 MHz less 56 MHz is 14.2 MHz, which the dial of the set behind shows in its own way."""
    converter = Conversion.from_dict({"crystal": "56 MHz"})
    receiver = with_converter(band_set(**given), conversion=converter, cover=(70_000_000, 70_500_000))
    assert receiver.ranges[0].dial_shows == new
    answer = spurplan.dial(receiver, bands=table, frequency="70.2 MHz", everything=True)
    shown = answer.intrusions.records()
    assert shown
    for row in shown:
        tuned = row["loudest_dial_hz"] - 56_000_000
        assert row["set_dial_hz"] == (17_500_000 - tuned if new else tuned)


@pytest.mark.parametrize("shows", ["second_if", "third_if"])
def test_a_dial_in_what_is_not_tuned_is_refused(shows: str) -> None:
    """The second IF stands still; a plain set tunes nothing but the signal."""
    text = (
        'name = "x"\n[[conversion]]\ncrystal = "17.5 MHz"\n[[conversion]]\ninjection = "high"\n'
        'if = "455 kHz"\n[conversion.filter]\nbandwidth = "4 kHz"\n[[range]]\nname = "20 m"\n'
        f'coverage = ["14 MHz", "14.5 MHz"]\ndial_shows = "{shows}"\n'
    )
    with pytest.raises(Refused) as caught:
        parse_receiver(text, "x.toml")
    assert str(caught.value.faults[0]) == (
        f'x.toml, range[1].dial_shows: "{shows}" is not tuned on this range; it can be signal or first_if'
    )


def test_a_plain_set_shows_the_signal_and_nothing_else() -> None:
    """Said or not; and a slip of the pen is asked about."""
    made = {
        "name": "plain", "conversion": [FIXED],
        "range": [{"name": "1", "coverage": ["3 MHz", "4 MHz"], "dial_shows": "signal"}],
    }  # fmt: skip
    assert Receiver.from_dict(made).ranges[0].dial_shows == "signal"
    text = (
        'name = "x"\n[[conversion]]\ninjection = "high"\nif = "455 kHz"\n[conversion.filter]\n'
        'bandwidth = "4 kHz"\n[[range]]\nname = "1"\ncoverage = ["3 MHz", "4 MHz"]\ndial_shows = "{}"\n'
    )
    with pytest.raises(Refused, match="it can be signal"):
        parse_receiver(text.format("first_if"))
    with pytest.raises(Refused, match='did you mean "signal"'):
        parse_receiver(text.format("signl"))

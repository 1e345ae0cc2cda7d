"""Reading a receiver file: every fault at once, the files it names, defaults that can be told."""

from __future__ import annotations

import os
import re
import stat
import sys
from pathlib import Path

import pytest

from spurplan.errors import Refused
from spurplan.receiver.file.reading import parse_receiver, read_box, read_front, read_receiver
from tests.receiver_sound import SOUND, refused


def test_ranges_that_share_a_fault_are_told_together() -> None:
    """One wrong conversion is one fault, with the ranges it spoils."""
    text = (
        'name = "a"\n[[conversion]]\ninjection = "low"\nif = "1 MHz"\n'
        '[conversion.filter]\nbandwidth = "6 kHz"\n'
        '[[range]]\nname = "LW"\ncoverage = ["150 kHz", "300 kHz"]\n'
        '[[range]]\nname = "MW"\ncoverage = ["500 kHz", "1.6 MHz"]\n'
        '[[range]]\nname = "SW"\ncoverage = ["6 MHz", "18 MHz"]\n'
    )
    fault = refused(text)
    assert fault.total == 1
    assert '(range "LW", "MW")' in fault.text()


def test_a_range_with_conversions_of_its_own_is_judged_by_them() -> None:
    """Each range is checked with the list it uses, and the place says which list that is."""
    text = (
        'name = "a"\n[[conversion]]\ninjection = "high"\nif = "455 kHz"\n'
        '[conversion.filter]\nbandwidth = "6 kHz"\n'
        '[[range]]\nname = "1"\ncoverage = ["1 MHz", "2 MHz"]\n'
        '[[range]]\nname = "2"\ncoverage = ["1 MHz", "2 MHz"]\n'
        '[[range.conversion]]\ninjection = "low"\nif = "5 MHz"\n'
        '[range.conversion.filter]\nbandwidth = "6 kHz"\n'
    )
    assert refused(text).text().startswith('set.toml, range[2].conversion[1].injection: "low" needs')


def test_ranges_have_names_of_their_own() -> None:
    text = SOUND + '[[range]]\nname = "4"\ncoverage = ["1 MHz", "2 MHz"]\n'
    assert 'range[2].name: "4" is the name of range[1] as well' in refused(text).text()


def test_a_range_that_covers_the_if_is_not_refused() -> None:
    """It is unusable around the IF, which the answers report; the set is what it is."""
    parse_receiver(SOUND.replace('["11 MHz", "30 MHz"]', '["300 kHz", "800 kHz"]'))


def test_a_trap_on_the_if_or_a_harmonic_of_the_oscillator_makes_sense() -> None:
    """Only a slip of the unit is refused, not a trap for a transmitter far above the range."""
    for trap in ("465 kHz", "98 MHz", "300 MHz"):
        parse_receiver(SOUND.replace("circuits = 2, q = 55", f'trap = "{trap}", depth = "20 dB", q = 60'))


def test_everything_wrong_is_told_at_once() -> None:
    """A fault in one place hides no other, and they come in the order of the file."""
    text = """\
name = 5
antena_gain = "3 dB"
[[conversion]]
injection = "low"
if = "465 kHz"
[conversion.mixer]
family = "valve"
[conversion.filter]
bandwidth = "6 kHz"
[bfo]
offset = 1000
[[range]]
name = "1"
coverage = ["11 MHz", "3 MHz"]
[[range]]
name = "2"
coverage = ["150 kHz", "400 kHz"]
front_end = [ { q = 5 }, { trap = "3 MHz", depth = "20 dB", q = 0 } ]
"""
    lines = refused(text).text().splitlines()
    places = [re.match(r"set\.toml, ([^:]+):", line)[1] for line in lines]  # type: ignore[index]
    assert places == [
        "name",
        "antena_gain",
        "conversion[1].injection",  # of the whole, seen although parts are wrong
        "conversion[1].mixer.family",
        "bfo.offset",
        "range[1].coverage",
        "range[2].front_end[1]",
        "range[2].front_end[2].q",
    ]


def test_a_range_behind_a_broken_one_is_told_under_its_own_number() -> None:
    """Numbers count the ranges of the file, also where one of them can not be judged."""
    text = SOUND.replace("11 MHz", "11") + (
        '[[range]]\nname = "5"\ncoverage = ["1 MHz", "2 MHz"]\n[[range.conversion]]\ncrystal = "1.5 MHz"\n'
    )
    lines = refused(text).text().splitlines()
    assert lines[0].startswith('set.toml, range[1].coverage[1]: "11" has no unit')
    assert lines[1].startswith('set.toml, range[2].conversion[1].crystal: "1500 kHz" lies inside')
    assert len(lines) == 2


def test_a_wrong_if_is_not_followed_by_faults_it_causes() -> None:
    """What hangs on a figure that can not be read is not guessed at."""
    text = SOUND.replace('if = "465 kHz"', 'if = "465"').replace('injection = "high"', 'injection = "low"')
    assert refused(text).total == 1


# --- the file itself -----------------------------------------------------------------------


def test_broken_toml_is_told_with_line_column_and_text(tmp_path: Path) -> None:
    """The commonest slip, a quantity without quotes, gets its remedy."""
    path = tmp_path / "set.toml"
    path.write_text('name = "a"\n[[conversion]]\nif = 465 kHz\n')
    with pytest.raises(Refused) as caught:
        read_receiver(path)
    said = caught.value.text()
    assert re.match(rf"{re.escape(str(path))}, line 3, column 1\d?: ", said)
    assert '"if = 465 kHz"' in said
    assert "stands in quotes" in said


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"\xff\xfen\x00a\x00", "line 1: is not UTF-8"),
        ('name = "Stationsgerät"\n'.encode("latin-1"), "line 1: is not UTF-8 (byte 0xe4)"),
        (b'name = "a"\nname = "b"\n', "line 2"),
        (b'name = "a\n', "is not TOML"),
        (b"range = [", "is not TOML"),
        (b"", "name: is missing"),
        (b"a = " + b"[" * 5000, "set.toml"),
        (b"region = " + b"9" * 6000, "set.toml"),
        (b"#" * (1 << 20) + b"\n", "is larger than"),
    ],
    ids=[
        "utf-16",
        "latin-1",
        "key twice",
        "open text",
        "open list",
        "empty",
        "deep",
        "huge number",
        "huge file",
    ],
)
def test_a_file_that_is_no_receiver_file_is_refused(tmp_path: Path, content: bytes, said: str) -> None:
    path = tmp_path / "set.toml"
    path.write_bytes(content)
    with pytest.raises(Refused, match=re.escape(said)):
        read_receiver(path)


def test_a_byte_order_mark_and_any_line_end_are_taken(tmp_path: Path) -> None:
    """Editors put them in; they mean nothing."""
    path = tmp_path / "set.toml"
    path.write_bytes(b"\xef\xbb\xbf" + SOUND.replace("\n", "\r\n").encode())
    assert read_receiver(path) == parse_receiver(SOUND)


def test_a_missing_file_offers_its_neighbour(tmp_path: Path) -> None:
    (tmp_path / "boathouse.toml").write_text(SOUND)
    with pytest.raises(Refused, match=r"does not exist; did you mean .*boathouse\.toml"):
        read_receiver(tmp_path / "boathose.toml")


def test_a_folder_is_refused(tmp_path: Path) -> None:
    with pytest.raises(Refused, match="is a folder"):
        read_receiver(tmp_path)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes here")
def test_a_pipe_is_refused_and_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(Refused, match="is a pipe or a device"):
        read_receiver(tmp_path / "pipe")


@pytest.mark.skipif(sys.platform == "win32" or os.geteuid() == 0, reason="root may read anything")
def test_a_file_without_permission_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "set.toml"
    path.write_text(SOUND)
    path.chmod(stat.S_IWUSR)
    with pytest.raises(Refused, match="permission denied"):
        read_receiver(path)


# --- the files it names --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ("freq_khz,attenuation_db\n100,0\n90,3\n", "row 3, column freq_khz"),
        ("freq_khz,attenuation_db\n100,0\n100,3\n", "row 3, column freq_khz"),
        ("freq_khz,attenuation_db\n100,0\n200,\n", "row 3, column attenuation_db"),
        ("freq_khz,attenuation_db\n100,nan\n", 'row 2, column attenuation_db: "nan" is not a number'),
        ("freq_khz,attenuation_db\n-100,2\n", "row 2, column freq_khz"),
        ("freq_khz,attenuation_db\n100,900\n", "is outside any sense"),
        ("freq,attenuation_db\n100,0\n", "has no column of frequencies"),
        ("freq_khz,freq_mhz,attenuation_db\n100,0.1,0\n", "has several columns of frequencies"),
        ("freq_khz\n100\n", "has no column attenuation_db"),
        (
            "freq_khz;attenuation_db\n100;0\n",
            'range[1].front_end[1].curve: "c.csv" is separated by semicolons',
        ),
        ("", 'range[1].front_end[1].curve: "c.csv" is empty'),
    ],
)
def test_a_damaged_curve_is_told_with_its_row(tmp_path: Path, rows: str, said: str) -> None:
    (tmp_path / "c.csv").write_text(rows)
    path = tmp_path / "set.toml"
    path.write_text(SOUND.replace("circuits = 2, q = 55", 'curve = "c.csv"'))
    with pytest.raises(Refused, match=re.escape(said)) as caught:
        read_receiver(path)
    assert caught.value.total == 1


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ("1,1,0,-20\n1,2,30,-20\n2,1,6,-20\n", "table.csv: has holes: lo 2, rf 2"),
        ("1,1,0,-20\n1,1,0,-20\n", 'row 3: "lo 1, rf 1" is given twice'),
        ("1,1,0,-20\n1,0,10,-20\n", "row 3"),
        ("2,1,10,-20\n", "table.csv: has no row lo 1, rf 1"),
        ("1,1,0,\n", "row 2, column signal_dbm"),
        ("1.5,1,0,-20\n", 'row 2, column lo: "1.5" is not the order of a product'),
        ("-1,1,0,-20\n", "row 2, column lo"),
        ("１,1,0,-20\n", "row 2, column lo"),
    ],
)
def test_a_damaged_mixer_table_is_told_with_its_row(tmp_path: Path, rows: str, said: str) -> None:
    (tmp_path / "table.csv").write_text("lo,rf,suppression_db,signal_dbm\n" + rows, "utf-8")
    path = tmp_path / "set.toml"
    path.write_text(SOUND.replace('family = "jfet"', 'table = "table.csv"'))
    with pytest.raises(Refused, match=re.escape(said)):
        read_receiver(path)


def test_named_files_stand_relative_to_the_receiver_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the program was started from does not matter."""
    (tmp_path / "lab").mkdir()
    (tmp_path / "lab" / "c.csv").write_text("freq_mhz,attenuation_db\n1.5,0\n3,12.5\n")
    (tmp_path / "lab" / "m.csv").write_text("lo,rf,suppression_db,signal_dbm\n1,1,0,-20\n2,1,31,-20\n")
    path = tmp_path / "set.toml"
    text = SOUND.replace("circuits = 2, q = 55", 'curve = "lab/c.csv"')
    path.write_text(text.replace('family = "jfet"', 'table = "lab/m.csv"'))
    monkeypatch.chdir("/")
    receiver = read_receiver(path)
    assert receiver.ranges[0].front_end[0].points == ((1_500_000, 0.0), (3_000_000, 12.5))  # type: ignore[index,union-attr]
    assert receiver.conversions[0].mixer.table_rows == ((1, 1, 0.0, -20.0), (2, 1, 31.0, -20.0))


# --- what is read --------------------------------------------------------------------------


def test_s_units_are_resolved_at_their_own_frequency() -> None:
    """S9 is -73 dBm up to and including 30 MHz and -93 dBm above (IARU Region 1, R.1), 6 dB an S unit."""
    text = SOUND.replace(
        'noise_figure = "12 dB"', 'noise = [["30 MHz", "S6"], ["31 MHz", "S6"], ["50 MHz", "-120 dBm"]]'
    )
    assert parse_receiver(text).noise == ((30_000_000, -91.0), (31_000_000, -111.0), (50_000_000, -120.0))


def test_which_figures_are_default_can_be_told() -> None:
    """What was given is in given, even where it equals the default."""
    receiver = parse_receiver(SOUND)
    assert "noise_figure_db" in receiver.given
    assert "antenna_gain_db" not in receiver.given
    assert "front_end" in receiver.ranges[0].given
    assert "rf_gain_db" not in receiver.ranges[0].given


def test_the_defaults_are_those_of_the_design() -> None:
    """As the file's documentation lists them."""
    receiver = parse_receiver(SOUND.replace('noise_figure = "12 dB"\n', "").replace('family = "jfet"\n', ""))
    one, conversion = receiver.ranges[0], receiver.conversions[0]
    assert conversion.filter is not None
    found = (
        receiver.environment, receiver.noise_figure_db, receiver.antenna_gain_db, one.rf_gain_db,
        one.front_end_ceiling_db, conversion.selectivity_ceiling_db, conversion.filter.shape_factor,
        conversion.filter.ultimate_db, conversion.mixer.family, conversion.pickup_db,
    )  # fmt: skip
    assert found == ("rural", 12.0, 0.0, 20.0, 70.0, 70.0, 2.5, 70.0, "valve_multiplicative", None)


def test_frequencies_are_exact_whole_hertz() -> None:
    """No float on the way: float("0.285714")*1e6 is not 285714."""
    text = SOUND.replace('"465 kHz"', '"0.285714 MHz"')
    assert parse_receiver(text).conversions[0].if_hz == 285_714


# --- the file of a converter's front end ---------------------------------------------------


def test_a_front_file_is_read_with_its_defaults(tmp_path: Path) -> None:
    path = tmp_path / "front.toml"
    path.write_text('gain = "15 dB"\nelements = [ { circuits = 2 } ]\n[mixer]\nfamily = "jfet"\n')
    front = read_front(path)
    assert (front.gain_db, front.pickup_db, front.mixer.family) == (15.0, 60.0, "jfet")


def test_a_wrong_front_file_is_told_like_a_receiver_file(tmp_path: Path) -> None:
    path = tmp_path / "front.toml"
    path.write_text(
        'gian = "15 dB"\nelements = [ { circuits = 0 } ]\n[mixer]\nfamily = "x"\nv0 = 1\nh2 = 3\n'
    )
    with pytest.raises(Refused) as caught:
        read_front(path)
    said = caught.value.text()
    assert 'gian: unknown key; did you mean "gain"?' in said
    assert "elements[1].circuits" in said
    assert "mixer.family" in said


def test_a_converter_is_described_in_the_words_of_a_box(tmp_path: Path) -> None:
    """What a front file said otherwise once is refused, and the word that it takes now is named."""
    path = tmp_path / "front.toml"
    path.write_text('front_end = [ { circuits = 2 } ]\nfront_end_ceiling = "60 dB"\nrf_gain = "15 dB"\n')
    with pytest.raises(Refused) as caught:
        read_front(path)
    said = caught.value.text()
    for old, new in (("front_end", "elements"), ("front_end_ceiling", "ceiling"), ("rf_gain", "gain")):
        assert f"{old}: is no key any more; write {new}" in said


def test_a_box_file_is_read_as_a_box_of_the_receiver_file(tmp_path: Path) -> None:
    keys = 'name = "trap"\nelements = [ { trap = "465 kHz", depth = "40 dB", q = 60 } ]\ngain = "-1 dB"\n'
    (tmp_path / "box.toml").write_text(keys)
    (tmp_path / "set.toml").write_text(SOUND + "[[ahead]]\n" + keys)
    (inside,) = read_receiver(tmp_path / "set.toml").ahead
    assert read_box(tmp_path / "box.toml") == inside
    assert (inside.ceiling_db, inside.pickup_db, inside.noise_figure_db) == (70.0, 60.0, None)


@pytest.mark.parametrize(
    ("ranges", "said"),
    [
        ('range = [{ name = "1", coverage = ["1 MHz", "2 MHz"] }, 3]', r'range\[2\]: "3" is not a table'),
        ('range = [3, { name = "1", coverage = ["1 MHz", "2 MHz"], nonsense = 1 }]', r"range\[2\].nonsense"),
        (
            'range = [{ name = "1", coverage = ["1 MHz", "2 MHz"], front_end = [{ circuits = 0xHERE }] }]',
            "a whole number of thousands of digits",
        ),
    ],
)
def test_a_range_that_is_none_is_refused_like_any_other_fault(ranges: str, said: str) -> None:
    """What stands where a range should, or cannot even be written out, ends in no traceback."""
    chain = '[[conversion]]\ninjection = "high"\nif = "455 kHz"\nfilter = { bandwidth = "6 kHz" }\n'
    with pytest.raises(Refused, match=said):
        parse_receiver(f'name = "a"\n{ranges.replace("HERE", "F" * 4500)}\n{chain}')

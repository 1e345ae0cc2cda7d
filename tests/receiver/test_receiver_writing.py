"""A receiver file written and read back is the same set; a user's comments survive."""

from __future__ import annotations

import re
import tempfile
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings

from spurplan.errors import Refused
from spurplan.receiver.changes import with_front_end, with_intermediate_frequency, with_pad, with_range
from spurplan.receiver.changes.edits import changed
from spurplan.receiver.description import Circuits, Curve, Receiver
from spurplan.receiver.file.reading import parse_receiver, read_receiver
from spurplan.receiver.file.schema import json_schema
from spurplan.receiver.file.starter import starter_text
from spurplan.receiver.file.writing import receiver_toml, write_receiver
from tests.receiver_strategies import receivers

SETS = Path(__file__).parents[1] / "receivers"
ALL_SETS = sorted(SETS.glob("*.toml"))

QUICK = settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def given_keys(part: object) -> object:
    """Return which attributes were given, all the way down."""
    if isinstance(part, tuple):
        return [given_keys(one) for one in part]
    fields = getattr(part, "given", None)
    if fields is None:
        return None
    return {name: given_keys(getattr(part, name)) for name in sorted(fields)}


@QUICK
@given(receivers())
def test_what_is_written_reads_back_as_the_same_set(receiver: Receiver) -> None:
    """Writing loses no figure, not the last digit of one."""
    assert parse_receiver(receiver_toml(receiver)) == receiver


@pytest.mark.parametrize("path", ALL_SETS, ids=lambda path: path.stem)
def test_defaults_stay_defaults_on_the_way_through_a_file(path: Path) -> None:
    """A figure nobody gave is not written, so the next reader still learns that nobody gave it."""
    receiver = read_receiver(path)
    back = parse_receiver(receiver_toml(receiver, str(path)), str(path))
    assert given_keys(back) == given_keys(receiver)


@pytest.mark.parametrize("path", ALL_SETS, ids=lambda path: path.stem)
def test_saving_an_unchanged_set_over_its_file_changes_no_byte(path: Path) -> None:
    """Comments, order and the user's own units stay where nothing changed."""
    assert receiver_toml(read_receiver(path), str(path), path) == path.read_text("utf-8")


def comments(text: str) -> list[str]:
    return re.findall(r"#.*", text)


@pytest.mark.parametrize("path", ALL_SETS, ids=lambda path: path.stem)
def test_a_change_keeps_every_comment_and_means_what_was_asked(path: Path) -> None:
    """Only the values that changed are touched."""
    receiver = read_receiver(path)
    new = with_range(with_pad(receiver, pad_db=6.0), range_name=None, dial_offset_hz=2_500)
    text = receiver_toml(new, str(path), path)
    assert comments(text) == comments(path.read_text("utf-8"))
    assert parse_receiver(text, str(path)) == new


def test_untouched_lines_stay_as_they_were_written() -> None:
    """Of a file only the lines of the changed figure differ."""
    path = SETS / "boathouse.toml"
    new = with_front_end(read_receiver(path), elements=[Circuits(circuits=3, q=70.0)], range_name="2")
    before, after = path.read_text("utf-8").splitlines(), receiver_toml(new, str(path), path).splitlines()
    differing = [(a, b) for a, b in zip(before, after, strict=True) if a != b]
    assert differing == [
        ("front_end = [ { circuits = 2, q = 80 } ]", "front_end = [{ circuits = 3, q = 70 }]")
    ]


@settings(QUICK, max_examples=40)
@given(receivers(), receivers())
def test_any_set_can_be_saved_over_any_file(old: Receiver, new: Receiver) -> None:
    """Whatever stood in the kept file, the text means the new set."""
    with tempfile.TemporaryDirectory() as folder:
        kept = Path(folder) / "set.toml"
        kept.write_text(receiver_toml(old), "utf-8")
        assert parse_receiver(receiver_toml(new, str(kept), kept)) == new


def test_a_range_that_is_gone_goes_and_the_others_keep_their_comments(tmp_path: Path) -> None:
    """Ranges are told apart by name, not by place."""
    path = tmp_path / "set.toml"
    path.write_text((SETS / "boathouse.toml").read_text("utf-8").replace('name = "3"', 'name = "3"   # 49 m'))
    receiver = read_receiver(path)
    fewer = Receiver.from_dict(
        {**{n: getattr(receiver, n) for n in receiver.given}, "ranges": receiver.ranges[2:]}
    )
    write_receiver(fewer, path, keep_comments_of=path)
    assert read_receiver(path) == fewer
    assert 'name = "3"   # 49 m' in path.read_text("utf-8")


TWO = """\
name = "a"
# the tunable mixer
[[conversion]]
injection = "high"  # above
if = "1.6 MHz"      # cans
# the second mixer
[[conversion]]
injection = "low"
if = "100 kHz"      # the filter
[conversion.filter]
bandwidth = "3 kHz"
[[range]]
name = "1"
coverage = ["3 MHz", "4 MHz"]
"""


@pytest.mark.parametrize("ahead", [1, 2])
def test_a_conversion_put_ahead_leaves_the_comments_to_those_behind(ahead: int, tmp_path: Path) -> None:
    """A remark is about the stage it was written at, whichever number that has now.

    All of them differ from what they were: none is told by being the same, only by its place from the end.
    """
    path = tmp_path / "set.toml"
    path.write_text(TWO, "utf-8")
    old = read_receiver(path)
    first, second = old.conversions
    fixed: dict[str, Any] = {"injection": None}
    pushed = [
        changed(first, "x", if_hz=45_000_000),
        changed(first, "x", if_hz=11_000_000, crystal_hz=34_000_000, **fixed),
    ][:ahead]
    down_hz = pushed[-1].if_hz - 1_600_000
    behind = [
        changed(first, "x", crystal_hz=down_hz, gain_db=9.0, **fixed),
        changed(second, "x", gain_db=3.0),
    ]
    new = changed(old, "x", conversions=(*pushed, *behind))
    text = receiver_toml(new, str(path), path)
    assert parse_receiver(text, str(path)) == new
    assert [line for line in text.splitlines() if "# cans" in line] == ['if = "1.6 MHz"      # cans']
    assert [line for line in text.splitlines() if "# the filter" in line] == [
        'if = "100 kHz"      # the filter'
    ]
    # in turn from the aerial: each IF, and no remark ahead of the stages it is about
    new_ifs = ['"45 MHz"', '"11 MHz"'][:ahead]
    order = [text.index(part) for part in (*new_ifs, "# cans", "# the filter")]
    assert order == sorted(order)


def test_a_conversion_taken_away_takes_its_own_comments(tmp_path: Path) -> None:
    """Of two the first goes: what was said of the other stays with it."""
    path = tmp_path / "set.toml"
    path.write_text(TWO, "utf-8")
    old = read_receiver(path)
    new = changed(old, "x", conversions=(changed(old.conversions[1], "x", gain_db=3.0),))
    text = receiver_toml(new, str(path), path)
    assert parse_receiver(text, str(path)) == new
    assert 'if = "100 kHz"      # the filter' in text
    assert "# cans" not in text


def test_an_inline_table_and_dotted_keys_can_be_saved_over(tmp_path: Path) -> None:
    """Every way in which TOML writes a table is kept or replaced, never broken."""
    path = tmp_path / "set.toml"
    path.write_text(
        'name = "a"\nbfo.offset = "1 kHz"\n'
        'conversion = [ { injection = "high", if = "0.455 MHz", filter = { bandwidth = "6 kHz" } } ]\n'
        'range = [ { name = "1", coverage = ["1 MHz", "2 MHz"] } ]\n'
    )
    new = with_intermediate_frequency(read_receiver(path), if_hz=470_000)
    write_receiver(new, path, keep_comments_of=path)
    assert read_receiver(path) == new


def test_files_named_in_it_are_found_from_the_new_place(tmp_path: Path) -> None:
    """A curve stays the same file when the receiver file goes into another folder."""
    receiver = read_receiver(SETS / "lockkeeper.toml")
    other = tmp_path / "deep" / "er"
    other.mkdir(parents=True)
    write_receiver(receiver, other / "copy.toml", keep_comments_of=SETS / "lockkeeper.toml")
    assert read_receiver(other / "copy.toml") == receiver
    named = tomllib.loads((other / "copy.toml").read_text("utf-8"))["range"][1]["front_end"][1]["curve"]
    assert named.startswith("../")


def test_a_curve_that_is_gone_is_refused_before_anything_is_written(tmp_path: Path) -> None:
    """A file is not written that could not be read again."""
    receiver = read_receiver(SETS / "boathouse.toml")
    gone = Curve(path=str(tmp_path / "gone.csv"), points=((1_000_000, 3.0),))
    target = tmp_path / "set.toml"
    with pytest.raises(Refused, match=r'range\[4\]\.front_end\[1\]\.curve: "gone\.csv" does not exist'):
        write_receiver(with_front_end(receiver, elements=[gone], range_name="4"), target)
    assert not target.exists()


def test_a_folder_as_target_is_refused(tmp_path: Path) -> None:
    with pytest.raises(Refused, match="is a folder"):
        write_receiver(read_receiver(SETS / "boathouse.toml"), tmp_path)


@pytest.mark.parametrize("if_hz", ["455 kHz", ["1.6 MHz", "85 kHz"], ["1.6 MHz", 9_000_000]])
def test_the_starter_file_runs_as_it_is(if_hz: object) -> None:
    """One conversion or two, it reads without a fault and is full of comments."""
    text = starter_text((("1.6 MHz", "5 MHz"), (5_000_000, 30_000_000)), if_hz)  # type: ignore[arg-type]
    receiver = parse_receiver(text)
    assert [one.high_hz for one in receiver.ranges] == [5_000_000, 30_000_000]
    assert receiver.conversions[-1].filter is not None
    assert len(comments(text)) > 20


def test_every_commented_line_of_the_starter_file_works_once_it_is_taken_in() -> None:
    """A user who takes the # away gets a set, not a fault."""
    text = starter_text()
    taken_in = re.sub(r"(?m)^# (?=(?:[a-z_]+ = |\[\[?[a-z.]+\]))", "", text)
    assert taken_in != text
    receiver = parse_receiver(taken_in)
    assert receiver.region == 1
    assert receiver.bfo is not None
    assert receiver.internal[0].name == "calibrator"
    tuned, crystal, premixed = receiver.ranges[-3:]
    assert (tuned.dial_offset_hz, tuned.gang is None) == (-3_000, False)
    first, second = receiver.conversions_of(crystal)
    assert (first.crystal_hz, first.multiplier, first.if_hz, second.if_hz) == (8_750_000, 2, None, 455_000)
    (plan,) = receiver.plans_of(premixed)
    assert [plan.variable()[0] * d + plan.variable()[1] for d in (14_000_000, 14_500_000)] == [
        5_000_000, 5_500_000,
    ]  # fmt: skip
    elements = re.findall(r"(?m)^#   (\{.*?\})(?:  .*)?$", text)
    assert len(elements) == 5
    for element in elements[:4]:  # the fifth names a file
        front = f"front_end = [ {element} ]"
        parse_receiver(re.sub(r"front_end = .*", front, text, count=1))


def test_the_starter_file_shows_every_key_there_is() -> None:
    """Nobody needs the schema to find out what may be said."""
    text = starter_text()
    keys = {
        key
        for part in [json_schema(), *json_schema()["$defs"].values()]
        for key in part.get("properties", {})
    }
    assert len(keys) > 50
    assert {key for key in keys if not re.search(rf"\b{key}\b", text)} == set()


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ({"if_hz": ["1 MHz", "2 MHz", "3 MHz"]}, "is not one or two conversions"),
        ({"if_hz": "455"}, "has no unit"),
        ({"coverage": ("3 MHz", "2 MHz")}, "is not below high edge"),
        ({"name": "a\nb"}, "control characters"),
        ({"coverage": []}, "has no range"),
        ({"coverage": "5 MHz"}, '"5" is not a low and a high edge'),
        ({"coverage": [("5 MHz", "6 MHz", "7 MHz")]}, "is not a low and a high edge"),
    ],
)
def test_a_starter_file_that_would_not_run_is_refused(arguments: dict[str, object], said: str) -> None:
    with pytest.raises(Refused, match=said):
        starter_text(**arguments)  # type: ignore[arg-type]

"""Tables read by columns: the same rows, words and refusals as cell by cell, whatever stands in the file."""

from __future__ import annotations

import random
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spurplan import csvblocks
from spurplan.csvblocks import Column, plain_block
from spurplan.csvfile import open_csv
from spurplan.errors import BadValue, Refused
from spurplan.occupancy.band_rows import COLUMNS, RowReader, Vocabulary, collect, read_heads
from spurplan.units import (
    headed_hz,
    headed_hz_of_digits,
    numbers_of_digits,
    parse_signed_decimal,
)
from tests.by_cells import read_by_cells

KINDS = ("services", "labels", "modes", "regions", "levels", "schedules", "notes", "sources")


def read_by_columns(data: bytes, largest: int, least: int) -> tuple[Any, ...]:
    """Rows, words and blank lines as `read_bands` has them, in blocks of a few bytes."""
    words = Vocabulary()
    sheet = open_csv("t.csv", known=COLUMNS, data=data)
    heads = read_heads(sheet)
    sheet.faults.check()
    array = collect(RowReader(sheet, heads, words), sheet.blocks(largest, least))
    sheet.faults.check()
    by_kind = {kind: getattr(words, kind).words() for kind in KINDS}
    return array, by_kind, words.sites.array(), sheet.blank_lines


def refusal_of(read: Callable[[], Any]) -> Refused | None:
    """What a reader refuses a table with."""
    try:
        read()
    except Refused as refused:
        return refused
    return None


def assert_the_same(data: bytes, largest: int = 1 << 24, least: int = 1 << 14) -> bool:
    """Both roads through a table; return whether it was refused."""
    slow = refusal_of(lambda: read_by_cells("t.csv", data))
    fast = refusal_of(lambda: read_by_columns(data, largest, least))
    if slow or fast:
        assert slow is not None
        assert fast is not None
        assert str(fast) == str(slow)
        assert (fast.faults, fast.total) == (slow.faults, slow.total)
        return True
    array, words, blank = read_by_cells("t.csv", data)
    got, got_words, got_sites, got_blank = read_by_columns(data, largest, least)
    assert got_blank == blank
    for name, values in got.items():
        if name != "site":
            np.testing.assert_array_equal(values, array[name], name)
    for kind, found in got_words.items():
        assert found == words[kind], kind
    slow_sites = np.array([*words["sites"], (np.nan,) * 3])[array["site"]]
    np.testing.assert_array_equal(np.vstack([got_sites, [np.nan] * 3])[got["site"]], slow_sites)
    return False


SOUND = {
    "freq_khz": ["7100", "7100.5", "0.001", "30000000", " 7105 ", ".5", "0007100.500", '"7110"'],
    "service": ["amateur", "broadcast", "Broadcast", "meteor", " ism", "'=odd", '"fixed_mobile"'],
    "label": ["A", "Süd", "a label longer than a word", "a label longer than a ward", '"with, comma"',
              '"a ""b"""', "O'Brien", "'=1+1", "日本語", "x" * 200, "\u00a0nbsp", "service"],
    "region": ["", "1", "1;3", "3;1", "W"],
    "mode": ["", "am", "AM"],
    "level": ["", "S7", "-53 dBm", "S9+20"],
    "hours": ["", "1800-2200", "0000-2400"],
    "days": ["", "mon-fri", " sat"],
    "lat": ["", "51.5", "-0.1", "+45.123456789012345", "90"],
    "lon": ["", "0", "-180", "7.25"],
    "power_kw": ["", "0.01", "100", "1e3", "20000"],
    "note": ["", "a note", '"two\nlines"', "'-5", " ", "\u2003", '""'],
    "licence": ["L1", "", '"7,1"', "x\u2028y"],
}  # fmt: skip
DAMAGED = {
    "freq_khz": ["", "0", "30000001", "7100.0005", "-1", "+1", "1e3", "٧", "7,1", "7.", ".", "1.2.3",
                 "1" * 17, " "],
    "service": ["", " "],
    "label": ["", "x" * 201, '"a"b', '"open', 'a"b'],
    "region": ["4", "1;;3"],
    "mode": ["usb"],
    "level": ["loud"],
    "hours": ["25"],
    "days": ["monday"],
    "lat": ["91", "x", "1-2"],
    "lon": ["181"],
    "power_kw": ["0", "-1"],
    "note": ['"open, and not closed\nx'],
    "licence": ['q"', "\x1c"],
}  # fmt: skip
LINES = ["", ",,", "  ", ",,,,,,,,,,,,", "a,b", "\u00a0,,,,,,,,,,,,", "freq_khz,service,label"]


def drawn_table(seed: int, rows: int, damage: float) -> bytes:
    """A table of some columns in some order, now and then a damaged cell or line in it."""
    rng = random.Random(seed)
    header = ["freq_khz", "service", "label"] + [
        name for name in SOUND if name not in ("freq_khz", "service", "label") and rng.random() < 0.4
    ]
    rng.shuffle(header)
    end = rng.choice(["\n", "\n", "\r\n", "\r\n", "\r"] if rng.random() < 0.3 else ["\n", "\r\n"])
    multi = rng.random() < 0.3
    lines = [",".join(header)]
    for _ in range(rows):
        cells = []
        for name in header:
            among = [cell for cell in SOUND[name] if multi or "\n" not in cell]
            if name in ("lat", "lon", "power_kw"):
                among = [among[2]] if set(header) >= {"lat", "lon", "power_kw"} else among
            cells.append(rng.choice(DAMAGED[name] if rng.random() < damage else among))
        lines.append(",".join(cells))
        if rng.random() < damage:
            lines.append(rng.choice([*LINES, ",".join(header), ",".join(f'"{name}"' for name in header)]))
        elif rng.random() < 0.05:
            lines.append(rng.choice(["", ",".join(rng.choice(["", " ", "\u00a0", '""']) for _ in header)]))
    mark = b"\xef\xbb\xbf" if rng.random() < 0.1 else b""
    return mark + (end.join(lines) + rng.choice(["", end, end * 2])).encode()


@pytest.mark.long
@given(
    seed=st.integers(0, 2**32),
    rows=st.integers(0, 40),
    damage=st.sampled_from([0.0, 0.0, 0.003, 0.05]),
    sizes=st.sampled_from([(1 << 24, 1 << 14), (256, 64), (64, 1), (4096, 200)]),
)
@settings(max_examples=600, deadline=None)
def test_by_columns_is_cell_by_cell(seed: int, rows: int, damage: float, sizes: tuple[int, int]) -> None:
    """Sound tables and damaged ones, in one block and in blocks of a line or two: one result, one refusal."""
    assert_the_same(drawn_table(seed, rows, damage), *sizes)


def test_the_drawn_tables_are_both_sound_and_refused() -> None:
    """Else the property says nothing of one of them."""
    refused = [assert_the_same(drawn_table(seed, 20, damage)) for seed in range(60) for damage in (0.0, 0.05)]
    assert 0.25 < np.mean(refused) < 0.75


@given(st.data())
@settings(max_examples=400, deadline=None)
def test_any_byte_changed_makes_no_difference_between_the_two(data: st.DataObject) -> None:
    content = bytearray(drawn_table(data.draw(st.integers(0, 2**32)), 8, 0.0))
    for _ in range(data.draw(st.integers(1, 3))):
        at = data.draw(st.integers(0, len(content) - 1))
        content[at : at + data.draw(st.integers(0, 1))] = data.draw(
            st.sampled_from([b'"', b",", b"\n", b"\r", b" ", b"'", b"7", b".", b"-", b"", b"\xc3", b"\0"])
        )
    assert_the_same(bytes(content), 128, 32)


def test_a_fault_costs_the_lines_round_it_and_no_more() -> None:
    """In a large table a remark over two lines, a blank line and a damaged row are read row by row."""
    rows = [f"{7000 + n},amateur,Station {n}" for n in range(4000)]
    rows[1000] = '8000,amateur,"two\nlines"'
    rows[2000] = ""
    data = ("freq_khz,service,label\n" + "\n".join(rows) + "\n").encode()
    assert not assert_the_same(data, 1 << 16, 1 << 10)
    sheet = open_csv("t.csv", known=COLUMNS, data=data)
    by_row = [batch for batch in sheet.blocks(1 << 16, 1 << 10) if not isinstance(batch.columns[0], Column)]
    assert 0 < sum(len(batch.lines) for batch in by_row) < 200
    rows[3000] = "abc,amateur,x"
    assert assert_the_same(("freq_khz,service,label\n" + "\n".join(rows)).encode(), 1 << 16, 1 << 10)


@pytest.mark.parametrize("mixed", [0, 1])
def test_cells_that_meet_in_one_key_are_told_apart(mixed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Keys of long cells are no proof: with a mixer that mixes nothing, texts still keep their rows."""
    monkeypatch.setattr(csvblocks, "_ODD", np.uint64(mixed))
    labels = [
        "aaaaaaaabbbbbbbb",
        "bbbbbbbbaaaaaaaa",
        "aaaaaaaabbbbbbbb",
        "cccccccc" * 3,
        "short",
        "cccccccc" * 4,
    ]
    block = plain_block("".join(f"{label},x\n" for label in labels).encode(), 2)
    assert block is not None
    codes, texts = block.columns[0].distinct()
    assert [texts[code] for code in codes] == labels
    assert len(texts) == 5


@given(
    st.lists(
        st.from_regex(r"[+-]?[0-9]{0,9}\.?[0-9]{0,9}", fullmatch=True)
        | st.text("0123456789.+-e ", min_size=0, max_size=20),
        min_size=1,
        max_size=30,
    ),
    st.sampled_from([0, 3, 6]),
)
@settings(max_examples=300)
def test_digits_read_as_arrays_are_the_numbers_of_their_text(cells: list[str], exponent: int) -> None:
    """Hertz and degrees to the last bit; what is no plain number is left to the parser of one cell."""
    block = plain_block("".join(f"{cell},x\n" for cell in cells).encode(), 2)
    assert block is not None
    digits = block.columns[0].digits()
    hz = headed_hz_of_digits(digits.value, digits.decimals, exponent)
    numbers = numbers_of_digits(digits.value, digits.decimals, digits.sign)
    for at, cell in enumerate(cells):
        if not digits.plain[at]:
            continue
        if digits.value[at] < 1 << 53:
            assert numbers[at] == parse_signed_decimal(cell)
        if digits.sign[at] == 0:
            try:
                expected = headed_hz(cell, exponent)
            except BadValue:
                expected = 0
            assert hz[at] in (expected, 0)
            assert hz[at] == expected or digits.decimals[at] > exponent or digits.value[at] >= 10**12


def test_plain_numbers_are_taken_as_plain() -> None:
    block = plain_block(b'7100,x\n7100.5,x\n-0.25,x\n"12.5",x\n+3,x\n1.,x\n-,x\n,x\n1e3,x\n', 2)
    assert block is not None
    digits = block.columns[0].digits()
    assert digits.plain.tolist() == [True] * 5 + [False] * 4
    assert digits.value[:5].tolist() == [7100, 71005, 25, 125, 3]
    assert digits.decimals[:5].tolist() == [0, 1, 2, 1, 0]
    assert digits.sign[:5].tolist() == [0, 0, -1, 0, 1]


@pytest.mark.parametrize("kinds", [1, 7, 90_000])
def test_texts_are_numbered_in_the_order_in_which_they_appear_however_many(kinds: int) -> None:
    """What takes many cells, and what takes few, number them as a plain dictionary does."""
    rng = np.random.default_rng(kinds)
    keys = rng.integers(0, 2**63, kinds, dtype=np.uint64)[rng.integers(0, kinds, csvblocks._MANY + 1)]
    for some in (keys, keys[: csvblocks._MANY - 1], keys[:0]):
        codes, first = csvblocks.numbered(some)
        seen: dict[int, int] = {}
        assert codes.tolist() == [seen.setdefault(key, len(seen)) for key in some.tolist()]
        assert some[first].tolist() == list(seen)
        assert (np.diff(first) > 0).all()
        assert all(some[:at].tolist().count(int(some[at])) == 0 for at in first[-3:].tolist())

"""The CSV reader takes a sound file as it is and refuses a damaged one with every fault and its line."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from spurplan.csvfile import FaultList, open_csv, read_csv
from spurplan.csvtext import csv_text, guarded, unguarded
from spurplan.errors import BadValue, Refused
from spurplan.units import parse_decimal, parse_signed_decimal

HEADER = "freq_khz,label,note"


def cells_of(text: str | bytes) -> list[tuple[int, tuple[str, ...]]]:
    """Return (line, cells) of every row."""
    read = read_csv("north.csv", data=text.encode() if isinstance(text, str) else text)
    return list(zip(read.lines, zip(*read.columns.values(), strict=True), strict=True))


def refusal(text: str | bytes) -> str:
    """Return what is said of a damaged file."""
    with pytest.raises(Refused) as refused:
        read_csv("north.csv", data=text.encode() if isinstance(text, str) else text)
    return str(refused.value)


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_line_ends_and_byte_order_mark_make_no_difference(end: str, mark: bytes) -> None:
    text = end.join([HEADER, "7100,Süd,", "", '7105,"Nord, alt","a ""b"""', ""])
    assert cells_of(mark + text.encode()) == [
        (2, ("7100", "Süd", "")),
        (4, ("7105", "Nord, alt", 'a "b"')),
    ]


def test_a_missing_last_line_end_makes_no_difference() -> None:
    assert cells_of(f"{HEADER}\n1,a,b") == cells_of(f"{HEADER}\n1,a,b\n")


def test_rows_are_counted_by_physical_line() -> None:
    """Blank lines, ",,," lines and a remark over two lines move the count as an editor shows it."""
    text = f'\n{HEADER}\n\n1,a,x\n,,\n  ,\t,\n2,b,"two\nlines"\n3,c,z\n'
    read = read_csv("north.csv", data=text.encode())
    assert read.lines == [4, 7, 9]
    assert read.blank_lines == 4
    assert read.columns["note"] == ["x", "two\nlines", "z"]


def test_line_separators_of_other_scripts_do_not_end_a_line() -> None:
    """U+2028, form feed and vertical tab may stand in a label."""
    assert cells_of(f"{HEADER}\n1,a\u2028b\x0bc\x0cd\x85e,x\n") == [
        (2, ("1", "a\u2028b\x0bc\x0cd\x85e", "x"))
    ]


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "north.csv: is empty"),
        (b"\xef\xbb\xbf", "north.csv: is empty"),
        (b"\n\n,,\n", "north.csv: is empty"),
        (f"{HEADER}\n".encode(), "north.csv: has a header and no rows"),
        (f"{HEADER}\n\n,,\n".encode(), "north.csv: has a header and no rows"),
        (f"{HEADER}\n1,a,b\n".encode("utf-16"), "is UTF-16 or UTF-32; save it as UTF-8"),
        (f"{HEADER}\n1,a,b\n".encode("utf-16-le"), "is UTF-16 or UTF-32; save it as UTF-8"),
        (f"{HEADER}\n1,a,b\n".encode("utf-32"), "is UTF-16 or UTF-32; save it as UTF-8"),
        (f"{HEADER}\n1,Süd,b\n".encode("latin-1"), "row 2: is not UTF-8 (byte 0xfc); save the file as UTF-8"),
        (f"{HEADER}\r\n1,a,\r\n2,S\xfcd,\r\n".encode("cp1252"), "row 3: is not UTF-8 (byte 0xfc)"),
        (f"{HEADER}\n1,a\0,b\n".encode(), "row 2: holds a NUL byte"),
        (
            f"{HEADER}\n1,a,b\n".replace(",", ";").encode(),
            "is separated by semicolons; save it separated by commas",
        ),
        (
            f"{HEADER}\n1,a,b\n".replace(",", "\t").encode(),
            "is separated by tabs; save it separated by commas",
        ),
        (b"a,b,a\n1,2,3\n", 'row 1: "a" is the name of two columns'),
        (b"a,b, A \n1,2,3\n", 'row 1: "a" is the name of two columns'),
        (b"a,b,\n1,2,\n", "row 1: column 3 has no name"),
        (f"{HEADER}\n1,a,b\n{HEADER}\n2,a,b\n".encode(), "row 3: is the header again"),
        (f"{HEADER}\n1,a\n".encode(), "row 2: has 2 cells where the header has 3"),
        (f"{HEADER}\n1,a,b,c\n".encode(), "row 2: has 4 cells where the header has 3"),
        (f'{HEADER}\n1,"a"b,c\n'.encode(), "row 2: goes on after a closing quote"),
        (f"{HEADER}\n1,{'a' * 200_000},c\n".encode(), "row 2: has a cell longer than 131,072 characters"),
    ],
)
def test_a_damaged_file_is_refused_with_place_and_rule(content: bytes, said: str) -> None:
    assert said in refusal(content)


@pytest.mark.parametrize(
    ("rows", "line"),
    [
        ('1,a,b\n2,"a,b\n3,a,b\n4,a,b\n', 3),  # to the end of the file
        ('1,a,b\n2,a,"b\n3,a,b\n4,a,b"\n5,a,b\n', 3),  # met by another one: rows would be inside a cell
        ('1,a,b\n2,"a,b\n3,a",b\n4,a,b\n', 3),  # the same in the middle, with the right number of cells
        ('1,a,b\n2,"a,b\n' + "3,a,b\n" * 40_000, 3),  # longer than the reader's longest cell
        ('1,a,b\n2,a,"b\n3,"a",b\n4,a,b\n', 3),  # met by a sound quote
    ],
)
def test_an_unclosed_quote_does_not_swallow_rows(rows: str, line: int) -> None:
    """The line named is the one the quote was opened on."""
    assert f"north.csv, row {line}: opens a quote that is not closed" in refusal(f"{HEADER}\n{rows}")


def test_all_faults_are_told_at_once_the_first_twenty_in_full() -> None:
    rows = "".join(f"{number},a\n" if number % 2 else f"{number},a,b\n" for number in range(2, 102))
    text = refusal(f"{HEADER}\n{rows}")
    lines = text.splitlines()
    assert len(lines) == 21
    assert lines[0].startswith("north.csv, row 3: has 2 cells")
    assert lines[19].startswith("north.csv, row 41: has 2 cells")
    assert lines[20] == "50 faults in all, the first 20 shown"


def test_a_fault_list_keeps_the_first_lines_whatever_the_order() -> None:
    from spurplan.errors import Fault

    faults = FaultList(3)
    for line in [*range(500, 100, -1), 7, 5, 9, *range(100, 10, -1)]:
        faults.add(Fault(str(line), "wrong"), line)
    assert [fault.place for fault in faults.faults] == ["5", "7", "9"]
    assert faults.total == 493


def test_a_missing_column_is_named_with_a_near_one() -> None:
    with pytest.raises(Refused, match=r'row 1: has no column attenuation_db; did you mean "attenuated_db"'):
        read_csv("c.csv", ("freq_khz", "attenuation_db"), data=b"freq_khz,attenuated_db\n1,2\n")


def test_header_names_are_trimmed_and_lower_case() -> None:
    assert read_csv("c.csv", data=b" Freq_kHz ,LABEL\n1,a\n").header == ("freq_khz", "label")


def test_files_are_named_as_they_were_given(tmp_path: Path) -> None:
    path = tmp_path / "north.csv"
    path.write_text(f"{HEADER}\n1,a\n")
    with pytest.raises(Refused) as refused:
        read_csv(path)
    assert refused.value.faults[0].place == f"{path}, row 2"


def test_faults_carry_place_and_value_for_programs() -> None:
    faults = FaultList()
    read = read_csv("c.csv", data=b"a\n1\n1,5\n".replace(b"1,5", b'"1,5"'))
    assert read.parsed("a", parse_decimal, faults) == [1.0, None]
    (fault,) = faults.faults
    assert (fault.place, fault.value) == ("c.csv, row 3, column a", "1,5")
    assert fault.remedy == "write decimals with a point, as 1.5"


@pytest.mark.parametrize("text", ["1e5", "nan", "inf", "1_000", "٣", "1 000", "1,5", "", "0x1", "1.", "½"])
def test_numbers_are_plain_ascii_digits(text: str) -> None:
    for parse in (parse_decimal, parse_signed_decimal):
        with pytest.raises(BadValue, match="is not a number"):
            parse(text)


def test_signs_only_where_they_are_allowed() -> None:
    assert parse_signed_decimal("-3.5") == -3.5
    assert parse_signed_decimal("+.5") == 0.5
    assert parse_decimal("3.5") == 3.5
    with pytest.raises(BadValue, match=r'"-3.5" has a sign'):
        parse_decimal("-3.5")


cells = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=12)
tricky = st.sampled_from(
    ["=1+1", "'=1", "''=1", "-53 dBm", "+3", "@x", "\tx", "'", "''", "'x", 'a"b', "a,b", " x ", ""]
)


@given(st.one_of(cells, tricky))
@example("'=x")
def test_taking_the_apostrophe_off_gives_back_what_was_written(text: str) -> None:
    assert unguarded(guarded(text)) == text


def test_only_what_a_spreadsheet_would_calculate_gets_an_apostrophe() -> None:
    assert [guarded(text) for text in ("=a", "+a", "-a", "@a", "\ta")] == ["'=a", "'+a", "'-a", "'@a", "'\ta"]
    assert [guarded(text) for text in ("a", "a=", "", "'tis", "1")] == ["a", "a=", "", "'tis", "1"]


@given(st.lists(st.tuples(st.one_of(cells, tricky), st.one_of(cells, tricky)), min_size=1, max_size=8))
@settings(max_examples=300, deadline=None)
def test_what_is_written_is_read_back(rows: list[tuple[str, str]]) -> None:
    """Any text in two columns comes back, but for blanks round it and rows of nothing but blanks."""
    # one column more than text has, so that no text over several lines looks like rows
    text = csv_text(["k", *"abcdefghijlm", "x", "y"], [[n, *[None] * 12, *row] for n, row in enumerate(rows)])
    read = read_csv("a.csv", data=text.encode())
    assert read.columns["k"] == [str(n) for n in range(len(rows))]
    assert list(zip(read.columns["x"], read.columns["y"], strict=True)) == [
        (a.strip(), b.strip()) for a, b in rows
    ]


def test_numbers_are_written_without_apostrophe_and_none_is_empty() -> None:
    assert csv_text(["a", "b", "c"], [[-1, -2.5, None]]) == "a,b,c\n-1,-2.5,\n"


@given(st.binary(max_size=60) | st.text("ab,\"\n\r;'= ü", max_size=60).map(str.encode))
@settings(max_examples=500, deadline=None)
def test_any_bytes_are_read_or_refused(content: bytes) -> None:
    """Whatever the bytes, either a table comes out or a refusal, nothing else."""
    read, refused = None, None
    try:
        read = read_csv("any.csv", data=content)
    except Refused as said:
        refused = said
    assert (read is not None and len(read) >= 1) or (refused is not None and refused.total >= 1)


@given(st.lists(st.lists(st.text('ab"\n, ü1', max_size=6), min_size=3, max_size=3), min_size=1, max_size=8))
@settings(max_examples=300, deadline=None)
def test_a_sound_file_is_read_as_the_standard_module_reads_it(rows: list[list[str]]) -> None:
    """Where nothing is refused, cells and their number are those of the csv module."""
    out = io.StringIO(newline="")
    csv.writer(out).writerows([["p", "q", "r"], *rows])
    try:
        read = read_csv("a.csv", data=out.getvalue().encode())
    except Refused as refused:
        assert "opens a quote" in str(refused) or "no rows" in str(refused)  # noqa: PT017
        return
    expected = [row for row in rows if any(cell.strip() for cell in row)]
    assert list(zip(*read.columns.values(), strict=True)) == [
        tuple(c.strip() for c in row) for row in expected
    ]


def test_batches_cut_nothing(tmp_path: Path) -> None:
    """Ten thousand rows in batches of any size are the same rows."""
    data = (HEADER + "\n" + "".join(f"{n},l{n % 7},\n" for n in range(10_000))).encode()
    for size in (1, 999, 1024, 20_000):
        sheet = open_csv("a.csv", data=data)
        lines, first = [], []
        for batch in sheet.batches(size):
            lines += batch.lines
            first += batch.columns[0]
        assert lines == list(range(2, 10_002))
        assert first == [str(n) for n in range(10_000)]

"""How somebody's list is written: found out from the list itself.

What can be read in one way only is taken so and told; what can not be is asked for, with
a proposal. Nothing here looks at a single row's worth: that is for the reader of band tables.
"""

from __future__ import annotations

import codecs
import csv
import io
import re
import unicodedata
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from spurplan.errors import Fault, Refused, quoted
from spurplan.extras import need
from spurplan.occupancy.band_rows import SERVICES
from spurplan.occupancy.hours import DAYS
from spurplan.tomlfile import shipped_toml

# The exponents of what a frequency may be given in; kilocycles and megacycles are what old lists have.
UNITS = {"hz": 0, "khz": 3, "mhz": 6, "ghz": 9}
_OLD_UNITS = {"kc": "khz", "kcs": "khz", "mc": "mhz", "mcs": "mhz"}
_POWER_UNITS = ("kw", "w", "mw")
_DELIMITERS = (";", "\t", "|", ",")
# rows that are looked at to find out how a list is written, and lines that may stand above its heads
_LOOKED_AT = 2_000
_MOST_ABOVE = 30

_WORKBOOK = b"PK\x03\x04"
_OLD_WORKBOOK = b"\xd0\xcf\x11\xe0"
_WIDE = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_NUMBER = re.compile(r"[0-9][0-9.,'\u2019\u00a0\u202f ]*")
_BLANKS = re.compile(r"(?<=[0-9])['\u2019\u00a0\u202f ](?=[0-9]{3}(?![0-9]))")
_GROUPS = {mark: re.compile(rf"[1-9][0-9]{{0,2}}(?:{re.escape(mark)}[0-9]{{3}})+") for mark in ".,"}
_HOUR = r"(?:([0-9]{2}):?([0-9]{2})|([0-9]{1,2})(?:[.h]([0-9]{2})|h?))"
_HOURS = re.compile(rf"{_HOUR}\s*[-\u2013]\s*{_HOUR}\s*(?:utc|gmt|ut|z|h)?", re.IGNORECASE)
_SEVERAL_HOURS = re.compile(r"[,;/+&]")
_HOURS_ALL_DAY = ("h24", "24h", "24 h", "24/7", "24 hours", "24 std")
# a frequency as it stands in a cell, perhaps with a unit of its own; two of them are a range
_QUANTITY = r"([0-9][0-9.,'\u2019\u00a0\u202f ]*?)\s*([kmg]?hz|[km]c/?s?)?"
_RANGE = re.compile(rf"{_QUANTITY}\s*(?:-|\u2013|\u2014|\u2026|to\b|bis\b)\s*{_QUANTITY}", re.IGNORECASE)
_ONE = re.compile(_QUANTITY, re.IGNORECASE)

_TIME = re.compile(
    r"(?:([0-9]{1,2})[:.h]([0-9]{2})(?::[0-9]{2})?|([0-9]{1,4}))\s*(?:utc|gmt|z|h)?", re.IGNORECASE
)
# the ends of a span of hours that stand in columns of their own
TIMES = ("start", "end")

Line = tuple[int, list[str] | Fault]


class Unclear(Refused):
    """A list that can be read in several ways, or in none: with what is proposed.

    Attributes
    ----------
    columns : mapping as that of `import_list`: what was told and what is proposed; heads known by
        their words need not be.
    unit : str or None. What is proposed.
    decimal_comma : bool or None.
    """

    def __init__(
        self,
        faults: Sequence[Fault],
        columns: Mapping[str, str],
        unit: str | None = None,
        decimal_comma: bool | None = None,
    ) -> None:
        super().__init__(faults)
        self.columns = dict(columns)
        self.unit = unit
        self.decimal_comma = decimal_comma

    def __reduce__(self) -> tuple[type[Unclear], tuple[object, ...]]:  # type: ignore[override]
        return type(self), (self.faults, self.columns, self.unit, self.decimal_comma)


@dataclass(frozen=True)
class Form:
    """How a list is written.

    Attributes
    ----------
    encoding, delimiter : str. "" for a workbook.
    head_line : int. Physical line of its heads.
    unit : str. Of its frequencies: Hz, kHz, MHz or GHz.
    decimal_comma : bool. Whether 7,1 means 7.1.
    columns : dict as that of `import_list`, those found among them.
    inferred : frozenset of str. Which of these were found out and not told.
    """

    encoding: str
    delimiter: str
    head_line: int
    unit: str
    decimal_comma: bool
    columns: Mapping[str, str]
    inferred: frozenset[str]


# --- text and lines -----------------------------------------------------------------------------


def encoding_of(data: bytes) -> str:
    """Return the encoding of a text: by its mark, by NULs where letters should be, by trial.

    Notes
    -----
    UTF-8 is told from anything else by its form. What is not UTF-8 is taken for cp1252, the
    commonest of the single-byte encodings, which nothing tells from its neighbours.
    """
    for mark, name in _WIDE:
        if data.startswith(mark):
            return name
    head = data[:4096]
    if head[1::2].count(0) * 3 > len(head):
        return "utf-16-le"
    if head[::2].count(0) * 3 > len(head):
        return "utf-16-be"
    for name in ("utf-8", "cp1252"):
        try:
            data.decode(name)
        except UnicodeDecodeError:
            continue
        return name
    return "latin-1"


def delimiter_of(name: str, text: str) -> str:
    """Return what stands between the cells: what splits most lines into the same number of cells.

    Raises
    ------
    Refused  for a text that nothing splits.
    """
    scores = {}
    head = "".join(text.splitlines(keepends=True)[:_LOOKED_AT])
    for mark in _DELIMITERS:
        rows = (cells for _, cells in records(name, head, mark) if not isinstance(cells, Fault))
        widths = Counter(len(cells) for cells in rows if len(cells) > 1)
        if widths:
            width, count = widths.most_common(1)[0]
            scores[mark] = count * (width - 1)
    if not scores:
        remedy = "its cells want commas, semicolons or tabs between them: name another delimiter"
        raise Refused(Fault(name, "has one column", remedy=remedy))
    return max(scores, key=lambda mark: scores[mark])


def records(name: str, text: str, delimiter: str) -> Iterator[Line]:
    """Yield (line, cells) of every line that is not blank, a fault where it can not be read."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    last = 0
    while True:
        line = last + 1
        try:
            row = next(reader)
        except StopIteration:
            return
        except csv.Error as bad:
            last = reader.line_num
            yield line, Fault(f"{name}, row {line}", f"can not be read: {bad}", remedy="mend its quotes")
            continue
        last = reader.line_num
        if "".join(row).strip():
            yield line, row


def is_workbook(data: bytes) -> bool:
    """Return whether a file is a spreadsheet's own and no text."""
    return data.startswith((_WORKBOOK, _OLD_WORKBOOK))


def workbook_lines(name: str, data: bytes) -> list[Line]:
    """Return (line, cells) of the first sheet of a workbook that holds anything.

    Raises
    ------
    Refused  where the library for it is not installed, or can not read it; both say how to save it.
    """
    remedy = "in the spreadsheet choose Save as, CSV UTF-8, and name that file"
    need(("openpyxl",), name, otherwise=remedy)
    from openpyxl import load_workbook

    try:
        book = load_workbook(io.BytesIO(data), read_only=True, data_only=True)
        sheets = [[list(row) for row in sheet.iter_rows(values_only=True)] for sheet in book.worksheets]
    except Exception as bad:  # a damaged archive fails in as many ways as it has parts
        rule = "is a workbook of a kind that can not be read"
        raise Refused(Fault(name, rule, remedy=remedy)) from bad
    for rows in sheets:
        texts = [(number, [_cell_text(cell) for cell in row]) for number, row in enumerate(rows, 1)]
        filled: list[Line] = [(number, row) for number, row in texts if any(row)]
        if filled:
            return filled
    return []


def _cell_text(cell: object) -> str:
    if cell is None:
        return ""
    # a spreadsheet knows no whole numbers: 7100 comes as 7100.0
    return str(int(cell)) if isinstance(cell, float) and cell.is_integer() else str(cell)


def head_at(name: str, lines: Sequence[Line]) -> int:
    """Return which line has the heads: the first one as wide as most, of words and no numbers.

    Raises
    ------
    Refused  where there is none.
    """
    wide = Counter(len(cells) for _, cells in lines[:_LOOKED_AT] if isinstance(cells, list))
    if not wide:
        raise Refused(lines[0][1] if lines and isinstance(lines[0][1], Fault) else Fault(name, "is empty"))
    width = wide.most_common(1)[0][0]
    for at, (_, cells) in enumerate(lines[:_MOST_ABOVE]):
        if not isinstance(cells, list) or len(cells) != width:
            continue
        filled = [cell for cell in cells if cell.strip()]
        if 2 * len(filled) > width and not any(_NUMBER.fullmatch(cell.strip()) for cell in filled):
            return at
    remedy = "write a line above its rows that names them, such as freq,service,label"
    raise Refused(Fault(name, "has no line that names its columns", remedy=remedy))


# --- columns ------------------------------------------------------------------------------------


@cache
def _words(kind: str) -> dict[str, str]:
    """Return our name for each word of the heads, or of the services."""
    shipped = shipped_toml("list_heads.toml")[kind]
    words = {bare(ours): ours for ours in shipped}
    return {bare(word): ours for ours, theirs in shipped.items() for word in theirs} | words


def bare(text: str) -> str:
    """Return a text without accents, capitals and marks, its words apart by one blank."""
    split = unicodedata.normalize("NFKD", text.casefold())
    return " ".join(re.findall(r"[a-z0-9]+", "".join(c for c in split if not unicodedata.combining(c))))


def head_unit(head: str) -> str:
    """Return the unit that a head names, "" for none."""
    for word in reversed(bare(head).split()):
        unit = _OLD_UNITS.get(word, word)
        if unit in UNITS or unit in _POWER_UNITS:
            return unit
    return ""


def _without_unit(head: str) -> str:
    units = (*UNITS, *_OLD_UNITS, *_POWER_UNITS)
    return " ".join(word for word in bare(head).split() if word not in units)


def by_heads(head: Sequence[str], given: Mapping[str, str]) -> dict[str, str]:
    """Return our columns by the words of their heads: those given, and those known besides."""
    columns = dict(given)
    for theirs in head:
        unit, rest = head_unit(theirs), _without_unit(theirs)
        known = _words("heads").get(rest)
        ours = known or ("freq" if unit in UNITS and not rest else None) or _time_of(rest) or _hours_of(rest)
        if ours and ours not in columns and theirs not in columns.values() and head.count(theirs) == 1:
            columns[ours] = theirs
    # a span has both its ends, and one column of whole spans is as good
    if "hours" in columns or not set(TIMES) <= set(columns):
        for end in TIMES:
            if end not in given:
                columns.pop(end, None)
    if {"low", "high"} <= set(columns) and "freq" not in given:
        columns.pop("freq", None)
    elif "freq" in columns and not {"low", "high"} & set(given):
        columns.pop("low", None)
        columns.pop("high", None)
    return columns


def _time_of(rest: str) -> str | None:
    """Return "start" or "end" for the bare head of a column of times; None for any other."""
    times = shipped_toml("list_heads.toml")["times"]
    without = _without_zone(rest)
    return next((ours for ours in TIMES if without in times[ours]), None)


def _hours_of(rest: str) -> str | None:
    """Return "hours" for a head of hours that names a time zone beside; None for any other."""
    return "hours" if _words("heads").get(_without_zone(rest)) == "hours" else None


def _without_zone(rest: str) -> str:
    zones = shipped_toml("list_heads.toml")["times"]["zones"]
    return " ".join(word for word in rest.split() if word not in zones)


def are_hours(cells: Sequence[str]) -> bool:
    """Return whether most of what stands in a column is spans of hours."""
    filled = [cell for cell in map(str.strip, cells) if cell]
    return 2 * sum(plain_hours(cell) != cell or bool(_HOURS.fullmatch(cell)) for cell in filled) >= len(
        filled
    )


def by_contents(
    head: Sequence[str], body: Sequence[Sequence[str]], columns: Mapping[str, str]
) -> dict[str, str]:
    """Return a proposal for frequency, service and label where no head says them."""
    free = [at for at, theirs in enumerate(head) if theirs and theirs not in columns.values()]
    cells = {at: [row[at].strip() for row in body if row[at].strip()] for at in free}
    proposed: dict[str, str] = {}

    def share(at: int, fits: re.Pattern[str]) -> float:
        return sum(bool(fits.fullmatch(cell)) for cell in cells[at]) / max(1, len(cells[at]))

    numbers = [at for at in free if cells[at] and max(share(at, _ONE), share(at, _RANGE)) > 0.8]
    texts = [at for at in free if cells[at] and at not in numbers and share(at, _HOURS) < 0.5]
    if "freq" not in columns and not {"low", "high"} <= set(columns) and numbers:
        proposed["freq"] = head[max(numbers, key=lambda at: len(set(cells[at])))]
    if "service" not in columns:
        for at in texts:
            if 2 * sum(service_of(cell) in SERVICES for cell in cells[at]) > len(cells[at]):
                proposed["service"] = head[at]
                break
    left = [at for at in texts if head[at] not in proposed.values()]
    if "label" not in columns and left:
        proposed["label"] = head[max(left, key=lambda at: (len(set(cells[at])), sum(map(len, cells[at]))))]
    return proposed


def service_of(text: str) -> str:
    """Return one of our services for a word of a list, the word itself where none is meant."""
    return _words("services").get(bare(text), text)


def mode_of(text: str) -> str:
    """Return one of our modes for a word of a list, the word itself where none is meant."""
    return _words("modes").get(bare(text), text)


# --- numbers ------------------------------------------------------------------------------------


def decimal_marks(cells: Sequence[str]) -> tuple[str, ...]:
    """Return which of . and , may be the decimal mark of a column: one where it shows, else both."""
    seen = set()
    doubtful = False
    for number in (number for cell in cells for number, _ in frequencies_in(cell)):
        text = _BLANKS.sub("", number.strip())
        if not _NUMBER.fullmatch(text):
            continue
        last = max(text.rfind("."), text.rfind(","))
        if last < 0:
            continue
        mark = text[last]
        other = "," if mark == "." else "."
        if other in text or not _GROUPS[mark].fullmatch(text):
            seen.add(mark)
        elif text.count(mark) > 1:
            seen.add(other)  # nothing has two decimal marks
        else:
            doubtful = True
    if len(seen) == 1:
        return tuple(seen)
    return (".", ",") if doubtful or seen else (".",)


def frequencies_in(cell: str) -> list[tuple[str, str]]:
    """Return (number, unit) of the frequency in a cell, or of both ends of a range; no unit as "".

    Notes
    -----
    "148.5-283.5 kHz" gives its unit to both. What is neither is one number that no reader takes.
    """
    text = cell.strip()
    match = _RANGE.fullmatch(text)
    if match:
        low_unit, high_unit = (_unit_of(match[2] or match[4]), _unit_of(match[4] or match[2]))
        return [(match[1], low_unit), (match[3], high_unit)]
    match = _ONE.fullmatch(text)
    return [(match[1], _unit_of(match[2]))] if match else [(text, "")]


def is_range(cell: str) -> bool:
    """Return whether a cell holds both ends of a range of frequencies."""
    return _RANGE.fullmatch(cell.strip()) is not None


def _unit_of(text: str | None) -> str:
    unit = (text or "").lower().replace("/", "")
    return _OLD_UNITS.get(unit, unit)


def plain_number(text: str, mark: str) -> str:
    """Return a number as we write it: a point for the decimal mark, thousands not grouped.

    Parameters
    ----------
    mark : str. The decimal mark of the list.

    Notes
    -----
    What is no number so written is returned as it is, for the reader to refuse.
    """
    other = "," if mark == "." else "."
    bare_text = _BLANKS.sub("", text)
    whole, point, fraction = bare_text.partition(mark)
    if other in whole and _GROUPS[other].fullmatch(whole):
        whole = whole.replace(other, "")
    made = whole + ("." if point else "") + fraction
    return made if re.fullmatch(r"[+-]?[0-9]*\.?[0-9]+", made) else text


def plain_hours(text: str) -> str:
    """Return hours as we write them, "1800-2200", from 18:00-22:00, 18-22 or h24; anything else as it is."""
    if bare(text) in map(bare, _HOURS_ALL_DAY):
        return "0000-2400"
    spans = [_HOURS.fullmatch(part.strip()) for part in _SEVERAL_HOURS.split(text)]
    return ";".join(_plain_span(span) for span in spans if span) if all(spans) else text


def _plain_span(span: re.Match[str]) -> str:
    ends = (span.groups()[:4], span.groups()[4:])
    return "-".join((hour or short).zfill(2) + (minute or late or "00") for hour, minute, short, late in ends)


def hours_between(start: str, end: str) -> str:
    """Return the span between two times as we write it, "1800-2200", from 18:00 and 22:00, or 1800 and 2200.

    Notes
    -----
    What has one end only, or is no time, is put together as it stands, for the reader to refuse.
    """
    return f"{_plain_time(start)}-{_plain_time(end)}" if start or end else ""


def _plain_time(text: str) -> str:
    match = _TIME.fullmatch(text)
    if match is None:
        return text
    # a spreadsheet writes 0700 as 700, and midnight as 0
    return match[3].zfill(4) if match[3] else f"{match[1].zfill(2)}{match[2]}"


# --- days ---------------------------------------------------------------------------------------

_DIGIT_DAYS = re.compile(r"[1-7](?:[\s,;/+&-]*[1-7])*")
_DIGIT_PLACES = re.compile(r"[1-7.\-_0]{7}")
_DAY_PARTS = re.compile(r"[,;/+&]|\s+")


@cache
def _day_words() -> dict[str, dict[str, str]]:
    """Return, of each language of the data file, our days for its words: "mon", or "mon-fri"."""
    return {
        language: {bare(word): ours for ours, theirs in words.items() for word in theirs}
        for language, words in shipped_toml("list_heads.toml")["days"].items()
    }


def days_of(cells: Sequence[str]) -> dict[str, str | None]:
    """Return the days in the cells of a column as we write them, "mon-fri;sun"; None for what is no day.

    Notes
    -----
    Digits count from Monday, 1 to 7 (ISO 8601). "Di" is Tuesday to one and Sunday to another: the
    languages that read most of the column decide, then all others, and where they differ a cell
    stays unread.
    """
    texts = dict.fromkeys(cells)
    read = {
        language: {text: _days_in(text, words) for text in texts} for language, words in _day_words().items()
    }
    by_count = [(sum(days is not None for days in by_text.values()), by_text) for by_text in read.values()]
    most = max(count for count, _ in by_count)
    likely = [by_text for count, by_text in by_count if count == most]
    out: dict[str, str | None] = {}
    for text in texts:
        meanings = {by_text[text] for by_text in likely} - {None}
        meanings = meanings or {by_text[text] for by_text in read.values()} - {None}
        out[text] = meanings.pop() if len(meanings) == 1 else None
    return out


def _days_in(text: str, words: Mapping[str, str]) -> str | None:
    """Return the days of one cell by the words of one language."""
    if not text:
        return ""
    whole = words.get(bare(text))
    if whole:
        return whole
    if _DIGIT_PLACES.fullmatch(text) and all(
        mark in ".-_0" or int(mark) == at for at, mark in enumerate(text, 1)
    ):
        return ";".join(DAYS[at] for at, mark in enumerate(text) if mark not in ".-_0")
    if _DIGIT_DAYS.fullmatch(text):
        spelt = re.sub(r"[1-7]", lambda digit: DAYS[int(digit[0]) - 1] + ";", text)
        text, words = re.sub(r";\s*-\s*", "-", spelt), {day: day for day in DAYS}
    # "Mo - Fr", "Mo to Fr" and "Mo.-Fr." are one part each
    text = re.sub(r"\s*(?:-|\u2013|\b(?:to|bis|thru|through)\b)\s*", "-", text.replace(".", " ").strip())
    text = re.sub(r"\s+-|-\s+", "-", text)
    text = re.sub(r"\b(?:and|und|et|y)\b", ";", text)
    parts: list[str] = []
    for part in filter(None, _DAY_PARTS.split(text)):
        first, dash, last = part.partition("-")
        ends = [_days_of_word(first, words), _days_of_word(last, words) if dash else ""]
        if None in ends or (dash and any("-" in (end or "") or ";" in (end or "") for end in ends)):
            return None
        parts.append("-".join(filter(None, ends)))
    return ";".join(parts) or None


def _days_of_word(word: str, words: Mapping[str, str]) -> str | None:
    """Return the days of one word, of "SaSu" both."""
    bared = bare(word)
    if bared in words:
        return words[bared]
    pairs = [bared[at : at + 2] for at in range(0, len(bared), 2)]
    return ";".join(words[pair] for pair in pairs) if pairs and all(pair in words for pair in pairs) else None


def columns_shown(head: Sequence[str]) -> str:
    """Return the heads of a list in words."""
    return "its columns: " + ", ".join(quoted(theirs, 30) for theirs in head[:20] if theirs)

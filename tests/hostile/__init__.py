"""Hypothesis strategies for what people and broken programs hand in: one place for all fuzz.

`damaged(text)` takes something sound and breaks it; `tables(...)` makes CSV out
of columns and cells, sound ones and others; `values()` is anything TOML can
hold; `command_lines(...)` writes the words of a command line by the options
that each command really has, and now and then something else. Sound receivers
are drawn by `receiver_strategies.receivers`.

`hold(rule, examples, ...)` runs a rule on examples; `examples(quick, long)`
makes of a test one for always and several marked `long`. All long ones together
make more than 100,000 examples.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from spurplan.cli.app import load
from spurplan.cli.commands import COMMANDS
from spurplan.cli.options import FailOn, Format

# a long test is run in parts, each of which draws anew: so one part can have its turn
PARTS = 20


def examples(quick: int, long: int) -> pytest.MarkDecorator:
    """Run a test with a parameter `count` on a few examples always, on many when asked to, in parts."""
    parts = [
        pytest.param(long // PARTS, marks=pytest.mark.long, id=f"long-{part}") for part in range(1, PARTS + 1)
    ]
    return pytest.mark.parametrize("count", [pytest.param(quick, id="quick"), *parts])


def hold(rule: Callable[..., None], count: int, *strategies: st.SearchStrategy[Any]) -> None:
    """Hold `rule` on `count` drawn examples."""
    unhurried = settings(
        max_examples=count, deadline=None, suppress_health_check=list(HealthCheck), print_blob=True
    )
    unhurried(given(*strategies)(rule))()


# --- text ---------------------------------------------------------------------------------------

# What trips readers: quotes, ends of lines, numbers that are none, markup, marks that turn text round,
# other digits, terminal sequences, surrogates' neighbours, things longer than anyone expects.
PIECES = (
    "", " ", "\n", "\r", "\r\n", ",", ";", "\t", '"', '""', "'", "=", "[", "]", "{", "}", "#", ":", "|",
    "<b>", "&amp;", "0", "-1", "+1", "1e3", "1e400", "nan", "inf", "-0", "0.1", "00014", "9" * 40, "1_000",
    "٣", "½", "1,5", "0x10", "true", "null", "1979-05-27", "'''", '"""', "\\u0000", "\\", "\x00", "\x01",
    "\x1b[31m", "\x1b]0;t\x07", "\x7f", "\x85", "\u2028", "\ufeff", "\u202e", "\u200f", "\u0301", "é", "ß",
    "𝔛", "漢", "\ue000", "=1+1", "@x", "%s", "{0}", "${HOME}", "0 Hz", "1 GHz", "30 GHz", "1 Hz", "S9",
    "S9+20", "S", "-53 dBm", "3 dB", "1e9 dB", "14.2MHz", "14M2", "465k", "mHz", "[[range]]",
    "[conversion]", "[[conversion]]", "[mixer]", "if", "mon-fri", "2400-0000", "1800-2200", "1;3", "W",
    "x" * 300,
)  # fmt: skip

ANY_TEXT = st.sampled_from(PIECES) | st.text(max_size=12)


@st.composite
def damaged(draw: st.DrawFn, sound: st.SearchStrategy[str]) -> bytes:
    """Sound text after some accidents: pieces put in or taken out, lines doubled, swapped or cut off."""
    text = draw(sound)
    for _ in range(draw(st.integers(1, 4))):
        text = draw(st.sampled_from(_ACCIDENTS))(draw, text)
    data = text.encode("utf-8", "surrogatepass")
    if draw(st.integers(0, 15)) == 0:
        data = draw(st.sampled_from(_ENCODINGS))(draw, text, data)
    return data


def _spliced(draw: st.DrawFn, text: str) -> str:
    start = draw(st.integers(0, len(text)))
    return text[:start] + draw(ANY_TEXT) + text[start + draw(st.integers(0, 30)) :]


def _line_moved(draw: st.DrawFn, text: str) -> str:
    lines = text.splitlines(keepends=True) or [""]
    line = lines.pop(draw(st.integers(0, len(lines) - 1)))
    for _ in range(draw(st.integers(0, 2))):
        lines.insert(draw(st.integers(0, len(lines))), line)
    return "".join(lines)


def _cell_changed(draw: st.DrawFn, text: str) -> str:
    lines = text.split("\n")
    at = draw(st.integers(0, len(lines) - 1))
    mark = draw(st.sampled_from([",", "=", '"', " "]))
    cells = lines[at].split(mark)
    cells[draw(st.integers(0, len(cells) - 1))] = draw(ANY_TEXT)
    lines[at] = mark.join(cells)
    return "\n".join(lines)


def _cut_off(draw: st.DrawFn, text: str) -> str:
    return text[: draw(st.integers(0, len(text)))]


_ACCIDENTS = (_spliced, _spliced, _cell_changed, _cell_changed, _cell_changed, _line_moved, _cut_off)
_ENCODINGS: tuple[Callable[[st.DrawFn, str, bytes], bytes], ...] = (
    lambda draw, text, data: b"\xef\xbb\xbf" + data,
    lambda draw, text, data: text.encode("utf-16", "surrogatepass"),
    lambda draw, text, data: text.encode("latin-1", "replace") + b"\xe9",
    lambda draw, text, data: data[: len(data) // 2] + draw(st.binary(max_size=4)) + data[len(data) // 2 :],
    lambda draw, text, data: data.replace(b"\n", b"\r\n"),
    lambda draw, text, data: data.replace(b"\n", b"\r"),
)


def values() -> st.SearchStrategy[Any]:
    """Anything that a key of a TOML file can hold."""
    plain = st.none() | st.booleans() | st.integers() | st.floats() | ANY_TEXT | st.dates() | st.times()
    keys = st.sampled_from(["q", "circuits", "if", "name", "trap", "curve"])
    return st.recursive(
        plain,
        lambda inner: st.lists(inner, max_size=3) | st.dictionaries(keys, inner, max_size=3),
        max_leaves=5,
    )


# --- tables -------------------------------------------------------------------------------------

HERTZ = st.integers(1, 40_000_000_000)
KHZ = st.one_of(
    st.integers(1, 31_000).map(str),
    HERTZ.map(lambda hz: f"{hz // 1000}.{hz % 1000:03d}"),
    st.sampled_from(["465", "14200", "30000000", "0", "0.0001"]),
)
DB = st.one_of(st.integers(-200, 200).map(str), st.floats(-200, 200).map(lambda db: f"{db:.3f}"))
LEVEL = st.one_of(st.sampled_from(["S9", "S9+40", "S1", "S0"]), DB.map(lambda db: f"{db} dBm"))

Columns = Mapping[str, st.SearchStrategy[str]]

BAND_COLUMNS: Columns = {
    "low_khz": KHZ,
    "high_khz": KHZ,
    "freq_khz": KHZ,
    "raster_khz": st.sampled_from(["9", "10", "5", "1000", "0.001"]),
    "service": st.sampled_from(["amateur", "broadcast", "citizens", "ism", "pirate"]),
    "label": st.text(max_size=12) | st.sampled_from(["20 m", "Radio Marrowmere", "x" * 300]),
    "region": st.sampled_from(["1", "2", "3", "W", "1;3", ""]),
    "mode": st.sampled_from(["all", "am", "ssb", "cw", "digital", "beacon", "narrow", "fm", ""]),
    "level": LEVEL | st.just(""),
    "hours": st.sampled_from(["", "0000-2400", "1800-2200", "2200-0200", "1800-2200;0500-0700"]),
    "days": st.sampled_from(["", "mon", "mon-fri", "sat;sun", "fri-mon"]),
    "bandwidth_khz": st.sampled_from(["", "6", "10", "0.5", "20000"]),
    "note": st.text(max_size=8),
}
# Which columns stand together in one row: an allocation, a station, a raster.
BAND_FORMS = (("low_khz", "high_khz"), ("freq_khz",), ("low_khz", "high_khz", "raster_khz"))
LEVEL_COLUMNS: Columns = {
    "service": BAND_COLUMNS["service"],
    "low_khz": KHZ,
    "high_khz": KHZ,
    "level": LEVEL,
    "note": st.text(max_size=8),
}
STOCK_COLUMNS: Columns = {
    "freq_mhz": st.decimals(0, 200, places=4).map(lambda mhz: f"{mhz:f}"),
    "mode": st.sampled_from(["fundamental", "3rd", "5th", "f", "3", ""]),
    "tolerance_ppm": st.sampled_from(["", "20", "50", "0", "2000"]),
    "note": st.text(max_size=8),
}


def quoted(cell: str) -> str:
    """A cell as CSV writes it."""
    return '"' + cell.replace('"', '""') + '"' if any(c in cell for c in '",\n\r') else cell


@st.composite
def tables(draw: st.DrawFn, columns: Columns, most_rows: int = 6, astray: int = 12) -> bytes:
    """A CSV text; of every `astray` cells about one is not what its column holds."""
    held = [name for name in columns if draw(st.integers(0, astray))]
    lines = [",".join(held)]
    for _ in range(draw(st.integers(0, most_rows))):
        cells = [draw(columns[name] if draw(st.integers(0, astray)) else ANY_TEXT) for name in held]
        lines.append(",".join(quoted(cell) for cell in cells))
    return "\n".join(lines).encode("utf-8", "surrogatepass")


@st.composite
def band_tables(draw: st.DrawFn, most_rows: int = 6, astray: int = 40) -> bytes:
    """A band table whose rows have the form of one, most of them sound."""
    lines = [",".join(BAND_COLUMNS)]
    for _ in range(draw(st.integers(0, most_rows))):
        form = draw(st.sampled_from(BAND_FORMS))
        row = {name: draw(cells) for name, cells in BAND_COLUMNS.items()}
        edges = sorted((row["low_khz"], row["high_khz"]), key=float)
        row |= {"low_khz": edges[0], "high_khz": edges[1]}
        row |= {name: "" for name in ("low_khz", "high_khz", "freq_khz", "raster_khz") if name not in form}
        cells = [cell if draw(st.integers(0, astray)) else draw(ANY_TEXT) for cell in row.values()]
        lines.append(",".join(quoted(cell) for cell in cells))
    return "\n".join(lines).encode("utf-8", "surrogatepass")


# --- command lines ------------------------------------------------------------------------------


def seldom(
    usual: st.SearchStrategy[str] | Sequence[str], other: Sequence[str], times: int = 15
) -> st.SearchStrategy[str]:
    """Mostly values as they should be, one in about `times` of another kind."""
    sound = usual if isinstance(usual, st.SearchStrategy) else st.sampled_from(usual)
    return st.integers(0, times).flatmap(lambda at: sound if at else st.sampled_from(other))


FREQUENCIES = seldom(
    st.sampled_from(
        ["14.2MHz", "14200 kHz", "14M2", "5 MHz", "1.6MHz", "7.1", "28.5MHz", "21100", "1000 kHz"]
    )
    | st.integers(500, 30_000).map(lambda khz: f"{khz}kHz"),
    ["0", "-1", "14,2MHz", "465k", "1Hz", "30 GHz", "31GHz", "nan", "14.2 14.3"],
)
SPANS = seldom(
    st.tuples(st.integers(1, 60_000), st.integers(1, 3_000)).map(lambda at: f"{at[0]}kHz:{sum(at)}kHz")
    | st.sampled_from(["21MHz:21.45MHz", "21:21.45 MHz", "50MHz:52MHz"]),
    ["1:2", "2MHz:1MHz", ":", "1MHz:", "1Hz:30GHz"],
)
DECIBELS = seldom(
    st.integers(-20, 90).map(str) | st.floats(0, 90).map(lambda db: f"{db:.1f} dB"),
    ["1e3", "x", "9999", "-1000"],
)
# What stands behind an option, by the word that its help shows there.
BY_METAVAR: Mapping[str, st.SearchStrategy[str]] = {
    "FREQ": FREQUENCIES,
    "LOW:HIGH": SPANS,
    "DB": DECIBELS,
    "LEVEL": seldom(["0.1V EMF", "50mV PD", "-13dBm", "1V EMF"], ["S9", "x", "0V EMF", "1e9 dBm"]),
    "N": seldom(st.integers(1, 8).map(str), ["-1", "0", "99", "x"]),
    "1|2|3": seldom(["1", "2", "3"], ["0", "4", "x"]),
    "HHMM": seldom(["1800", "18:30", "18:30:15", "0000"], ["2400", "2500", "9", "x"]),
    "DAY": seldom(["mon", "sun"], ["Monday", "x"]),
    "NAME": seldom(["4", "low", "10 m", "utf-8"], ["none", "latin-1", "utf-16", "rot13"], 3),
    "SERVICE=LEVEL": seldom(["broadcast=S9+40", "amateur=-60 dBm"], ["x=S9", "broadcast", "ism=x"]),
    "NAME=N": seldom(
        ["10 dB pad=1", "preselector of two circuits=0.5"], ["x=1", "10 dB pad=-1", "10 dB pad=x"]
    ),
    "OURS=THEIRS": seldom(
        ["freq=freq_khz", "label=label", "service==broadcast", "low=low_khz", "high=high_khz"],
        ["x=y", "=", "freq=x"],
    ),
    "HOW": seldom(["with", "against", "twice", "not", "-1", "2", "0.5"], ["nan", "x"]),
    "WAY": seldom(["up", "down", "same"], ["left"]),
    "UNIT": seldom(["Hz", "kHz", "MHz"], ["furlong"]),
    "CHARACTER": seldom([",", ";", "tab"], ["xx", "", '"', "\n"]),
    "TEXT": seldom(["Radio", "m", "20 m"], PIECES, 3),
}  # fmt: skip
# Words that are no sound value of anything; no path among them leads out of the folder.
GARBAGE = st.one_of(
    st.sampled_from(PIECES).map(lambda piece: piece.replace("\x00", "")),
    st.text(st.characters(exclude_characters="/\x00", exclude_categories=("Cs",)), max_size=10),
    st.sampled_from(
        [
            "--",
            "-",
            "--help",
            "--version",
            "-h",
            "-o",
            "--no-such",
            "-x",
            "--top=3",
            "--format=json",
            "--top=",
        ]
    ),
)
# What an output may not be, and what makes it hard to tell: inputs, files that stand there, links, a file
# under two names, an open descriptor, a pipe, other spellings of one place. All lie in the folder.
ASTRAY = (
    "folder", "folder/", "none/out.txt", "", " ", "loop", "pipe", "-", "./-", "descriptor", "old.txt",
    "./old.txt", "folder/../old.txt", "link to old", "link to set", "link to none", "two names",
    "other name", "set.toml", "../desk/set.toml", "boathouse.toml", "lockkeeper_filter.csv", "bands.csv",
    "levels.csv", "stock.csv", "front.toml", "cures.toml", "log.csv", "damaged.csv", "out.svg", "x" * 300,
    "a\nb", "\x1b[31m.txt", "\u202eout",
)  # fmt: skip
OUTPUTS = {
    "output": [*["out.txt"] * 40, *ASTRAY],
    "chart": [*["out.svg"] * 20, "none/out.svg", "out", "old.svg", "link to old.svg", "out.bmp", *ASTRAY],
    "save_receiver": [*["out.toml"] * 40, *ASTRAY],
}
CHOICES = {"format": [*Format], "fail_on": [*FailOn]}
# Drawing takes a hundred times as long as any refusal: seldom.
SELDOM = {"chart": 40, "scan": 5, "step": 5, "intermodulation": 5}


@st.composite
def command_lines(draw: st.DrawFn, files: Mapping[str, Sequence[str]]) -> list[str]:
    """Words of a command line: a command, its arguments, some of its options, seldom something else.

    Parameters
    ----------
    files : what names of files may stand for: by the name of an option or
        argument ("stock"), else under "".
    """
    if draw(st.integers(0, 60)) == 0:
        return draw(st.lists(GARBAGE, max_size=6))
    name = draw(st.sampled_from([*COMMANDS, *COMMANDS])) if draw(st.integers(0, 40)) else "report"
    if name == "report" and draw(st.integers(0, 10)):
        name = "dial"
    words = [name]
    for one in load(name).params:
        if one.name == "help" or not _asked(draw, one):
            continue
        for _ in range(draw(st.integers(1, 2)) if one.multiple or one.nargs == -1 else 1):
            words += _words_of(draw, one, files)
    if draw(st.integers(0, 15)) == 0:  # over what the same line reads, or what comes near it
        words += ["--output", draw(st.sampled_from(words))]
    if draw(st.integers(0, 15)) == 0:
        words.insert(draw(st.integers(0, len(words))), draw(GARBAGE))
    return words


def _asked(draw: st.DrawFn, one: Any) -> bool:
    if one.required or one.param_type_name == "argument":
        return draw(st.integers(0, 30)) > 0
    return draw(st.integers(0, SELDOM.get(one.name, 3) * 2)) == 0


def _words_of(draw: st.DrawFn, one: Any, files: Mapping[str, Sequence[str]]) -> list[str]:
    option = (
        [] if one.param_type_name == "argument" else [draw(st.sampled_from([*one.opts, *one.secondary_opts]))]
    )
    if getattr(one, "is_flag", False):
        return option
    return [*option, _value(draw, one, files)]


def _value(draw: st.DrawFn, one: Any, files: Mapping[str, Sequence[str]]) -> str:
    if draw(st.integers(0, 60)) == 0:
        return draw(GARBAGE)
    if one.name in OUTPUTS:
        return draw(st.sampled_from(OUTPUTS[one.name]))
    if one.name in CHOICES:
        return draw(st.sampled_from(CHOICES[one.name]))
    metavar = str(one.metavar)
    if metavar in BY_METAVAR:
        return draw(BY_METAVAR[metavar])
    name = one.name.strip("_")
    return draw(seldom(files.get(name, files[""]), files[""]))

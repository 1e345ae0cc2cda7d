"""Cures as data: a list that ships, and files of a user's own."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from spurplan.errors import BadValue, Fault, Refused, did_you_mean
from spurplan.files import read_bytes
from spurplan.given import as_path
from spurplan.receiver.description import Element, Front
from spurplan.receiver.description.faults import described
from spurplan.tomlfile import decoded, parse_toml
from spurplan.units import hz_text, parse_db, parse_hz

SHIPPED = "cures.toml"
LARGEST_FILE = 1_000_000
AS_FITTED = "as fitted"
IF_WORD = "IF"
CHANGES = ("front_end", "one_circuit_q", "pad", "if", "converter")
KEYS = ("name", "effort", "note", "group", "from", "to", *CHANGES)
# What a converter in front of the set, for the cover asked about, makes no use of.
IDLE_BESIDE_CONVERTER = ("from", "to", "front_end", "one_circuit_q", "pad", "if")
MOST_EFFORT = 1_000.0
# Stands for the IF of a set while a file is checked by itself.
_SOME_IF_HZ = 465_000


@dataclass(frozen=True)
class Cure:
    """One thing that can be done.

    Attributes
    ----------
    name, note : str.
    effort : float, above 0. How much work it is, against the others.
    group : str. Of one group only one goes into a pair; "" for none.
    from_hz, to_hz : int or None. Only ranges between these are changed. [Hz]
    front_end : tuple of tables as in the receiver file; put ahead of a front end.
    one_circuit_q : float or None. Q to which one circuit is raised.
    pad_db : float or None. At the aerial. [dB]
    if_hz : tuple of int. IFs to try. [Hz]
    converter : bool. A crystal converter from the stock list.
    source : str. The file it is from.
    """

    name: str
    effort: float
    note: str = ""
    group: str = ""
    from_hz: int | None = None
    to_hz: int | None = None
    front_end: tuple[Mapping[str, Any], ...] = ()
    one_circuit_q: float | None = None
    pad_db: float | None = None
    if_hz: tuple[int, ...] = ()
    converter: bool = False
    source: str = SHIPPED

    def on(self, low_hz: int, high_hz: int) -> bool:
        """Whether it is meant for a range. [Hz]"""
        return (self.from_hz is None or low_hz >= self.from_hz) and (
            self.to_hz is None or high_hz <= self.to_hz
        )

    def elements(self, if_hz: int, q: Any) -> tuple[Element, ...]:
        """Return what it puts ahead of a front end.

        Parameters
        ----------
        if_hz : int. The set's IF, for a trap on it. [Hz]
        q : loaded Q of the circuits that are there, as `Circuits.q`; None for the default.
        """
        return _elements(self.front_end, if_hz, q, self.source, ())


@cache
def shipped_cures() -> tuple[Cure, ...]:
    """Return the cures that come with the package."""
    return _cures((files("spurplan") / "data" / SHIPPED).read_bytes(), SHIPPED)


def read_cures(path: str | os.PathLike[str]) -> tuple[Cure, ...]:
    """Read a file of cures.

    Raises
    ------
    Refused  with every fault.
    """
    name = as_path(path, "--cures")
    return _cures(read_bytes(path, LARGEST_FILE), name)


def cures_in_use(path: str | os.PathLike[str] | None) -> tuple[Cure, ...]:
    """Return the cures that ship, and those of a file; one of the same name takes its place."""
    own = () if path is None else read_cures(path)
    by_name = {cure.name: cure for cure in (*shipped_cures(), *own)}
    return tuple(by_name.values())


def _cures(data: bytes, name: str) -> tuple[Cure, ...]:
    tables = parse_toml(decoded(name, data), name)
    faults = [
        Fault(f"{name}, {key}", "unknown key", remedy="write each cure as [[cure]]")
        for key in tables
        if key != "cure"
    ]
    rows = tables.get("cure", [])
    if not isinstance(rows, list) or not rows or not all(isinstance(row, dict) for row in rows):
        raise Refused([*faults, Fault(name, "holds no cure", remedy="write each one as [[cure]]")])
    found: list[Cure] = []
    for number, row in enumerate(rows):
        reader = _Reader(row, name, f"{name}, cure[{number + 1}]", ("cure", number))
        cure = reader.cure()
        faults += reader.faults
        if cure is None:
            continue
        if any(cure.name == other.name for other in found):
            faults.append(Fault(f"{reader.place}.name", "is the name of another cure", cure.name))
        found.append(cure)
    if faults:
        raise Refused(faults)
    return tuple(found)


class _Reader:
    """One table of a cure file, with its faults."""

    def __init__(self, row: Mapping[str, Any], source: str, place: str, at: tuple[str | int, ...]) -> None:
        self.row, self.source, self.place, self.at = row, source, place, at
        self.faults: list[Fault] = []

    def cure(self) -> Cure | None:
        for key in self.row:
            if key not in KEYS:
                self.faults.append(Fault(f"{self.place}.{key}", "unknown key", None, did_you_mean(key, KEYS)))
        if not any(key in self.row for key in CHANGES):
            known = ", ".join(CHANGES)
            self.faults.append(Fault(self.place, "changes nothing", remedy=f"give one of {known}"))
        if "converter" in self.row:
            for key in (key for key in IDLE_BESIDE_CONVERTER if key in self.row):
                self._fault(key, "is not used beside converter", None, "give it in a cure of its own")
        front_end = self._front_end()
        made = Cure(
            name=self._text("name", needed=True),
            effort=self._number("effort", 0.0, MOST_EFFORT, needed=True) or 1.0,
            note=self._text("note"),
            group=self._text("group"),
            from_hz=self._one("from", parse_hz),
            to_hz=self._one("to", parse_hz),
            front_end=front_end,
            one_circuit_q=self._number("one_circuit_q", 1.0, 100_000.0),
            pad_db=self._one("pad", _pad_db),
            if_hz=self._ifs(),
            converter=self._converter(),
            source=self.source,
        )
        if made.from_hz is not None and made.to_hz is not None and made.from_hz >= made.to_hz:
            self._fault("to", "is not above from", self.row["to"], f"from is {hz_text(made.from_hz)}")
        return None if self.faults else made

    def _fault(self, key: str, rule: str, value: Any, remedy: str) -> None:
        self.faults.append(Fault(f"{self.place}.{key}", rule, None if value is None else str(value), remedy))

    def _text(self, key: str, *, needed: bool = False) -> str:
        value = self.row.get(key)
        if isinstance(value, str) and (value.strip() or not needed):
            return value.strip()
        if value is not None or needed:
            rule = "is missing" if value is None else "is not a text"
            self._fault(key, rule, value, f'give {key} = "..."')
        return ""

    def _number(self, key: str, low: float, high: float, *, needed: bool = False) -> float | None:
        value = self.row.get(key)
        if value is None:
            if needed:
                self._fault(key, "is missing", None, f"give {key} = 3")
            return None
        if isinstance(value, bool) or not isinstance(value, int | float) or not low < value <= high:
            self._fault(key, "is no sensible number", value, f"give more than {low:g}, up to {high:g}")
            return None
        return float(value)

    def _one(self, key: str, parse: Callable[[str], Any]) -> Any:
        value = self.row.get(key)
        if value is None:
            return None
        try:
            if not isinstance(value, str):
                raise BadValue(value, "is not a text", "write it with its unit, in quotes")
            return parse(value)
        except BadValue as bad:
            self.faults.append(bad.at(f"{self.place}.{key}"))
            return None

    def _ifs(self) -> tuple[int, ...]:
        value = self.row.get("if", [])
        listed = value if isinstance(value, list) else [value]
        out = []
        for number, text in enumerate(listed):
            try:
                if not isinstance(text, str):
                    raise BadValue(text, "is not a text", 'write it with its unit, as "1600 kHz"')
                out.append(parse_hz(text))
            except BadValue as bad:
                self.faults.append(bad.at(f"{self.place}.if[{number + 1}]"))
        if "if" in self.row and not listed:
            self._fault("if", "is empty", None, 'give if = ["1600 kHz"]')
        return tuple(out)

    def _converter(self) -> bool:
        value = self.row.get("converter")
        if value not in (None, "stock"):
            self._fault("converter", "is not known", value, 'write converter = "stock"')
        return value == "stock"

    def _front_end(self) -> tuple[Mapping[str, Any], ...]:
        value = self.row.get("front_end")
        if value is None:
            return ()
        if not isinstance(value, list) or not value:
            remedy = "write a list of elements, as [ { circuits = 1, q = 80 } ]"
            self._fault("front_end", "is no list of elements", value, remedy)
            return ()
        for number, table in enumerate(value):
            if isinstance(table, dict) and isinstance(table.get("curve"), str):
                rule, remedy = "names a file", 'write its points, as [["1 MHz", "0 dB"], ["2 MHz", "30 dB"]]'
                self._fault(f"front_end[{number + 1}].curve", rule, table["curve"], remedy)
                return ()
        try:
            _elements(value, _SOME_IF_HZ, None, self.source, self.at)
        except Refused as refused:
            self.faults += refused.faults
        return tuple(value)


def _elements(
    tables: Sequence[Any], if_hz: int, q: Any, source: str, at: tuple[str | int, ...]
) -> tuple[Element, ...]:
    """Return elements with their words for "what is there" filled in.

    Raises
    ------
    Refused  naming key and cure.
    """
    filled = []
    for table in tables:
        row = dict(table) if isinstance(table, dict) else table
        if isinstance(row, dict):
            if row.get("trap") == IF_WORD:
                row["trap"] = hz_text(if_hz)
            if row.get("q") == AS_FITTED:
                del row["q"]
                if q is not None:
                    row["q"] = [[hz_text(hz), value] for hz, value in q] if isinstance(q, tuple) else q
        filled.append(row)
    return described(Front, {"elements": filled}, source, at).elements or ()


def _pad_db(text: str) -> float:
    value = parse_db(text)
    if not 0.0 < value <= 100.0:
        raise BadValue(text, "is no pad", "give 1 dB to 100 dB")
    return value

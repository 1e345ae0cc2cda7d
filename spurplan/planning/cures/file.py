"""Cures as data: a list that ships, and files of a user's own."""

from __future__ import annotations

import os
from collections.abc import Collection, Mapping, Sequence
from functools import cache
from importlib.resources import files
from typing import Any

from spurplan.errors import BadValue, shown
from spurplan.files import read_bytes, read_shipped
from spurplan.receiver.description import Box, Element
from spurplan.receiver.description.elements import AN_ELEMENT, ELEMENT_LIST
from spurplan.receiver.description.quantities import HZ, decibels
from spurplan.receiver.file.loading import HARMLESS
from spurplan.schema import (
    FAULTY,
    NAME,
    TEXT,
    Choice,
    Description,
    Kind,
    ListOf,
    Loaded,
    Number,
    Part,
    Quantity,
    Reading,
    described,
    described_by_file,
    key,
)
from spurplan.schema_faults import Path, Wrong
from spurplan.tomlfile import decoded, parse_toml
from spurplan.units import as_path, hz_text

SHIPPED = "cures.toml"
LARGEST_FILE = 1_000_000
AS_FITTED = "as fitted"
IF_WORD = "IF"
STOCK = "stock"
CHANGES = ("ahead", "front_end", "one_circuit_q", "pad", "if", "converter")
# What a converter in front of the set, for the cover asked about, makes no use of.
IDLE_BESIDE_CONVERTER = ("from", "to", "ahead", "front_end", "one_circuit_q", "pad", "if")
MOST_EFFORT = 1_000.0
MOST_CURES = 1_000
# Stands for the IF of a set while a file is checked by itself.
_SOME_IF_HZ = 465_000

_FRONT_END = ListOf(AN_ELEMENT, "write a list of elements, as [ { circuits = 1, q = 80 } ]", 1, 20)
_IFS = ListOf(HZ, 'give if = ["1600 kHz"]', 1)
_ATTENUATION = decibels(0.0, 100.0)


class _FrontEnd(Kind):
    """Elements in which words may stand for what is there already; kept as the tables they are."""

    def read(self, value: Any, path: Path, reading: Reading) -> Any:
        # what takes the place of the words is known with the set alone
        filled = _filled(value, _SOME_IF_HZ, None) if isinstance(value, list | tuple) else value
        made = _FRONT_END.read(
            filled, path, Reading(reading.from_file, reading.wrongs, reading.asides, _no_file)
        )
        return FAULTY if made is FAULTY else tuple(value)

    def form(self) -> dict[str, Any]:
        return {"type": "array", "items": {"type": "object"}}


def _no_file(key: str, value: Any, path: Path, reading: Reading) -> Loaded:
    rule, remedy = "names a file", 'write its points, as [["1 MHz", "0 dB"], ["2 MHz", "30 dB"]]'
    reading.asides.append(Wrong(path, rule, shown(value), remedy))
    return Loaded("", HARMLESS[key])


class _OneOrMoreIfs(Kind):
    """One IF, or a list of them, kept as a tuple."""

    def read(self, value: Any, path: Path, reading: Reading) -> Any:
        if isinstance(value, list | tuple):
            return _IFS.read(value, path, reading)
        one = HZ.read(value, path, reading)
        return FAULTY if one is FAULTY else (one,)

    def form(self) -> dict[str, Any]:
        return {"oneOf": [HZ.form(), _IFS.form()]}


def _pad(value: Any, needs_unit: bool) -> float:
    pad_db: float = _ATTENUATION.parse(value, needs_unit)
    if pad_db == 0.0:
        raise BadValue(value, "is no pad", "give 1 dB to 100 dB")
    return pad_db


class Cure(Description):
    """One thing that can be done.

    Attributes
    ----------
    name, note : str.
    effort : float, above 0. How much work it is, against the others.
    group : str. Of one group only one goes into a pair; "" for none.
    from_hz, to_hz : int or None. Only ranges between these are changed. [Hz]
    ahead : tuple of tables as in the receiver file: elements of a box in the aerial lead.
    front_end : likewise; put ahead of a front end, inside the set.
    one_circuit_q : float or None. Q to which one circuit is raised.
    pad_db : float or None. At the aerial. [dB]
    if_hz : tuple of int. IFs to try. [Hz]
    converter : str or None. "stock" for a crystal converter from the stock list.
    source : str. The file it is from.
    """

    name: str = key(NAME, example='name = "10 dB pad"')
    effort: float = key(Number(0.0, MOST_EFFORT, above=True), example="effort = 3")
    note: str = key(TEXT, default="")
    group: str = key(TEXT, default="")
    from_hz: int | None = key(HZ, toml="from", default=None)
    to_hz: int | None = key(HZ, toml="to", default=None)
    ahead: tuple[Mapping[str, Any], ...] = key(_FrontEnd(), default=())
    front_end: tuple[Mapping[str, Any], ...] = key(_FrontEnd(), default=())
    one_circuit_q: float | None = key(Number(1.0, 100_000.0, above=True), default=None)
    pad_db: float | None = key(Quantity(_pad, _ATTENUATION.form()), toml="pad", default=None)
    if_hz: tuple[int, ...] = key(_OneOrMoreIfs(), toml="if", default=())
    converter: str | None = key(Choice((STOCK,)), default=None)
    source: str = key(TEXT, default=SHIPPED, in_file=False)

    @classmethod
    def keys_together(cls, keys: Collection[str]) -> list[Wrong]:
        if not any(change in keys for change in CHANGES):
            return [Wrong((), "changes nothing", remedy=f"give one of {', '.join(CHANGES)}")]
        idle = [word for word in IDLE_BESIDE_CONVERTER if word in keys and "converter" in keys]
        remedy = "give it in a cure of its own"
        return [Wrong((word,), "is not used beside converter", remedy=remedy) for word in idle]

    def checked(self) -> list[Wrong]:
        if self.from_hz is None or self.to_hz is None or self.from_hz < self.to_hz:
            return []
        return [
            Wrong(("to_hz",), "is not above from", hz_text(self.to_hz), f"from is {hz_text(self.from_hz)}")
        ]

    def on(self, low_hz: int, high_hz: int) -> bool:
        """Whether it is meant for a range. [Hz]"""
        return (self.from_hz is None or low_hz >= self.from_hz) and (
            self.to_hz is None or high_hz <= self.to_hz
        )

    def box_elements(self, if_hz: int, q: Any) -> tuple[Element, ...]:
        """Return what it puts into a box in the aerial lead; parameters and refusals as `elements`."""
        return described(Box, {"elements": _filled(self.ahead, if_hz, q)}, self.source).elements

    def elements(self, if_hz: int, q: Any) -> tuple[Element, ...]:
        """Return what it puts ahead of a front end.

        Parameters
        ----------
        if_hz : int. The set's IF, for a trap on it. [Hz]
        q : loaded Q of the circuits that are there, as `Circuits.q`; None for the default.

        Raises
        ------
        Refused  for an element that can not be with that IF or that Q.
        """
        filled = _filled(self.front_end, if_hz, q)
        return described(_Elements, {"front_end": filled}, self.source).front_end


class _Elements(Description):
    """What a cure puts ahead of a front end, its words filled in."""

    front_end: tuple[Element, ...] = key(ELEMENT_LIST, default=())


class _CureFile(Description):
    """Cures, each as [[cure]]."""

    cures: tuple[Cure, ...] = key(
        ListOf(Part(Cure, "[[cure]]"), "write each one as [[cure]]", 1, MOST_CURES, unique="name"),
        toml="cure",
        example="each one as [[cure]]",
    )


@cache
def shipped_cures() -> tuple[Cure, ...]:
    """Return the cures that come with the package."""
    return _cures(read_shipped(files("spurplan") / "data" / SHIPPED), SHIPPED)


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
    found = described_by_file(_CureFile, parse_toml(decoded(name, data), name), name)
    return tuple(cure.unchecked(source=name) for cure in found.cures)


def _filled(tables: Sequence[Any], if_hz: int, q: Any) -> list[Any]:
    """Return elements with their words for what is there filled in."""
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
    return filled

"""Cures as data: a list that ships, and files of a user's own."""

from __future__ import annotations

import os
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from spurplan.errors import BadValue, Fault, Refused, did_you_mean, shown
from spurplan.files import read_bytes, read_shipped
from spurplan.receiver.description import Box, Element
from spurplan.receiver.description.elements import AN_ELEMENT, ELEMENT_LIST
from spurplan.receiver.description.quantities import GAIN_DB, HZ, LOSS_DB, NOISE_FIGURE_DB, decibels
from spurplan.receiver.file.loading import HARMLESS
from spurplan.receiver.listener import MODES
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
STATION_WORD = "station"
STOCK = "stock"
CHANGES = ("ahead", "gain", "front_end", "one_circuit_q", "pad", "if", "bandwidth", "converter", "parts")
# What makes no use of the other keys: a converter for the cover asked about, and a design of other cures.
ALONE = ("converter", "parts")
IDLE_BESIDE = (
    "from", "to", "ahead", "gain", "noise_figure", "ceiling", "regains", "front_end", "one_circuit_q", "pad",
    "if", "bandwidth", "modes",
)  # fmt: skip
MOST_EFFORT = 1_000.0
MOST_CURES = 1_000
# Stand for what is known with a set alone, while a file is checked by itself.
_SOME_IF_HZ = 465_000
_SOME_STATION_HZ = 1_602_000

_FRONT_END = ListOf(AN_ELEMENT, "write a list of elements, as [ { circuits = 1, q = 80 } ]", 1, 20)
_IFS = ListOf(HZ, 'give if = ["1600 kHz"]', 1)
_ATTENUATION = decibels(0.0, 100.0)


class _FrontEnd(Kind):
    """Elements in which words may stand for what is there already; kept as the tables they are."""

    def read(self, value: Any, path: Path, reading: Reading) -> Any:
        # what takes the place of the words is known with the set alone
        known = isinstance(value, list | tuple)
        filled = _filled(value, Fitted(_SOME_IF_HZ, None, _SOME_STATION_HZ)) if known else value
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
        if_hz = HZ.read(value, path, reading)
        return FAULTY if if_hz is FAULTY else (if_hz,)

    def form(self) -> dict[str, Any]:
        return {"oneOf": [HZ.form(), _IFS.form()]}


def _pad(value: Any, needs_unit: bool) -> float:
    pad_db: float = _ATTENUATION.parse(value, needs_unit)
    if pad_db == 0.0:
        raise BadValue(value, "is no pad", "give 1 dB to 100 dB")
    return pad_db


@dataclass(frozen=True)
class Fitted:
    """What the words of a cure stand for on one range.

    Attributes
    ----------
    if_hz : int. The set's IF, for a trap on it. [Hz]
    q : loaded Q of the circuits that are there, as `Circuits.q`; None for the default.
    station_hz : int or None. The station that decides; None where none does. [Hz]
    """

    if_hz: int
    q: Any
    station_hz: int | None = None


class Cure(Description):
    """One thing that can be done, or a design of several that belong together.

    Attributes
    ----------
    name, note : str.
    phrase : str. What it is called within a sentence; {} stands for which IF, station or crystal.
    effort : float, above 0. How many evenings it takes.
    group : str. Of one group only one is done; "" for none.
    from_hz, to_hz : int or None. Only ranges between these are changed. [Hz]
    modes : tuple of str. Only where one of these is listened to; any where empty.
    ahead : tuple of tables as in the receiver file: elements of a box in the aerial lead.
    gain_db, noise_figure_db : float or None. Of that box, as `Box`. [dB]
    ceiling_db : float or None. How far down signals get round its elements; as `Box` where None. [dB]
    regains_db : float or None. What it gains at most, as far as the aerial is short of it. [dB]
    front_end : likewise; put ahead of a front end, inside the set.
    one_circuit_q : float or None. Q to which one circuit is raised.
    pad_db : float or None. At the aerial. [dB]
    if_hz : tuple of int. IFs to try. [Hz]
    bandwidth_hz : int or None. Of the last IF filter, where it is wider. [Hz]
    converter : str or None. "stock" for a crystal converter from the stock list.
    parts : tuple of str. Names of the cures that a design is made of.
    source : str. The file it is from.
    """

    name: str = key(NAME, example='name = "10 dB pad"')
    effort: float = key(Number(0.0, MOST_EFFORT, above=True), example="effort = 3")
    note: str = key(TEXT, default="")
    phrase: str = key(TEXT, default="")
    group: str = key(TEXT, default="")
    from_hz: int | None = key(HZ, toml="from", default=None)
    to_hz: int | None = key(HZ, toml="to", default=None)
    modes: tuple[str, ...] = key(ListOf(Choice(MODES), 'write them as ["am"]', 1), default=())
    ahead: tuple[Mapping[str, Any], ...] = key(_FrontEnd(), default=())
    gain_db: float = key(GAIN_DB, toml="gain", default=0.0)
    noise_figure_db: float | None = key(NOISE_FIGURE_DB, toml="noise_figure", default=None)
    ceiling_db: float | None = key(LOSS_DB, toml="ceiling", default=None)
    regains_db: float | None = key(LOSS_DB, toml="regains", default=None)
    front_end: tuple[Mapping[str, Any], ...] = key(_FrontEnd(), default=())
    one_circuit_q: float | None = key(Number(1.0, 100_000.0, above=True), default=None)
    pad_db: float | None = key(Quantity(_pad, _ATTENUATION.form()), toml="pad", default=None)
    if_hz: tuple[int, ...] = key(_OneOrMoreIfs(), toml="if", default=())
    bandwidth_hz: int | None = key(HZ, toml="bandwidth", default=None)
    converter: str | None = key(Choice((STOCK,)), default=None)
    parts: tuple[str, ...] = key(ListOf(NAME, 'write the names of cures, as ["IF trap"]', 2, 4), default=())
    source: str = key(TEXT, default=SHIPPED, in_file=False)

    @classmethod
    def keys_together(cls, keys: Collection[str]) -> list[Wrong]:
        if not any(change in keys for change in CHANGES):
            return [Wrong((), "changes nothing", remedy=f"give one of {', '.join(CHANGES)}")]
        whole = next((word for word in ALONE if word in keys), None)
        idle = [] if whole is None else [word for word in (*IDLE_BESIDE, *ALONE) if word in keys]
        remedy = "give it in a cure of its own"
        return [
            Wrong((word,), f"is not used beside {whole}", remedy=remedy) for word in idle if word != whole
        ]

    def checked(self) -> list[Wrong]:
        if self.from_hz is None or self.to_hz is None or self.from_hz < self.to_hz:
            return []
        return [
            Wrong(("to_hz",), "is not above from", hz_text(self.to_hz), f"from is {hz_text(self.from_hz)}")
        ]

    def on(self, low_hz: int, high_hz: int, mode: str) -> bool:
        """Whether it is meant for a range on which a mode is listened to. [Hz]"""
        inside = (self.from_hz is None or low_hz >= self.from_hz) and (
            self.to_hz is None or high_hz <= self.to_hz
        )
        return inside and (not self.modes or mode in self.modes)

    @property
    def for_station(self) -> bool:
        """Whether it is meant for one station."""
        return any(
            isinstance(table, Mapping) and table.get("trap") == STATION_WORD
            for table in (*self.ahead, *self.front_end)
        )

    @property
    def in_lead(self) -> bool:
        """Whether it is a box in the aerial lead."""
        return bool(self.ahead) or self.gain_db != 0.0 or self.noise_figure_db is not None

    def called(self, which: str = "") -> str:
        """Return what it is called within a sentence."""
        if not self.phrase:
            return f"{self.name} ({which})" if which else self.name
        return self.phrase.replace("{}", which)

    def box(self, fitted: Fitted, short_db: float) -> Box:
        """Return its box in the aerial lead.

        Parameters
        ----------
        fitted : Fitted.
        short_db : float. What the aerial is short of. [dB]

        Raises
        ------
        Refused  as `elements`.
        """
        regained = 0.0 if self.regains_db is None else min(self.regains_db, max(short_db, 0.0))
        given: dict[str, Any] = {"name": self.name, "elements": _filled(self.ahead, fitted)}
        if self.gain_db + regained:
            given["gain_db"] = self.gain_db + regained
        if self.noise_figure_db is not None:
            given["noise_figure_db"] = self.noise_figure_db
        if self.ceiling_db is not None:
            given["ceiling_db"] = self.ceiling_db
        return described(Box, given, self.source)

    def elements(self, fitted: Fitted) -> tuple[Element, ...]:
        """Return what it puts ahead of a front end.

        Raises
        ------
        Refused  for an element that can not be with that IF or that Q.
        """
        return described(_Elements, {"front_end": _filled(self.front_end, fitted)}, self.source).front_end


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
    """Return the cures that ship, and those of a file; one of the same name takes its place.

    Raises
    ------
    Refused  for a design of cures that there are not, and as `read_cures`.
    """
    own = () if path is None else read_cures(path)
    by_name = {cure.name: cure for cure in (*shipped_cures(), *own)}
    single = [cure.name for cure in by_name.values() if not cure.parts]
    faults = [
        Fault(f"{cure.source}: parts of {cure.name}", "is no cure", part, did_you_mean(part, single))
        for cure in by_name.values()
        for part in cure.parts
        if part not in single
    ]
    if faults:
        raise Refused(faults)
    return tuple(by_name.values())


def _cures(data: bytes, name: str) -> tuple[Cure, ...]:
    cure_file = described_by_file(_CureFile, parse_toml(decoded(name, data), name), name)
    return tuple(cure.unchecked(source=name) for cure in cure_file.cures)


def _filled(tables: Sequence[Any], fitted: Fitted) -> list[Any]:
    """Return elements with their words for what is there filled in."""
    words = {IF_WORD: fitted.if_hz, STATION_WORD: fitted.station_hz}
    filled = []
    for table in tables:
        row = dict(table) if isinstance(table, dict) else table
        if isinstance(row, dict):
            hz = words.get(row["trap"]) if isinstance(row.get("trap"), str) else None
            if hz is not None:
                row["trap"] = hz_text(hz)
            if row.get("q") == AS_FITTED:
                del row["q"]
                if fitted.q is not None:
                    q = fitted.q
                    row["q"] = [[hz_text(hz), value] for hz, value in q] if isinstance(q, tuple) else q
        filled.append(row)
    return filled

"""The filled sheet read back: every fault named, and nothing taken from half a file.

A reading is what the generator's attenuator shows: dB above the wanted signal,
or a level (dBm, volts, S units) where the wanted signal's own is written too.
"""

from __future__ import annotations

import math
import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np

from spurplan.csvfile import Cells, FaultList, left_alone, read_csv
from spurplan.errors import BadValue, Fault, Refused, did_you_mean, quoted
from spurplan.planning.bench.expected import expected
from spurplan.planning.bench.injection import above_wanted_db, generator_hz, injections, parts_of
from spurplan.planning.bench.log_cells import (
    LEAST_DB,
    MOST_DB,
    POINT_COLUMNS,
    Output,
    Written,
    agc_of,
    checked_as,
    level_dbm,
    output_of,
    reading_of,
    steps_of,
)
from spurplan.receiver.chain import Chains, compile_chains
from spurplan.receiver.description import Receiver
from spurplan.responses.image_rejection import WEAK_DBM
from spurplan.responses.routes import Steps, response_name, wanted_of
from spurplan.units import Where, hz_of, hz_text, is_bare, parse_whole, parse_whole_hz, s9_dbm

POINTER, WANTED = "pointer", "wanted"
NEEDED = ("number", "range", "dial_hz", "response", "generator_hz", "wanted_dbm", "steps", "reading")
LARGEST_LOG = 4 << 20
# Further than this on the other side of nothing than the sheet expects, a reading has the wrong sign. [dB]
WRONG_SIGN_DB = 6.0
# No dial is further off than this; a pointer reading that is was made on another range.
POINTER_OFF = 0.1
MOST_ROWS = 5_000


@dataclass(frozen=True)
class LevelReading:
    """One constant-output reading.

    Attributes
    ----------
    number : int. Its number on the sheet.
    range : str. dial_hz : int. steps, response : the route. [Hz]
    reference_dbm : float. The wanted signal that set the output. [dBm]
    db : float. Generator level above that. [dB]
    beyond : bool. Nothing was heard at that level: the true one is above it.
    meter_db : float or None. What the S meter showed above its S9 mark, as it is marked: the output was
        not held, and the reference is what that mark would mean if it were true. [dB]
    """

    number: int
    range: str
    dial_hz: int
    steps: Steps
    response: str
    reference_dbm: float
    db: float
    beyond: bool
    meter_db: float | None = None


@dataclass(frozen=True)
class PointerReading:
    """What the main dial showed with the set tuned to the generator.

    Attributes
    ----------
    number : int. range : str.
    dial_hz : int. The generator's frequency. [Hz]
    offset_hz : int. What the pointer showed above what it should. [Hz]
    """

    number: int
    range: str
    dial_hz: int
    offset_hz: int


@dataclass(frozen=True)
class Log:
    """A filled sheet.

    Attributes
    ----------
    name : str. Of the file, without its folder.
    levels, pointers : the readings.
    missing : int. Lines left blank, wanted signals not counted.
    reference_assumed : bool. Whether some wanted signal's level is the sheet's and not a reading.
    unread : tuple of str. What to say of columns that nothing reads.
    """

    name: str
    levels: tuple[LevelReading, ...]
    pointers: tuple[PointerReading, ...]
    missing: int
    reference_assumed: bool
    unread: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Row:
    index: int
    number: int
    range: str
    dial_hz: int
    response: str
    steps: Steps
    wanted_dbm: float
    written: Written | None
    output: Output | None = None


def read_log(path: str | os.PathLike[str], receiver: Receiver) -> Log:
    """Return the readings of a filled sheet.

    Parameters
    ----------
    path : path of the CSV file that `bench-sheet --format csv` wrote, its column `reading` filled;
        columns it does not need may be missing, others may have been added. What nothing is worked
        out from must still be a number where the sheet has one: else its cells have moved.
    receiver : Receiver. The set the sheet was made for.

    Raises
    ------
    Refused  with every fault: as `csvfile.read_csv`; numbers that stand twice, ranges, settings or
        routes this set does not have, readings that are none, levels without the wanted
        signal's own; and when nothing is filled in.
    """
    known = [column.name for column in POINT_COLUMNS]
    cells = read_csv(path, NEEDED, known=known, limit=LARGEST_LOG)
    if len(cells) > MOST_ROWS:
        rule = f"has {len(cells):,} rows, more than a sheet has"
        raise Refused(Fault(cells.name, rule, remedy=f"give at most {MOST_ROWS:,}"))
    faults = FaultList()
    rows = _Reader(cells, receiver, faults).rows()
    for column in POINT_COLUMNS:
        if column.name in cells.columns and column.name not in NEEDED:
            cells.parsed(column.name, partial(checked_as, column), faults)
    faults.check()
    return _resolved(cells, rows, faults)


class _Reader:
    """Turns cells into rows, adding what is wrong with them to the faults."""

    def __init__(self, cells: Cells, receiver: Receiver, faults: FaultList) -> None:
        self.cells, self.faults = cells, faults
        self.ranges = {range_.name: range_ for range_ in receiver.ranges}
        self.chains: dict[str, Chains] = {
            range_.name: compile_chains([(receiver, range_)])[0] for range_ in receiver.ranges
        }
        self.seen: dict[int, int] = {}

    def rows(self) -> list[_Row]:
        parsed = (self._row(index) for index in range(len(self.cells)))
        return [row for row in parsed if row is not None]

    def _fault(self, index: int, column: str, bad: BadValue) -> None:
        self.faults.add(bad.at(_place(self.cells, index, column)), self.cells.lines[index])

    def _taken(self, index: int, column: str, parse: Any) -> Any:
        """Return a cell put through `parse`, or None with a fault."""
        try:
            return parse(self.cells.columns[column][index])
        except BadValue as bad:
            self._fault(index, column, bad)
            return None

    def _row(self, index: int) -> _Row | None:
        number = self._taken(index, "number", lambda text: self._number(text, index))
        name = self._taken(index, "range", self._range)
        wanted_dbm = self._taken(index, "wanted_dbm", level_dbm)
        dial = self._taken(index, "dial_hz", parse_whole_hz)
        at = self._taken(index, "generator_hz", parse_whole_hz)
        if name is None:
            # nothing more can be said of the row but whether its reading is one
            if self.cells.columns["response"][index] != POINTER and at is not None:
                self._taken(index, "reading", lambda text: reading_of(text, at))
            return None
        steps = self._taken(index, "steps", lambda text: steps_of(text, self.chains[name].conversions))
        if dial is not None:
            dial = self._taken(index, "dial_hz", lambda text: self._inside(text, dial, name))
        response = self._response(index, name, steps)
        if dial is not None and at is not None and steps is not None:
            self._taken(index, "generator_hz", lambda text: self._on_line(text, at, name, dial, steps))
        written = self._reading(index, name, dial, at, response)
        output = self._output(index, response, written)
        if (
            output is None
            and written is not None
            and written.db is not None
            and dial is not None
            and steps is not None
        ):
            self._taken(index, "reading", lambda text: self._signed(text, written.db, name, dial, steps))
        if number is None or wanted_dbm is None or dial is None or at is None:
            return None
        if steps is None or response is None:
            return None
        return _Row(index, number, name, dial, response, steps, wanted_dbm, written, output)

    def _output(self, index: int, response: str | None, written: Written | None) -> Output | None:
        """Return what the output showed on a line where it was not held."""
        if "output" not in self.cells.columns:
            return None
        text = self.cells.columns["output"][index]
        agc = ""
        if "agc" in self.cells.columns:
            taken = self._taken(index, "agc", agc_of)
            if taken is None:
                return None
            agc = taken
        output: Output | None = self._taken(index, "output", lambda text: output_of(text, agc))
        if output is None or response is None:
            return None
        bad = None
        if response == POINTER:
            bad = BadValue(text, "stands on a line for the pointer", "write it on the line it was read on")
        elif written is None and response != WANTED and not self.cells.columns["reading"][index]:
            bad = BadValue(text, "has no generator level", "write where the generator stood into reading")
        elif written is not None and written.beyond:
            bad = BadValue(text, "is shown where nothing is heard", "leave one of the two empty")
        if bad is not None:
            self._fault(index, "output", bad)
            return None
        return output

    def _number(self, text: str, index: int) -> int:
        number = parse_whole(text)
        if number < 1:
            raise BadValue(text, "is no number of a line", "give 1 or more")
        if number in self.seen:
            rule = f"stands in row {self.cells.lines[self.seen[number]]} already"
            raise BadValue(text, rule, "give each reading a number of its own; two logs were joined?")
        self.seen[number] = index
        return number

    def _range(self, text: str) -> str:
        if text not in self.ranges:
            raise BadValue(text, "is not a range of this set", did_you_mean(text, list(self.ranges)))
        return text

    def _inside(self, text: str, dial: int, name: str) -> int:
        range_ = self.ranges[name]
        if not range_.low_hz <= dial <= range_.high_hz:
            rule = f"is outside range {quoted(name)}"
            raise BadValue(text, rule, f"it covers {hz_text(range_.low_hz)} to {hz_text(range_.high_hz)}")
        return dial

    def _response(self, index: int, name: str, steps: Steps | None) -> str | None:
        text = self.cells.columns["response"][index]
        if steps is None:
            return None
        real = response_name(steps, wanted_of(self.chains[name], 0))
        if text == real or (text == POINTER and real == WANTED):
            return str(text)
        self._fault(
            index, "response", BadValue(text, f"is not what its steps say, {real}", "leave both as written")
        )
        return None

    def _on_line(self, text: str, at: int, name: str, dial: int, steps: Steps) -> int:
        chains = self.chains[name]
        line = np.array([steps], dtype=np.int64)
        real = int(generator_hz(chains, line, np.array([dial], dtype=np.int64))[0])
        if real <= 0 or abs(real - at) > int(chains.bandwidth_hz[0]) // 2:
            rule = "is not where this response lies for the set as described"
            where = f"that is {hz_text(real)}; " if real > 0 else ""
            raise BadValue(text, rule, f"{where}was the sheet made for another set, or a cell changed?")
        return at

    def _reading(
        self, index: int, name: str, dial: int | None, at: int | None, response: str | None
    ) -> Written | None:
        text = self.cells.columns["reading"][index]
        if not text or response is None or dial is None or at is None:
            return None
        if response == POINTER:
            hz = self._taken(index, "reading", lambda text: self._pointer(text, name, dial))
            return None if hz is None else Written(hz=hz)
        written: Written | None = self._taken(index, "reading", lambda text: reading_of(text, at))
        if written is not None and response == WANTED and written.dbm is None:
            if written.db == 0.0 and not written.beyond:
                return None
            remedy = "write the wanted signal as dBm, volts or S, or leave it blank"
            self._fault(index, "reading", BadValue(text, "is no level", remedy))
            return None
        return written

    def _signed(self, text: str, db: float, name: str, dial: int, steps: Steps) -> float:
        """Return decibels whose sign can be meant: not minus 37 where some plus 37 are expected."""
        if db < -WRONG_SIGN_DB:
            chains, reference = self.chains[name], np.array([WEAK_DBM])
            signals = injections(chains, np.array([steps], dtype=np.int64), np.array([dial]), reference)
            expected = float(above_wanted_db(parts_of(chains), signals)[0])
            if expected > WRONG_SIGN_DB:
                rule = f"is below the wanted signal, where {expected:.0f} dB above it are expected"
                raise BadValue(text, rule, "write how far the generator stands above it, without a sign")
        return db

    def _pointer(self, text: str, name: str, dial: int) -> int:
        """Return what the pointer showed above what it should. [Hz]"""
        chains, zero = self.chains[name], np.zeros(1, dtype=np.int64)
        at = np.array([dial], dtype=np.int64)
        described = int(chains.set_dial_hz(zero, at)[0])
        due = described - int(chains.offset_hz[0])
        near = (
            round(min(due, described) * (1.0 - POINTER_OFF)),
            round(max(due, described) * (1.0 + POINTER_OFF)),
        )
        where = Where("the dial there", lambda low, high: near[0] <= high and low <= near[1])
        try:
            shown = hz_of(text, where=where)
        except BadValue:
            if not is_bare(text):
                raise
            rule = f"is not near {hz_text(due)} in kHz or in MHz"
            raise BadValue(text, rule, "write what the dial shows, as 14.18 MHz") from None
        if not near[0] <= shown <= near[1]:
            rule = f"is more than {POINTER_OFF:.0%} off {hz_text(due)}"
            raise BadValue(text, rule, "was another range switched on?")
        return shown - due


def _place(cells: Cells, index: int, column: str) -> str:
    """Return where a cell stands, by its row and, where that has one, by the sheet's own number."""
    number = cells.columns["number"][index]
    own = f" of No. {number}" if number.isdecimal() and column != "number" else ""
    return f"{cells.place(index, column)}{own}"


def _resolved(cells: Cells, rows: Sequence[_Row], faults: FaultList) -> Log:
    """Return the readings above their wanted signals; levels without one are faults."""
    outputs = _Outputs(cells, rows, faults)
    own = {
        (row.range, row.dial_hz): row.written.dbm
        # the first of a setting: others give the S meter its scale
        for row in reversed(rows)
        if row.response == WANTED and row.written is not None and row.written.dbm is not None
    }
    levels, pointers, assumed = [], [], False
    for row in rows:
        if row.output is not None and row.output.meter_db is not None:
            reading = outputs.by_meter(row, own)
            levels += [] if reading is None else [reading]
            continue
        if row.written is None or row.response == WANTED or row.written == Written():
            continue
        if row.written.hz is not None:
            pointers.append(PointerReading(row.number, row.range, row.dial_hz, row.written.hz))
            continue
        reference = own.get((row.range, row.dial_hz))
        db = row.written.db
        if row.written.dbm is not None:
            if reference is None:
                faults.add(_without_reference(cells, row), cells.lines[row.index])
                continue
            db = row.written.dbm - reference
        assert db is not None  # a reading is decibels or a level
        held = row.wanted_dbm if reference is None else reference
        if row.output is not None:
            louder_db = outputs.louder_db(row)
            if louder_db is None:
                continue
            # the same output would have wanted so much more of the wanted signal
            held, db = held + louder_db, db - louder_db
        if not LEAST_DB <= db <= MOST_DB:
            rule = f"is {db:.0f} dB above its wanted signal, outside any sense"
            place = _place(cells, row.index, "reading")
            text = cells.columns["reading"][row.index]
            faults.add(Fault(place, rule, text, "check both levels"), cells.lines[row.index])
            continue
        assumed |= reference is None
        levels.append(
            LevelReading(
                row.number, row.range, row.dial_hz, row.steps, row.response,
                held, db, row.written.beyond,
            )
        )  # fmt: skip
    faults.check()
    if not levels and not pointers:
        raise Refused(Fault(cells.name, "has no readings", remedy="fill in its column reading"))
    missing = sum(
        row.written in (None, Written()) and row.response != WANTED and row.output is None for row in rows
    )
    name = os.path.basename(cells.name)  # noqa: PTH119  "" stays ""
    unread = tuple(left_alone(name, cells.others))
    return Log(name, tuple(levels), tuple(pointers), missing, assumed, unread)


class _Outputs:
    """Lines on which the output was not held: read by volts against the wanted signal's, or by an S meter."""

    def __init__(self, cells: Cells, rows: Sequence[_Row], faults: FaultList) -> None:
        self.cells, self.faults = cells, faults
        self.volts = {
            (row.range, row.dial_hz): row.output.volts
            for row in rows
            if row.response == WANTED and row.output is not None and row.output.volts is not None
        }

    def _fault(self, row: _Row, rule: str, remedy: str) -> None:
        text = self.cells.columns["output"][row.index]
        self.faults.add(
            Fault(_place(self.cells, row.index, "output"), rule, text, remedy), self.cells.lines[row.index]
        )

    def louder_db(self, row: _Row) -> float | None:
        """Return how much louder a line came out than the wanted signal of its setting, None with a fault."""
        assert row.output is not None
        assert row.output.volts is not None
        wanted = self.volts.get((row.range, row.dial_hz))
        if wanted is None:
            remedy = f"write those of the wanted signal at {hz_text(row.dial_hz)} too"
            self._fault(row, "are volts, and the wanted signal of that setting has none", remedy)
            return None
        louder_db = 20.0 * math.log10(row.output.volts / wanted)
        most = expected().linear_db
        if abs(louder_db) > most:
            rule = f"is {abs(louder_db):.0f} dB from the wanted signal's, and no detector is true over that"
            self._fault(row, rule, f"move the generator until the two are within {most:g} dB")
            return None
        return louder_db

    def by_meter(self, row: _Row, own: Mapping[tuple[str, int], float]) -> LevelReading | None:
        """Return the reading of an S meter, None with a fault."""
        assert row.output is not None
        assert row.output.meter_db is not None
        written = row.written or Written()
        generator = written.dbm
        if generator is None:
            base = row.wanted_dbm if row.response == WANTED else own.get((row.range, row.dial_hz))
            generator = (row.wanted_dbm if base is None else base) + (written.db or 0.0)
        nominal = s9_dbm(row.dial_hz) + row.output.meter_db
        db = generator - nominal
        if not LEAST_DB <= db <= MOST_DB:
            self._fault(row, f"with a generator on {generator:.0f} dBm is outside any sense", "check both")
            return None
        return LevelReading(
            row.number, row.range, row.dial_hz, row.steps, row.response, nominal, db, False,
            row.output.meter_db,
        )  # fmt: skip


def _without_reference(cells: Cells, row: _Row) -> Fault:
    rule = "is a level, and the wanted signal of that setting has none"
    remedy = f"write the level of the wanted signal at {hz_text(row.dial_hz)} too, or dB above it"
    return Fault(_place(cells, row.index, "reading"), rule, cells.columns["reading"][row.index], remedy)

"""Single cells of a filled sheet: routes, and readings in every form they are written in."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass

from spurplan.columns import RANGE, Column
from spurplan.errors import BadValue
from spurplan.responses.routes import Steps
from spurplan.units import (
    headed_number,
    parse_db,
    parse_generator_level,
    parse_level,
    parse_signed_decimal,
    s9_dbm,
    volts_of,
)

# as a spreadsheet may write it back
_NUMERIC = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?")
# Between these a generator level above the wanted signal can be a reading. [dB]
LEAST_DB, MOST_DB = -200.0, 200.0
HIGHEST_ORDER = 50

POINT_COLUMNS = (
    Column("number", "int", "", False, "No.", "number of the line"),
    RANGE,
    Column("dial_hz", "int", "Hz", False, "Dial", "frequency the set is tuned to"),
    Column(
        "response", "text", "", False, "Inject",
        "what the trade calls the route; wanted for the signal all others are measured from, pointer "
        "for the reading of the dial",
    ),
    Column("generator_hz", "int", "Hz", False, "Generator", "frequency to set the generator to"),
    Column(
        "predicted_db", "float", "dB", True, "Expect",
        "generator level above the wanted signal's for the same output; null for the pointer",
    ),
    Column("teaches", "text", "", False, "Teaches", "figures that the reading tells something about"),
    Column(
        "reading", "text", "", True, "Reading",
        "to be filled in: dB above the wanted signal, or dBm, volts or S where the wanted signal's level "
        "is written too; > ahead of it where nothing is heard; for the pointer what the dial shows",
    ),
    Column(
        "output", "text", "", True, "Output",
        "to be filled in where the output was not brought back to that of the wanted signal: what the "
        "set's S meter showed (S7), or audio volts (250 mV) with the AGC off, the wanted signal's too",
    ),
    Column("agc", "text", "", False, "", "whether the AGC works while reading: on or off"),
    Column("wanted_dbm", "float", "dBm", False, "", "level of the wanted signal of that setting"),
    Column("generator_dbm", "float", "dBm", True, "Level", "generator level as predicted"),
    Column("pointer_hz", "int", "Hz", False, "", "what the main dial should show, as described"),
    Column("reachable", "bool", "", False, "", "whether the generator gives that much"),
    Column("equation", "text", "", False, "Equation", "the route as it is worked out"),
    Column("steps", "list", "", False, "", "[lo, rf] of each conversion, signed as in IF = lo LO + rf RF"),
    Column("note", "text", "", True, "Note", "what to mind with that reading"),
)  # fmt: skip


@dataclass(frozen=True)
class Written:
    """A reading as it stands in a cell: decibels, a level, or a dial reading."""

    db: float | None = None
    dbm: float | None = None
    hz: int | None = None
    beyond: bool = False


@dataclass(frozen=True)
class Output:
    """What the set showed at its output: one of the two.

    Attributes
    ----------
    meter_db : float or None. S meter, above its S9 mark, as it is marked. [dB]
    volts : float or None. Audio. [V]
    """

    meter_db: float | None = None
    volts: float | None = None


def output_of(text: str, agc: str) -> Output | None:
    """Return what the output showed, None where it was held to that of the wanted signal.

    Parameters
    ----------
    text : S7, S9+20, 0.5 V or 250 mV; "" for none.
    agc : "on", "off" or "" as the sheet has it.

    Raises
    ------
    BadValue  for anything else, and for what tells nothing of a level with the AGC as it is.
    """
    if not text:
        return None
    is_meter = text[:1].casefold() == "s"
    if not is_meter and text[-1:].casefold() != "v":
        raise BadValue(text, "is no output", "write what the S meter shows (S7), or audio volts (250 mV)")
    output = Output(meter_db=_meter_db(text)) if is_meter else Output(volts=volts_of(text))
    if not agc:
        remedy = "write on or off into its column agc"
        raise BadValue(text, "tells nothing while nobody knows whether the AGC was on", remedy)
    if agc == "on" and output.volts is not None:
        remedy = (
            "switch the AGC off, or raise the generator until the output is the same and leave this empty"
        )
        raise BadValue(text, "tells nothing of the level with the AGC on, which holds it", remedy)
    if agc == "off" and output.meter_db is not None:
        remedy = "switch the AGC on, or raise the generator until the output is the same and leave this empty"
        raise BadValue(text, "tells nothing with the AGC off, which drives the S meter", remedy)
    return output


def _meter_db(text: str) -> float:
    return parse_level(text).dbm(0.0) - s9_dbm(0.0)


def agc_of(text: str) -> str:
    """Return "on", "off" or "" from a cell.

    Raises
    ------
    BadValue  for anything else.
    """
    word = text.strip().casefold()
    if word not in ("", "on", "off"):
        raise BadValue(text, "is neither on nor off", "write on or off")
    return word


def checked_as(column: Column, text: str) -> str:
    """Return a cell that nothing is worked out from, where it still holds what the sheet has there.

    Raises
    ------
    BadValue  for a word where the sheet has a number, or yes or no: cells have moved against their heads.
    """
    remedy = "leave it as the sheet has it, or empty"
    if column.kind in ("int", "float") and text and not _NUMERIC.fullmatch(text):
        raise BadValue(text, "is not a number", remedy)
    if column.kind == "bool" and text.lower() not in ("", "true", "false"):
        raise BadValue(text, "is neither true nor false", remedy)
    return text


def level_dbm(text: str) -> float:
    """Return the level of a wanted signal as the sheet has it, a plain number. [dBm]

    Raises
    ------
    BadValue  for anything else, or outside -200 to 50 dBm.
    """
    return headed_number(text, -200.0, 50.0)


def steps_of(text: str, conversions: int) -> Steps:
    """Return a route from its JSON text, [[lo, rf], ...].

    Raises
    ------
    BadValue  for anything else, or a route through another number of mixers.
    """
    try:
        route = json.loads(text)
    except (ValueError, RecursionError):
        raise BadValue(text, "is not a route", "leave it as written, as [[-1, 1]]") from None
    if not isinstance(route, list) or len(route) != conversions:
        rule = f"is not a route through {conversions} mixer{'' if conversions == 1 else 's'}"
        raise BadValue(text, rule, "was the sheet made for another set?")
    pairs = (step for step in route if isinstance(step, list) and len(step) == 2)
    if sum(all(type(n) is int for n in pair) for pair in pairs) != conversions:
        raise BadValue(text, "is not a route", "leave it as written, as [[-1, 1]]")
    if any(rf == 0 or abs(lo) > HIGHEST_ORDER or abs(rf) > HIGHEST_ORDER for lo, rf in route):
        raise BadValue(text, "is not a route", f"give whole numbers up to {HIGHEST_ORDER}, rf not 0")
    return tuple((lo, rf) for lo, rf in route)


def reading_of(text: str, at_hz: int) -> Written:
    """Return a reading as written: 44.5, 44.5 dB, -56 dBm, 100 uV, S7, or > and one of these.

    Raises
    ------
    BadValue  for anything else.
    """
    if not text:
        return Written()
    beyond = text.startswith(">")
    amount = text[1:].strip() if beyond else text
    if not amount:
        raise BadValue(text, "has no number", "write >80 dB where nothing is heard up to 80 dB")
    low = amount.casefold()
    if low[-1:].isdigit() and low[:1] != "s":
        return Written(db=_sensible(text, parse_signed_decimal(amount)), beyond=beyond)
    if low.endswith("db") and low[:1] != "s":
        return Written(db=_sensible(text, parse_db(amount)), beyond=beyond)
    try:
        dbm = parse_level(amount).dbm(at_hz) if low[:1] == "s" else parse_generator_level(amount)
    except BadValue as bad:
        remedy = (
            "write dB above the wanted signal (44.5), or a level (-56 dBm, 100 uV, S7); >80 where nothing is "
            "heard up to 80 dB"
        )
        if "," in amount:
            remedy = f"write decimals with a point, as {amount.replace(',', '.')}"
        raise BadValue(text, "is not a reading" if low[:1] != "s" else bad.rule, remedy) from None
    return Written(dbm=dbm, beyond=beyond)


def _sensible(text: str, db: float) -> float:
    if not LEAST_DB <= db <= MOST_DB:
        remedy = "write how many dB the generator stands above the wanted signal; a level needs its unit"
        raise BadValue(text, "is outside any sense", remedy)
    return db

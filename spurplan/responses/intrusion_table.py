"""Graded stretches as records: the columns of `dial`, `ranges` and `station`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from spurplan.columns import NULL_INT, RANGE, Coded, Column, Table, Values
from spurplan.occupancy.occupants import LEVEL_FROM, Occupants
from spurplan.receiver.chain import Chains
from spurplan.responses import routes
from spurplan.responses.grades import GRADES, Graded
from spurplan.responses.levels import floor_dbm
from spurplan.responses.lines import Lines
from spurplan.units import DB_PER_S, S9_DBM, S9_HIGH_DBM, S_CHANGE_HZ

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

# how loud, wherever anything is heard
HEARD_COLUMNS = (
    Column(
        "heard_dbm", "float", "dBm", False, "Heard",
        "level a wanted signal on the dial frequency would need to come out as loud",
    ),
    Column("heard_s", "text", "", False, "Heard", "the same in S units, by the dial frequency"),
    Column("floor_dbm", "float", "dBm", False, "Floor", "noise in the IF bandwidth, as at the terminals"),
    Column(
        "margin_db", "float", "dB", False, "Margin",
        "heard level above the bar of hearing, which stands on the noise outside alone",
    ),
)  # fmt: skip

INTRUSION_COLUMNS = (
    RANGE,
    Column(
        "set_dial_hz", "int", "Hz", True, "",
        "what the main dial of the set shows at loudest_dial_hz, where that is not the signal's frequency",
    ),
    Column("dial_low_hz", "int", "Hz", False, "Dial from", "first dial frequency of the stretch"),
    Column("dial_high_hz", "int", "Hz", False, "Dial to", "last dial frequency of the stretch"),
    Column("rf_low_hz", "int", "Hz", False, "From", "lowest frequency of the occupant received in it"),
    Column("rf_high_hz", "int", "Hz", False, "To", "highest frequency of the occupant received in it"),
    Column("label", "text", "", True, "Station or band", "the occupant, as its table calls it"),
    Column("service", "text", "", False, "", "its service"),
    Column("mode", "text", "", True, "", "its mode of emission, where the table says"),
    Column("region", "text", "", True, "", "ITU regions of its row, where the table says"),
    Column("table", "text", "", False, "", "file it came from"),
    Column("row", "int", "", False, "", "its line there, the head being line 1"),
    Column("spot", "bool", "", False, "", "whether that line is one station: no band, no raster"),
    Column("response", "text", "", False, "Response", "what the trade calls the route"),
    Column("equation", "text", "", False, "Equation", "the route as it is worked out"),
    Column(
        "steps", "list", "", False, "",
        "[lo, rf] of each conversion, signed as in IF = lo LO + rf RF; lo 1002 is the second harmonic of a "
        "multiplied crystal in place of LO; of a premixed one lo 1000 + m + 1000 (2 n - 1) is the line "
        "m crystal + n VFO, lo 1000 + m + 2000 n the line m crystal - n VFO, where VFO is the variable "
        "oscillator it is made of, in a drift-cancelling loop that of an earlier conversion",
    ),
    Column("order", "int", "", False, "Order", "sum of |lo| and |rf| of all steps"),
    Column("antenna_dbm", "float", "dBm", False, "Aerial", "level of the occupant at the terminals"),
    Column("level_from", "text", "", False, "", "where that level is from: table, option, sky or assumed"),
    Column("rejection_db", "float", "dB", False, "Rejection", "antenna level above heard level"),
    *HEARD_COLUMNS,
    Column("grade", "text", "", False, "Grade", "strong, audible or buried"),
    Column(
        "over_bar_db", "float", "dB", True, "",
        "heard level above what the wanted signal bears, or above the bar of hearing where that is higher",
    ),
    Column(
        "chance", "float", "", True, "Chance",
        "chance (0 to 1) that somebody of this row spoils loudest_dial_hz at the hour asked about",
    ),
    Column("spoils", "bool", "", False, "", "whether at its level there it does: over_bar_db is 0 or more"),
    Column(
        "loudest_dial_hz", "int", "Hz", False, "",
        "dial frequency at which the levels are quoted: the loudest, of buried rows the loudest of a few",
    ),
    Column("moves", "float", "", True, "Moves", "how fast it moves with the dial, the wanted signal being 1"),
    Column("inverted", "bool", "", False, "", "whether its sideband is inverted against the wanted signal"),
    Column("pad_db_per_db", "int", "", False, "", "decibels it falls for each decibel of pad at the aerial"),
    Column(
        "offset_hz", "int", "Hz", False, "",
        "distance of its product from the middle of the IF at loudest_dial_hz, the beat with a carrier there",
    ),
    Column("pitch_hz", "int", "Hz", True, "", "pitch against the BFO there, where the set has one"),
    Column("hurts", "list", "", False, "", "which listeners it spoils: AM, SSB, CW"),
    Column(
        "note", "text", "", True, "Note",
        "balance dependent: its level hangs on a mixer's balance, which nobody measured",
    ),
)  # fmt: skip


@dataclass(frozen=True)
class Response:
    """The stretches of candidates with one number of conversions.

    Attributes
    ----------
    chains, lines, occupants : what was asked, and the routes between.
    graded : Graded. The stretches, by number of line and occupant.
    bfo_hz : int or None. Beat oscillator above the last IF, where the set has one. [Hz]
    over_bar_db, chance : float64, shape (G,), or None where nobody asked. By how much each is over what
        the wanted signal bears, or over the bar of hearing where that is higher [dB]; the chance that
        somebody there is.
    """

    chains: Chains
    lines: Lines
    occupants: Occupants
    graded: Graded
    bfo_hz: int | None = None
    over_bar_db: Floats | None = None
    chance: Floats | None = None

    def take(self, which: npt.NDArray[Any]) -> Response:
        """Return some of the stretches, in the order given."""
        over_bar_db, chance = (
            None if column is None else column[which] for column in (self.over_bar_db, self.chance)
        )
        return Response(
            self.chains, self.lines, self.occupants, self.graded.take(which), self.bfo_hz, over_bar_db, chance
        )


def intrusion_table(name: str, responses: Sequence[Response]) -> Table:
    """Return the stretches of several responses as one table, loudest first, ties by value.

    Parameters
    ----------
    name : str. Of the table.
    responses : sequence of Response, all with the same occupants.
    """
    table = as_they_come(name, responses)
    return table.take(_loudest_first(dict(table.values))) if len(table) else table


def as_they_come(name: str, responses: Sequence[Response]) -> Table:
    """Return the stretches of several responses as one table, in the order they stand there."""
    parts = [_values(response) for response in responses if len(response.graded)]
    if not parts:
        return Table(name, INTRUSION_COLUMNS, {c.name: _nothing(c) for c in INTRUSION_COLUMNS})
    values = {c.name: stacked([part[c.name] for part in parts]) for c in INTRUSION_COLUMNS}
    return Table(name, INTRUSION_COLUMNS, values)


def _loudest_first(values: dict[str, Values]) -> Ints:
    keys: list[Any] = [-np.round(np.asarray(values["heard_dbm"]), 6)]
    keys += [values[n] for n in ("order", "dial_low_hz", "dial_high_hz", "rf_low_hz", "rf_high_hz")]
    # codes of words depend on the order of files and rows; the rank of the word does not
    keys += [_rank(values[n]) for n in ("range", "equation", "label", "service", "table")]
    keys.append(values["row"])
    return np.lexsort(keys[::-1])


def _rank(value: Values) -> Ints:
    assert isinstance(value, Coded)
    if not len(value.words):
        return np.zeros(len(value.codes), dtype=np.int64)
    _, rank = np.unique(np.asarray(list(value.words), dtype=object).astype(str), return_inverse=True)
    return np.where(value.codes < 0, -1, rank[np.maximum(value.codes, 0)])


def _nothing(column: Column) -> Values:
    if column.kind in ("text", "list"):
        return Coded(np.zeros(0, dtype=np.int64), ())
    kinds: dict[str, Any] = {"int": np.int64, "float": np.float64, "bool": np.bool_}
    return np.zeros(0, dtype=kinds[column.kind])


def stacked(values: Sequence[Values]) -> Values:
    """Return one column of several lots as one; the words of each lot are put side by side."""
    if len(values) == 1:
        return values[0]
    if not isinstance(values[0], Coded):
        return np.concatenate([np.asarray(value) for value in values])
    words: list[Any] = []
    codes = []
    for value in values:
        assert isinstance(value, Coded)
        codes.append(np.where(value.codes < 0, -1, value.codes.astype(np.int64) + len(words)))
        words += list(value.words)
    return Coded(np.concatenate(codes), words)


def _values(response: Response) -> dict[str, Values]:
    chains, lines, occupants, graded = (
        response.chains, response.lines, response.occupants, response.graded,
    )  # fmt: skip
    line, who = graded.line, graded.occupant
    candidate = lines.candidate[line]
    rf_low, rf_high = received_part(lines, occupants, graded)
    offset = offset_hz(lines, occupants, graded)
    response_word, equation_word, steps_word = _words_of_routes(chains, lines, line)
    dial = graded.loudest_dial_hz
    set_dial = chains.set_dial_hz(candidate, dial)
    over = np.full(len(line), np.nan) if response.over_bar_db is None else response.over_bar_db
    return {
        "range": Coded(chains.name_code[candidate], chains.names),
        "set_dial_hz": np.where(set_dial == dial, NULL_INT, set_dial),
        "dial_low_hz": graded.dial_low_hz,
        "dial_high_hz": graded.dial_high_hz,
        "rf_low_hz": rf_low,
        "rf_high_hz": rf_high,
        "label": Coded(occupants.label[who], occupants.labels),
        "service": Coded(occupants.service[who], occupants.services),
        "mode": Coded(occupants.mode[who], occupants.modes),
        "region": Coded(occupants.region[who], occupants.regions),
        "table": Coded(occupants.table[who], occupants.tables),
        "row": occupants.row[who].astype(np.int64),
        "spot": occupants.spot[who],
        "response": response_word,
        "equation": equation_word,
        "steps": steps_word,
        "order": routes.order_of(lines, line),
        "antenna_dbm": graded.antenna_dbm,
        "level_from": Coded(occupants.level_from[who].astype(np.int64), LEVEL_FROM),
        "rejection_db": graded.rejection_db,
        "heard_dbm": graded.heard_dbm,
        "heard_s": s_codes(graded.heard_dbm, dial),
        "floor_dbm": floor_dbm(chains, candidate, dial),
        "margin_db": graded.margin_db,
        "grade": Coded(graded.grade.astype(np.int64), GRADES),
        "over_bar_db": over,
        "chance": np.full(len(line), np.nan) if response.chance is None else response.chance,
        "spoils": over >= 0.0,
        "loudest_dial_hz": dial,
        "moves": routes.moves(chains, lines, line),
        "inverted": routes.inverted(chains, lines, line),
        "pad_db_per_db": routes.pad_db_per_db(lines, line),
        "offset_hz": offset,
        "pitch_hz": np.full(len(line), NULL_INT)
        if response.bfo_hz is None
        else np.abs(offset - response.bfo_hz),
        "hurts": _hurts(lines, occupants, graded),
        "note": Coded(np.where(balance_dependent(chains, lines, line), 0, -1), ("balance dependent",)),
    }


def balance_dependent(chains: Chains, lines: Lines, line: Ints) -> npt.NDArray[np.bool_]:
    """Whether a balance figure of some mixer stands in the level of each route, shape of `line`."""
    candidate = lines.candidate[line]
    depends = np.zeros(len(line), dtype=bool)
    for i in range(chains.conversions):
        m, n = np.abs(lines.steps[line, i]).T
        for code, mixer in enumerate(chains.mixer[i]):
            depends |= (chains.mixer_code[candidate, i] == code) & mixer.balance_dependent(m, n)
    return depends


def received_part(lines: Lines, occupants: Occupants, graded: Graded) -> tuple[Ints, Ints]:
    """Return the part of each occupant that is received in its stretch, shape (G,) each. [Hz]

    Notes
    -----
    Whole hertz, rounded inward; outward where the part holds no whole hertz (a
    product of the third order in a passband of 1 Hz).
    """
    line, who = graded.line, graded.occupant
    p, q, d = lines.p[0][line], lines.q[0][line], 2 * lines.d[0][line]
    width = np.abs(lines.r[0][line]) * lines.reach_hz[line]
    ends = (p * graded.dial_low_hz, p * graded.dial_high_hz)
    least, most = 2 * (np.minimum(*ends) + q) - width, 2 * (np.maximum(*ends) + q) + width
    low = np.maximum(occupants.low_hz[who], -(-least // d))
    high = np.minimum(occupants.high_hz[who], most // d)
    empty = low > high
    outward_low = np.maximum(occupants.low_hz[who], least // d)
    outward_high = np.minimum(occupants.high_hz[who], -(-most // d))
    return np.where(empty, outward_low, low), np.where(empty, outward_high, high)


def offset_hz(lines: Lines, occupants: Occupants, graded: Graded) -> Ints:
    """Return how far each product lies from the middle of the IF where it is loudest, shape (G,). [Hz]

    Notes
    -----
    Of the occupant's frequency nearest the line; signed, nearest whole hertz.
    """
    line, who = graded.line, graded.occupant
    p, q, r, d = (getattr(lines, name)[0][line] for name in ("p", "q", "r", "d"))
    centre = p * graded.loudest_dial_hz + q
    # the occupant's edge nearest the line, or the line itself where it runs inside
    rf = np.clip(centre, d * occupants.low_hz[who], d * occupants.high_hz[who])
    offset: Ints = np.rint((rf - centre) / r).astype(np.int64)
    return offset


def s_codes(dbm: Floats, frequency_hz: Ints) -> Coded:
    """Return levels in whole S units as codes into their words; see `units.s_text`."""
    above = dbm - np.where(frequency_hz <= S_CHANGE_HZ, S9_DBM, S9_HIGH_DBM)
    units = np.clip(np.floor(9.5 + above / DB_PER_S), 0, 9)
    steps = np.where(above >= 0.5, 9 + np.floor(above + 0.5), units).astype(np.int64)
    used, codes = np.unique(steps, return_inverse=True)
    words = [f"S{step}" if step <= 9 else f"S9+{step - 9}" for step in used.tolist()]
    return Coded(codes, words)


def _words_of_routes(chains: Chains, lines: Lines, line: Ints) -> tuple[Coded, Coded, Coded]:
    """Return response, equation and steps of each line; every different route is worded once."""
    used, back = np.unique(line, return_inverse=True)
    candidate = lines.candidate[used]
    every_step = np.concatenate([lines.steps[used], chains.wanted_steps[candidate]], axis=1)
    different, code = np.unique(every_step.reshape(len(used), -1), axis=0, return_inverse=True)
    code = code.reshape(-1)[back]
    n = chains.conversions
    words: tuple[list[Any], list[Any], list[Any]] = ([], [], [])
    for route in different.reshape(len(different), 2 * n, 2).tolist():
        steps = tuple((lo, rf) for lo, rf in route[:n])
        wanted = tuple((lo, rf) for lo, rf in route[n:])
        words[0].append(routes.response_name(steps, wanted))
        words[1].append(routes.equation(steps))
        words[2].append([[lo, rf] for lo, rf in steps])
    return Coded(code, words[0]), Coded(code, words[1]), Coded(code, words[2])


def _hurts(lines: Lines, occupants: Occupants, graded: Graded) -> Coded:
    """Return which listeners an intruder spoils.

    Notes
    -----
    Any carrier or keyed signal in the passband beats with an AM carrier and is a
    tone to the SSB and CW listener. A power of an AM signal has a carrier still, as
    clean as it was. Speech without one through a route of higher order in the
    signal can not be understood, but disturbs AM and SSB all the same; it is spread
    too wide to mask telegraphy read by ear in 500 Hz.
    """
    words = (["AM", "SSB", "CW"], ["AM", "SSB"])
    speech = np.array([mode in ("ssb", "fm") for mode in occupants.modes] or [False])
    mode = occupants.mode[graded.occupant]
    talks = np.where(mode < 0, False, speech[np.maximum(mode, 0)])
    distorted = routes.pad_db_per_db(lines, graded.line) > 1
    return Coded((talks & distorted).astype(np.int64), words)


def intruding(response: Response) -> Response:
    """Return the stretches of a response that did not come by the wanted route.

    With skirts the wanted route brings strong neighbours, which do intrude.
    """
    chains, lines, graded = response.chains, response.lines, response.graded
    wanted = lines.is_wanted(chains)[graded.line]
    neighbour = (lines.reach_hz > chains.bandwidth_hz[lines.candidate])[graded.line]
    return response.take(np.flatnonzero(~wanted | neighbour))

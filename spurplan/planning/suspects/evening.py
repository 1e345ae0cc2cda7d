"""An evening's observations explained together: one station, or one way in, may be behind many of them.

Each line is asked by itself first. A cause that several lines have among their suspects (a station on one
frequency by whatever way, one oscillator of the set's own, one strong station) is then taken for all of
those that it explains better than each its own: how common it is counts once, and lines on which it should
have been heard and was not speak against it.
"""

from __future__ import annotations

import math
import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from spurplan.cautions import cautions_of
from spurplan.columns import NULL_INT, Answer, Column, table_of
from spurplan.csvfile import Cells, FaultList, left_alone, read_csv
from spurplan.errors import BadValue, Fault, Refused
from spurplan.normal_law import density_at, share_below
from spurplan.occupancy.hours import parse_moment
from spurplan.occupancy.typical_levels import typical_levels
from spurplan.planning.suspects.evidence import Evidence
from spurplan.planning.suspects.suspects import Findings, RankedWay, suspects
from spurplan.planning.suspects.ways import (
    CROSS,
    INTRUSION,
    NEIGHBOUR,
    OVERLOAD,
    THE_STATION,
    TRANSMITTER,
    Who,
)
from spurplan.planning.suspects.weights import HEARD_WORDS, figure
from spurplan.receiver.description import Receiver
from spurplan.responses.asking import (
    BandsLike,
    ReceiverLike,
    Settings,
    as_bands,
    as_receiver,
    public_question,
    settings_from,
)
from spurplan.units import headed_hz, parse_signed_decimal

NOTHING, SOMETHING = "nothing", "something"
COLUMNS = ("dial_khz", "heard")
KNOWN = ("time_utc", "strength", "moves", "pad_drop_db", "trimmer")
MOST_LINES = 500
LARGEST_LOG = 1 << 20
# where a log has what an option tells of one observation
_COLUMN_OF = {
    "--moves": "moves",
    "--pad-drop": "pad_drop_db",
    "--trimmer": "trimmer",
    "--strength": "strength",
}
FROM_THE_AIR = (THE_STATION, INTRUSION, NEIGHBOUR, TRANSMITTER)

CAUSE_COLUMNS = (
    Column("rank", "int", "", False, "", "1 for the one that explains most"),
    Column("cause", "text", "", False, "Cause", "as in `suspects`, on its likeliest line"),
    Column("label", "text", "", True, "Station or band", "by the tables; null for somebody in none"),
    Column("rf_hz", "int", "Hz", True, "Really on", "where it is sent; null for what has no such place"),
    Column("lines", "list", "", False, "Lines", "lines of the log that it explains, the head being line 1"),
    Column(
        "gains_bits", "float", "bit", False, "Gains",
        "how much better it explains them together than each its own cause",
    ),
)  # fmt: skip
LINE_COLUMNS = (
    Column("line", "int", "", False, "Line", "of the log, the head being line 1"),
    Column("dial_hz", "int", "Hz", False, "Dial", "where the dial stood"),
    Column("heard", "text", "", False, "Heard", "what was heard; nothing, where nothing was"),
    Column("explained_by", "int", "", True, "By cause", "rank of the common one; null where it has its own"),
    Column("cause", "text", "", True, "Cause", "the likeliest way in; null where nothing was heard"),
    Column("response", "text", "", True, "", "what the trade calls the route"),
    Column("rf_hz", "int", "Hz", True, "Really on", "where that is sent"),
    Column("label", "text", "", True, "Station or band", "who by the tables"),
    Column("weight", "float", "", True, "", "how likely that is by this line alone"),
)  # fmt: skip
LEVEL_COLUMNS = (
    Column("service", "text", "", False, "Service", "whose level it is"),
    Column("low_khz", "float", "", False, "From (kHz)", "of the row of typical levels"),
    Column("high_khz", "float", "", False, "To (kHz)", "of that row"),
    Column("level", "text", "", False, "Level", "as a file of levels takes it"),
    Column("shift_db", "float", "dB", False, "Shift", "against the typical level of the service"),
    Column("lines", "int", "", False, "Lines", "of the log that say so, heard and not heard"),
)  # fmt: skip
ALONE = "lines without a common cause are explained each by itself, as `suspects` does"


@dataclass(frozen=True)
class Noted:
    """One line of a log.

    Attributes
    ----------
    line : int. Physical line, the head being line 1.
    utc : str or None.
    dial_hz : int. [Hz]
    heard : str. One of `HEARD_WORDS`, "something", or "nothing".
    seen : Evidence.
    """

    line: int
    utc: str | None
    dial_hz: int
    heard: str
    seen: Evidence


def read_evening(path: str | os.PathLike[str], receiver: Receiver) -> tuple[list[Noted], list[str]]:
    """Return the lines of a log, and what to say of columns that nothing reads.

    Parameters
    ----------
    path : path of a CSV file with dial_khz and heard; time_utc, strength, moves, pad_drop_db, trimmer, note.
    receiver : Receiver. The set it was kept at.

    Raises
    ------
    Refused  with every fault: cells that mean nothing, settings outside every range, too many lines.
    """
    cells = read_csv(path, COLUMNS, known=KNOWN, limit=LARGEST_LOG)
    faults = FaultList()
    if len(cells) > MOST_LINES:
        rule = f"has {len(cells):,} lines"
        raise Refused(Fault(cells.name, rule, remedy=f"give at most {MOST_LINES:,}: an evening's"))
    out = [entry for i in range(len(cells)) if (entry := _noted(cells, i, receiver, faults)) is not None]
    faults.check()
    return out, list(left_alone(cells.name, cells.others))


def _noted(cells: Cells, index: int, receiver: Receiver, faults: FaultList) -> Noted | None:
    line = cells.lines[index]

    def cell(name: str) -> str | None:
        text = cells.columns[name][index] if name in cells.columns else ""
        return text or None

    before = faults.total
    dial_hz = 0
    heard = (cell("heard") or SOMETHING).lower()
    drop = None
    for name, parse in (
        ("dial_khz", _dial(receiver)),
        ("time_utc", _utc),
        ("heard", _heard),
        ("pad_drop_db", float_of),
    ):
        text = cell(name)
        if text is None and name != "dial_khz":
            continue
        try:
            value = parse(text or "")
        except BadValue as bad:
            faults.add(bad.at(cells.place(index, name)), line)
            continue
        dial_hz = int(value) if name == "dial_khz" else dial_hz
        drop = float(value) if name == "pad_drop_db" else drop
    seen = Evidence()
    try:
        seen = Evidence(
            moves=cell("moves"), pad_drop_db=drop, trimmer=cell("trimmer"), strength=cell("strength"),
            heard=heard if heard in HEARD_WORDS else None,
        )  # fmt: skip
    except Refused as refused:
        for fault in refused.faults:
            faults.add(replace(fault, place=cells.place(index, _COLUMN_OF[fault.place])), line)
    return Noted(line, cell("time_utc"), dial_hz, heard, seen) if faults.total == before else None


def _dial(receiver: Receiver) -> Any:
    def parse(text: str) -> int:
        hz = headed_hz(text, exponent=3)
        if not any(range_.low_hz <= hz <= range_.high_hz for range_ in receiver.ranges):
            raise BadValue(text, "is on no range of this set", "write what is received there, in kHz")
        return hz

    return parse


def _utc(text: str) -> int:
    parse_moment(text, None)
    return 0


def _heard(text: str) -> int:
    known = (*HEARD_WORDS, SOMETHING, NOTHING)
    if text.lower() not in known:
        raise BadValue(text, "is nothing that is heard", f"write {', '.join(known[:-1])} or {known[-1]}")
    return 0


def float_of(text: str) -> float:
    """Return decibels as they stand in a column of them."""
    return float(parse_signed_decimal(text))


Key = tuple[str, int | str]


@dataclass(frozen=True)
class Common:
    """A cause of several lines.

    Attributes
    ----------
    key : what makes it one: where it is sent, or what it is.
    first : RankedWay. As it stands on the first of its lines.
    who : Who. The likeliest there.
    lines : indices of the lines it explains.
    gains_bits : float. [bit]
    """

    key: Key
    first: RankedWay
    who: Who
    lines: tuple[int, ...]
    gains_bits: float


@dataclass(frozen=True)
class Evening:
    """The lines of a log, each explained by itself, and the causes that several of them share.

    Attributes
    ----------
    noted : the lines.
    alone : the findings of each line by itself; of one on which nothing was heard what it would be.
    common : causes of several lines, the one that explains most first.
    antenna_gain_db : float. Of the set's aerial. [dB]
    """

    noted: tuple[Noted, ...]
    alone: tuple[Findings, ...]
    common: tuple[Common, ...]
    antenna_gain_db: float

    def explained(self, i: int) -> RankedWay:
        """Return what explains a line: its common cause, or the likeliest of its own."""
        for cause in self.common:
            if i in cause.lines:
                return _of_cause(self.alone[i], cause.key)
        return self.alone[i].ranked[0]

    def shifts(self) -> dict[str, tuple[float, int]]:
        """Return how far off its typical level each service was, and how many lines say so. [dB]

        Notes
        -----
        Of a normal law of a service's shift, mean 0 and spread `service_spread_db`, after readings of single
        stations: one that was heard, with a strength, is off by that less its median, divided by the order
        of its way; one of the tables that ought to have been heard where the set was tuned, and was not, is
        off by the mean of what would not have been. Only what is sure to `sure_from` counts, no level that a
        row has of its own.
        """
        seen: dict[str, list[tuple[float, float]]] = {}
        for i, noted in enumerate(self.noted):
            reading = self._silent(i) if noted.heard == NOTHING else self._heard(i)
            if reading is not None:
                service, off, spread = reading
                seen.setdefault(service, []).append((off, 1.0 / spread**2))
        before = 1.0 / figure("log", "service_spread_db") ** 2
        return {
            service: (sum(off * w for off, w in some) / (before + sum(w for _, w in some)), len(some))
            for service, some in sorted(seen.items())
        }

    def _heard(self, i: int) -> tuple[str, float, float] | None:
        ranked_way, noted = self.explained(i), self.noted[i]
        fields = ranked_way.who.fields
        strength = noted.seen.strength_dbm(noted.dial_hz)
        known = "spread_db" in fields and not fields["own_level"] and not math.isnan(strength)
        if not known or ranked_way.weight < figure("log", "sure_from"):
            return None
        order = max(ranked_way.way.pad_db_per_db, 1.0)
        return ranked_way.who.service, (strength - fields["heard_dbm"]) / order, fields["spread_db"] / order

    def _silent(self, i: int) -> tuple[str, float, float] | None:
        station = next(
            ranked_way for ranked_way in self.alone[i].ranked if ranked_way.way.cause == THE_STATION
        )
        fields = station.who.fields
        if "spread_db" not in fields or fields["own_level"] or fields["margin_db"] <= 0.0:
            return None
        spread = float(fields["spread_db"])
        score = -float(fields["margin_db"]) / spread
        below = max(share_below(score), 1e-9)
        return station.who.service, -spread * density_at(score) / below, spread

    def levels(self) -> list[dict[str, Any]]:
        """Return the levels of the services that the log tells of, row by row of the typical ones."""
        typical = typical_levels()
        out = []
        for service, (shift, lines) in self.shifts().items():
            if service not in typical.services:
                continue
            for low, high, dbm, _ in zip(*(a.tolist() for a in typical.services[service]), strict=True):
                level = dbm + self.antenna_gain_db + shift
                out.append(
                    {
                        "service": service, "low_khz": low / 1e3, "high_khz": high / 1e3,
                        "level": f"{level:.1f} dBm", "shift_db": shift, "lines": lines,
                    }
                )  # fmt: skip
        return out

    def levels_text(self) -> str:
        """Return them as a file of levels.

        Raises
        ------
        Refused  where the log tells of none.
        """
        rows = self.levels()
        if not rows:
            rule = "tells of no level: no line with a strength is surely somebody of the tables"
            raise Refused(Fault("--as-levels", rule, remedy="write strengths, and what tells the cause"))
        head = "service,low_khz,high_khz,level,note"
        note = "off the typical level by {:+.1f} dB, by {} of a log"
        return (
            "\n".join(
                [head]
                + [
                    f"{row['service']},{row['low_khz']:g},{row['high_khz']:.15g},{row['level']},"
                    f'"{note.format(row["shift_db"], counted_lines(row["lines"]))}"'
                    for row in rows
                ]
            )
            + "\n"
        )


def counted_lines(number: int) -> str:
    """Return "1 line", "3 lines"."""
    return f"{number} line{'' if number == 1 else 's'}"


@public_question
def evening(
    receiver: ReceiverLike,
    *,
    log: str | os.PathLike[str],
    bands: BandsLike = None,
    settings: Settings | None = None,
    **options: Any,
) -> Answer:
    """Return what is behind the observations of an evening, together.

    Parameters
    ----------
    receiver, bands : as in `dial`.
    log : path of a CSV file: dial_khz and heard ("am", "ssb", "cw", "digital", "carrier", "noise", "whistle",
        "something", or "nothing"), and where they were noted time_utc, strength, moves, pad_drop_db, trimmer.
    settings, options : see `Settings`; the hour of a line is that of its time_utc.

    Returns
    -------
    Answer with the tables `causes`, which lines have in common, `lines`, and `levels`: how far services
    that were heard, or were not, are off their typical level.

    Raises
    ------
    Refused  for a bad file or option.
    """
    chosen = settings_from(settings, options)
    set_, tables = as_receiver(receiver, chosen), as_bands(bands)
    plain = replace(chosen, ahead=())
    noted, unread = read_evening(log, set_)
    answer_at: dict[tuple[int, str | None], Answer] = {}
    for entry in noted:
        # what may come in goes by setting and hour; what was noted is weighed below
        if (entry.dial_hz, entry.utc) not in answer_at:
            hour = replace(plain, utc=entry.utc) if entry.utc is not None else plain
            answer_at[entry.dial_hz, entry.utc] = suspects(
                set_, bands=tables, frequency=entry.dial_hz, settings=hour
            )
    answers = [answer_at[entry.dial_hz, entry.utc] for entry in noted]
    before = [answer.findings for answer in answers]
    alone = [
        findings.with_evidence(**vars(entry.seen)) for findings, entry in zip(before, noted, strict=True)
    ]
    whole_evening = Evening(
        tuple(noted), tuple(alone), tuple(common_causes(noted, before, alone)), set_.antenna_gain_db
    )
    first = answers[0]
    return Answer(
        receiver=first.receiver,
        settings={**plain.plain(), "log": str(log)},
        assumptions=(*unread, *first.assumptions, ALONE),
        cautions=cautions_of("suspects"),
        tables={
            "causes": table_of("causes", CAUSE_COLUMNS, _causes(whole_evening)),
            "lines": table_of("lines", LINE_COLUMNS, _lines(whole_evening)),
            "levels": table_of("levels", LEVEL_COLUMNS, whole_evening.levels()),
        },
        findings=whole_evening,
    )


def common_causes(
    noted: Sequence[Noted], before: Sequence[Findings], alone: Sequence[Findings]
) -> list[Common]:
    """Return the causes that explain several lines better together than each its own.

    Parameters
    ----------
    noted : the lines.
    before, alone : what each could be before its observations, and after them.

    Notes
    -----
    Of a cause k and lines A, with p what it is worth on a line before and w after its observations:

        log p_1(k) + sum over A of log w(k)/p(k) + (|A| - 1) log(common) - sum over A of log max w

    less, for each line without a sound on which k would be heard, log(1 - missed). The greatest first; its
    lines are taken, and the rest is asked again, until none gains `least_bits`.
    """
    rows = [i for i, entry in enumerate(noted) if entry.heard != NOTHING]
    silent = [i for i, entry in enumerate(noted) if entry.heard == NOTHING]
    was = [_Keyed(findings) for findings in before]
    now = [_Keyed(findings) for findings in alone]
    causes: list[Common] = []
    while True:
        keys = dict.fromkeys(key for i in rows for key in now[i].keys)
        tried = [_together(key, rows, silent, was, now) for key in keys]
        best = max(
            (cause for cause in tried if cause is not None), key=lambda cause: cause.gains_bits, default=None
        )
        if best is None or best.gains_bits < figure("log", "least_bits"):
            return causes
        causes.append(best)
        rows = [i for i in rows if i not in best.lines]


class _Keyed:
    """The suspects of one line by what makes a cause one with that of another line."""

    def __init__(self, findings: Findings) -> None:
        pairs = [(_key(ranked_way), ranked_way) for ranked_way in findings.ranked]
        self.ranked = [(key, ranked_way) for key, ranked_way in pairs if key is not None]
        self.best = findings.ranked[0].weight

    @property
    def keys(self) -> list[Key]:
        return [key for key, _ in self.ranked]

    def worth(self, key: Key) -> float:
        """Return the weight of all that may be that cause."""
        return sum(ranked_way.weight for other, ranked_way in self.ranked if _is_one(key, other))

    def first(self, key: Key) -> RankedWay:
        """Return the likeliest that may be that cause."""
        return next(ranked_way for other, ranked_way in self.ranked if _is_one(key, other))


def _key(ranked_way: RankedWay) -> Key | None:
    if ranked_way.way.cause in (CROSS, OVERLOAD):
        return "strong", ranked_way.who.label or ""
    if ranked_way.way.cause not in FROM_THE_AIR or ranked_way.listen_hz is None:
        return None
    return "on", ranked_way.listen_hz


def _is_one(key: Key, other: Key) -> bool:
    """Whether two causes are one: a dial is read to a kilohertz or two."""
    if key[0] == "on" and other[0] == "on":
        return abs(int(key[1]) - int(other[1])) <= figure("log", "same_station_hz")
    return key == other


def _together(
    key: Key, rows: Sequence[int], silent: Sequence[int], was: Sequence[_Keyed], now: Sequence[_Keyed]
) -> Common | None:
    """Return what one cause explains of the lines, and how much that gains; None for one line."""
    shared = math.log(figure("log", "common"))
    gains = []
    for i in rows:
        before, after = was[i].worth(key), now[i].worth(key)
        if before > 0.0 and after > 0.0:
            by_cause, own = math.log(after / before), math.log(now[i].best)
            if by_cause + shared > own:
                gains.append((by_cause - own, i))
    if len(gains) < 2:
        return None
    lines = tuple(i for _, i in gains)
    total = sum(gain for gain, _ in gains) + (len(gains) - 1) * shared
    total += math.log(max(was[i].worth(key) for i in lines))
    total += sum(math.log1p(-figure("log", "missed") * was[i].worth(key)) for i in silent)
    # who it is says the line on which it is likeliest
    likeliest = max((now[i].first(key) for i in lines), key=lambda ranked_way: ranked_way.weight)
    return Common(key, likeliest, likeliest.who, lines, total / math.log(2.0))


def _causes(whole_evening: Evening) -> list[dict[str, Any]]:
    return [
        {
            "rank": rank, "cause": cause.first.way.cause, "label": cause.who.label,
            "rf_hz": NULL_INT if cause.first.listen_hz is None else cause.first.listen_hz,
            "lines": [whole_evening.noted[i].line for i in cause.lines], "gains_bits": cause.gains_bits,
        }
        for rank, cause in enumerate(whole_evening.common, start=1)
    ]  # fmt: skip


def _lines(whole_evening: Evening) -> list[dict[str, Any]]:
    by_line = {
        i: (rank, cause) for rank, cause in enumerate(whole_evening.common, start=1) for i in cause.lines
    }
    out = []
    for i, noted in enumerate(whole_evening.noted):
        record: dict[str, Any] = {column.name: None for column in LINE_COLUMNS}
        record |= {
            "line": noted.line, "dial_hz": noted.dial_hz, "heard": noted.heard,
            "explained_by": by_line[i][0] if i in by_line else NULL_INT, "rf_hz": NULL_INT,
        }  # fmt: skip
        if noted.heard != NOTHING:
            top = whole_evening.explained(i)
            record |= {
                "cause": top.way.cause, "response": top.way.response, "label": top.who.label,
                "rf_hz": NULL_INT if top.listen_hz is None else top.listen_hz, "weight": top.weight,
            }  # fmt: skip
        out.append(record)
    return out


def _of_cause(findings: Findings, key: Key) -> RankedWay:
    return _Keyed(findings).first(key)

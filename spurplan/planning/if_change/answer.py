"""if_change: would another intermediate frequency be better in this set?"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from spurplan import units
from spurplan.cautions import cautions_of
from spurplan.columns import Answer, Column, Table, table_of
from spurplan.errors import Fault, Refused
from spurplan.occupancy.occupants import Occupants
from spurplan.planning.if_change.proposals import (
    FIRST_FILTER_HZ,
    FIRST_SHAPE_FACTOR,
    Asked,
    Proposal,
    asked_for,
    proposals,
    with_change,
)
from spurplan.planning.if_change.rejection import rejection_table
from spurplan.planning.if_change.rows import PROPOSAL_COLUMNS, Row, radiates_table, rows_of
from spurplan.planning.if_change.scan import scanned
from spurplan.planning.if_change.scan_list import scan_table
from spurplan.planning.if_change.tracking import TRACKING_COLUMNS, tracking_rows
from spurplan.planning.if_change.usual import filters_near
from spurplan.planning.if_change.verdict import verdict
from spurplan.planning.judging import judge
from spurplan.planning.tally import Progress
from spurplan.receiver.chain import compile_chains
from spurplan.receiver.description import Range, Receiver, Trap
from spurplan.responses.asking import (
    BandsLike,
    ReceiverLike,
    Settings,
    SpanLike,
    as_bands,
    as_receiver,
    occupants_of,
    own_arithmetic,
    picked_ranges,
    settings_from,
)
from spurplan.responses.remarks import assumptions_of, listed_share
from spurplan.units import checked_progress, hz_text, several

# A trap this near the IF is there because of it.
TRAP_ON_IF = 0.03
MOST_IFS = 100

FILTER_COLUMNS = (
    Column("if_hz", "int", "Hz", False, "IF", "the IF proposed"),
    Column("made_for_hz", "int", "Hz", False, "Made for", "the usual IF beside it that filters are made for"),
    Column("used_in", "text", "", False, "Used in", "where that IF is used"),
    Column("filters", "text", "", False, "Filters", "filters made for it, with their -6 dB bandwidths"),
    Column("source", "text", "", False, "", "where that was read"),
)


LEAST_REJECTION_DB = 0.1


@dataclass(frozen=True)
class IfChange:
    """An answer, and the set it proposes.

    Attributes
    ----------
    answer : Answer.
    proposed : Receiver. The set with the best of the changes asked for; as it is where none was.
    """

    answer: Answer
    proposed: Receiver


@own_arithmetic
def if_change(
    receiver: ReceiverLike,
    bands: BandsLike = None,
    *,
    if_: int | str | Sequence[int | str] = (),
    first_if: int | str | None = None,
    scan: SpanLike | None = None,
    rejection: float | str | None = None,
    progress: Progress | None = None,
    settings: Settings | None = None,
    **options: Any,
) -> Answer:
    """Compare other intermediate frequencies with the present one, range by range.

    Parameters
    ----------
    receiver : Receiver, or path of a receiver file.
    bands : Bands, path, several paths, or None for the shipped tables.
    if_ : int, text with its unit, "RANGE=FREQ" for one range alone, or several of them. [Hz]
    first_if : int, text or None. First IF of a double conversion. [Hz]
    scan : "LOW:HIGH" or (low, high), or None. Evaluates every IF on a fine grid. [Hz]
    rejection : float, text or None. Image rejection to reach: which Q, how many
        circuits, which IF gives it. [dB]
    progress : called with (IFs scanned, IFs in all) where they are scanned, or None.
    settings, options : see `Settings`.

    Returns
    -------
    Answer with the tables `proposals` (one record a range and proposal, the present IF
    first), `tracking`, `radiates` and `filters`; with `rejection` also `rejection`, with
    `scan` also `scan`.

    Raises
    ------
    Refused  for a bad file, an IF that no range can have, or nothing asked.
    """
    return worked_out(
        receiver, bands, if_=if_, first_if=first_if, scan=scan, rejection=rejection,
        progress=progress, settings=settings, **options,
    ).answer  # fmt: skip


def worked_out(
    receiver: ReceiverLike,
    bands: BandsLike = None,
    *,
    if_: int | str | Sequence[int | str] = (),
    first_if: int | str | None = None,
    scan: SpanLike | None = None,
    rejection: float | str | None = None,
    progress: Progress | None = None,
    settings: Settings | None = None,
    **options: Any,
) -> IfChange:
    """Return the answer of `if_change` and the set it proposes."""
    checked_progress(progress)
    chosen = settings_from(settings, options)
    set_ = as_receiver(receiver, chosen)
    picked = picked_ranges(set_, chosen.range)
    asked = _asked(set_, if_, first_if, something_else=scan is not None or rejection is not None)
    _refuse_other_ranges(asked, picked)
    occupants = occupants_of(set_, as_bands(bands), chosen)
    span = None if scan is None else units.span_hz(scan, "--scan")
    found = None if span is None else scanned(set_, picked, span, occupants, chosen, progress=progress)
    listed = None if found is None else scan_table(found, set_, picked, occupants, chosen)
    if listed is not None and len(listed):
        # the best of them is worked out like one that was asked about
        asked = tuple(dict.fromkeys((*asked, Asked(if_hz=int(listed["if_hz"][0])))))
    made = proposals(set_, picked, asked)
    possible = [one for one in made if one.receiver is not None]
    judged = judge([one.pair for one in possible], occupants, chosen)
    rows = rows_of(made, dict(zip(map(id, possible), judged, strict=True)), occupants, chosen)
    best = _best(rows, asked, picked)
    tables = {
        "proposals": _proposal_table(rows, chosen),
        "tracking": table_of(
            "tracking", TRACKING_COLUMNS, [row for one in possible for row in tracking_rows(one)]
        ),
        "radiates": radiates_table(rows, occupants),
        "filters": _filters(rows),
    }
    if listed is not None:
        # what was asked for comes first
        tables = {"scan": listed, **tables}
    if rejection is not None:
        wanted_db = units.db(rejection, "--rejection", low=LEAST_REJECTION_DB)
        tables["rejection"] = rejection_table(set_, picked, wanted_db)
    answer = Answer(
        receiver=set_.name,
        settings={
            **chosen.plain(),
            "region": chosen.region if chosen.region is not None else set_.region,
            "if": [one.said for one in asked if one.if_hz is not None and not one.other_side],
            "first_if": next((one.first_if_hz for one in asked if one.first_if_hz is not None), None),
            "best": best.said,
            "scan_low_hz": None if span is None else span[0],
            "scan_high_hz": None if span is None else span[1],
            "scan_step_hz": None if found is None else found.step_hz,
            "scanned": None if found is None else len(found.if_hz),
        },
        assumptions=_assumptions(set_, chosen, made, occupants),
        cautions=cautions_of("if-change"),
        tables=tables,
    )
    return IfChange(answer, _with_what_was_asked(set_, asked, rows, picked))


def _proposal_table(rows: Sequence[Row], settings: Settings) -> Table:
    present = {row.proposal.range.name: row for row in rows if row.proposal.asked.present}
    records = [
        {**row.record(), "verdict": verdict(row, present[row.proposal.range.name], settings)} for row in rows
    ]
    return table_of("proposals", PROPOSAL_COLUMNS, records)


def _asked(
    receiver: Receiver,
    ifs: int | str | Iterable[int | str],
    first_if: int | str | None,
    *,
    something_else: bool,
) -> tuple[Asked, ...]:
    listed: list[Any] = list(ifs) if several(ifs) else [ifs]
    if not listed and first_if is None and not something_else:
        remedy = "give --if 1600kHz, --first-if 10.7MHz, --scan 400kHz:12MHz or --rejection 40"
        raise Refused(Fault("--if", "nothing is asked", remedy=remedy))
    if len(listed) > MOST_IFS:
        remedy = "take --scan LOW:HIGH for many"
        raise Refused(Fault("--if", f"are more than {MOST_IFS} proposals", str(len(listed)), remedy))
    return asked_for(receiver, listed, first_if)


def _refuse_other_ranges(asked: Sequence[Asked], picked: Sequence[Range]) -> None:
    """Refuse an IF for one range alone where that range is not asked about.

    Raises
    ------
    Refused  with every such IF.
    """
    faults = []
    for ask in asked:
        name = ask.range_name
        if name is not None and not ask.other_side and all(one.name != name for one in picked):
            value = None if ask.if_hz is None else f"{name}={hz_text(ask.if_hz)}"
            faults.append(Fault("--if", "is for a range that --range leaves out", value, "drop one of them"))
    if faults:
        raise Refused(faults)


def _best(rows: Sequence[Row], asked: Sequence[Asked], picked: Sequence[Range]) -> Asked:
    """Return the change, or none, that leaves most of the ranges clear; the present one among equals."""
    return max(asked, key=lambda ask: _clear_hz(ask, rows, picked))


def _clear_hz(ask: Asked, rows: Sequence[Row], picked: Sequence[Range]) -> int:
    """Return how much dial a change leaves clear, over all ranges asked about. [Hz]

    Notes
    -----
    What can not be made on a range leaves nothing of it clear; a change meant for one
    range leaves the others as they are.
    """
    total = 0
    for one in picked:
        meant = ask if ask.on(one.name) else Asked()
        fates = [r.fate for r in rows if r.proposal.asked == meant and r.proposal.range.name == one.name]
        total += sum(fate.clear_hz for fate in fates if fate is not None)
    return total


def _with_what_was_asked(
    receiver: Receiver, asked: Sequence[Asked], rows: Sequence[Row], picked: Sequence[Range]
) -> Receiver:
    """Return the set with the best of what was asked for, on the ranges asked about.

    Notes
    -----
    Among the changes for all ranges the one that leaves most of them clear, on those that
    can have it; then, for each range that was given an IF of its own, the best of those.
    The other side of the oscillator is proposed and not made: nobody asked for it.
    """
    whole = [ask for ask in asked if not ask.other_side and not ask.present and ask.range_name is None]
    if whole:
        best = max(whole, key=lambda ask: _clear_hz(ask, rows, picked))
        able = [r.proposal.range.name for r in rows if r.proposal.asked == best and r.fate is not None]
        everywhere = len(able) == len(receiver.ranges)
        for name in (None,) if everywhere else able:
            receiver = with_change(receiver, best, name)
    for one in picked:
        own = [ask for ask in asked if not ask.other_side and ask.range_name == one.name]
        if own:
            receiver = with_change(receiver, max(own, key=lambda ask: _clear_hz(ask, rows, [one])))
    return receiver


def _filters(rows: Sequence[Row]) -> Table:
    """Return the filters made for the IFs, the first ones too."""
    ifs = dict.fromkeys(hz for row in rows for hz in (row.if_hz, row.first_if_hz) if hz is not None)
    records = [
        {
            "if_hz": if_hz,
            "made_for_hz": usual.if_hz,
            "used_in": usual.used_in,
            "filters": usual.filters,
            "source": usual.source,
        }
        for if_hz in ifs
        for usual in filters_near(if_hz)
    ]
    return table_of("filters", FILTER_COLUMNS, records)


def _assumptions(
    receiver: Receiver, settings: Settings, made: Sequence[Proposal], occupants: Occupants
) -> tuple[str, ...]:
    present = [one for one in made if one.asked.present]
    chains = compile_chains([one.pair for one in present])
    said = assumptions_of(receiver, settings, chains, occupants, listed_share(occupants))
    widths = sorted({one.before_hz[1] for one in present})
    said.append(
        f"the last filter keeps its width of {' or '.join(map(hz_text, widths))} at any IF; "
        "same-coil bandwidth says what the present coils would give"
    )
    if any(one.asked.first_if_hz is not None for one in made):
        said.append(
            f"behind a new first IF: a filter of {hz_text(FIRST_FILTER_HZ)} (the final width where that is "
            f"more), shape factor {FIRST_SHAPE_FACTOR:g}; a second mixer like the first, its oscillator "
            "below the first IF"
        )
    said += _traps(present)
    return tuple(said)


def _traps(present: Sequence[Proposal]) -> list[str]:
    """Say which traps stand on the present IF: they stay there."""
    said = []
    for one in present:
        if_hz = one.before_hz[0]
        traps = [e.trap_hz for e in one.range.front_end or () if isinstance(e, Trap)]
        on_it = [hz for hz in traps if abs(hz - if_hz) <= TRAP_ON_IF * if_hz]
        if on_it:
            said.append(
                f"range {one.range.name}: the IF trap on {hz_text(on_it[0])} stays where it is; "
                "move it with the IF"
            )
    return said

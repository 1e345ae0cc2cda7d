"""if_change: would another intermediate frequency be better in this set?"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Any

from spurplan import units
from spurplan.cautions import cautions_of
from spurplan.columns import Answer, Column, Table, table_of
from spurplan.errors import Fault, Refused
from spurplan.occupancy.bands import in_tables
from spurplan.occupancy.occupants import Occupants
from spurplan.planning.if_change.findings import Findings
from spurplan.planning.if_change.nearby import nearby_if
from spurplan.planning.if_change.oscillator import TRACKING_COLUMNS, tracking_rows
from spurplan.planning.if_change.proposal_table import (
    PROPOSAL_COLUMNS,
    Assessment,
    assessments_of,
    radiates_table,
)
from spurplan.planning.if_change.proposals import (
    FIRST_FILTER_HZ,
    FIRST_SHAPE_FACTOR,
    Asked,
    Proposal,
    asked_for,
    proposals,
)
from spurplan.planning.if_change.rejection import rejection_table
from spurplan.planning.if_change.scan import axis_of, scanned
from spurplan.planning.if_change.scan_list import pick_of, scan_list, scan_table
from spurplan.planning.if_change.usual import filters_near
from spurplan.planning.outlook import HOUR, outlooks
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
    hour_settings,
    in_set,
    occupants_of,
    picked_ranges,
    public_question,
    ranges_in,
    settings_from,
)
from spurplan.responses.assumptions import assumptions_of, listed_share
from spurplan.units import FrequencyLike, Where, checked_progress, hz_text, several

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


@public_question
def if_change(
    receiver: ReceiverLike,
    *,
    bands: BandsLike = None,
    if_: FrequencyLike | Sequence[FrequencyLike] = (),
    first_if: FrequencyLike | None = None,
    scan: SpanLike | None = None,
    rejection: float | str | None = None,
    cover: SpanLike | None = None,
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
    scan : "LOW:HIGH" or (low, high), or None. Tries the usual IFs of a span and some
        hundreds more. [Hz]
    rejection : float, text or None. Image rejection to reach: which Q, how many
        circuits, which IF gives it. [dB]
    cover : "LOW:HIGH" or (low, high): the stretch that matters; all of the ranges where None. [Hz]
    progress : called with (IFs scanned, IFs in all) where they are scanned, or None.
    settings, options : see `Settings`.

    Returns
    -------
    Answer with the tables `proposals` (one record a range and proposal, the present IF
    first), `tracking`, `radiates` and `filters`; with `rejection` also `rejection`, with
    `scan` also `scan`. Its `findings` are `Findings`.

    Raises
    ------
    Refused  for a bad file, an IF that no range can have, a cover the set can not tune, or nothing asked.
    """
    checked_progress(progress)
    chosen = settings_from(settings, options)
    set_ = as_receiver(receiver, chosen)
    known = as_bands(bands)
    stretch = None if cover is None else units.span_hz(cover, "--cover", in_set(set_))
    picked = ranges_in(picked_ranges(set_, chosen.range), stretch)
    changes = _asked(
        set_, in_tables(known), if_, first_if, something_else=scan is not None or rejection is not None
    )
    _refuse_other_ranges(changes, picked)
    occupants = occupants_of(set_, known, chosen)
    span = None if scan is None else units.span_hz(scan, "--scan", in_tables(known))
    axis = axis_of(set_, picked, occupants, chosen, stretch)
    scan_ = None if span is None else scanned(axis, span, progress)
    listed = () if scan_ is None else scan_list(scan_, axis, set_, occupants)
    best_hz, named = pick_of(listed), changes
    if best_hz is not None:
        # worked out like one that was asked about
        changes = tuple(
            dict.fromkeys((*changes, Asked(if_hz=best_hz), Asked(if_hz=best_hz, other_side=True)))
        )
    made = proposals(set_, picked, changes)
    possible = [proposal for proposal in made if proposal.receiver is not None]
    judged = iter(outlooks([proposal.pair for proposal in possible], axis.place, chosen, stretch))
    by_proposal = [None if proposal.receiver is None else next(judged) for proposal in made]
    assessments = assessments_of(made, by_proposal, occupants, chosen)
    findings = Findings(set_, tuple(picked), changes, tuple(assessments), scan_, listed, stretch)
    if findings.kept:
        findings = replace(findings, nearby=nearby_if(axis, set_, named))
    tables = {
        "proposals": table_of(
            "proposals", PROPOSAL_COLUMNS, [assessment.record() for assessment in assessments]
        ),
        "tracking": table_of(
            "tracking", TRACKING_COLUMNS, [row for proposal in possible for row in tracking_rows(proposal)]
        ),
        "radiates": radiates_table(assessments, occupants),
        "filters": _filters(assessments),
    }
    if scan_ is not None:
        # what was asked for comes first
        tables = {"scan": scan_table(listed), **tables}
    if rejection is not None:
        wanted_db = units.db(rejection, "--rejection", low=LEAST_REJECTION_DB)
        tables["rejection"] = rejection_table(set_, picked, wanted_db)
    return Answer(
        receiver=set_.name,
        settings={
            **chosen.plain(),
            **hour_settings(set_, chosen),
            "activity": HOUR,
            "region": chosen.region if chosen.region is not None else set_.region,
            "if": [change.text for change in changes if change.if_hz is not None and not change.other_side],
            "first_if": next(
                (change.first_if_hz for change in changes if change.first_if_hz is not None), None
            ),
            "best": findings.text,
            "cover_low_hz": None if stretch is None else stretch[0],
            "cover_high_hz": None if stretch is None else stretch[1],
            "scan_low_hz": None if span is None else span[0],
            "scan_high_hz": None if span is None else span[1],
            "scanned": None if scan_ is None else len(scan_.if_hz),
        },
        assumptions=_assumptions(set_, chosen, made, occupants),
        cautions=cautions_of("if-change"),
        tables=tables,
        findings=findings,
    )


def _asked(
    receiver: Receiver,
    where: Where,
    ifs: FrequencyLike | Iterable[FrequencyLike],
    first_if: FrequencyLike | None,
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
    return asked_for(receiver, listed, first_if, where)


def _refuse_other_ranges(changes: Sequence[Asked], picked: Sequence[Range]) -> None:
    """Refuse an IF for one range alone where that range is not asked about.

    Raises
    ------
    Refused  with every such IF.
    """
    faults = []
    for ask in changes:
        name = ask.range_name
        if name is not None and not ask.other_side and all(range_.name != name for range_ in picked):
            value = None if ask.if_hz is None else f"{name}={hz_text(ask.if_hz)}"
            faults.append(
                Fault("--if", "is for a range that --range or --cover leaves out", value, "drop one of them")
            )
    if faults:
        raise Refused(faults)


def _filters(rows: Sequence[Assessment]) -> Table:
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
    present = [proposal for proposal in made if proposal.change.present]
    chains = compile_chains([proposal.pair for proposal in present])
    assumptions = assumptions_of(receiver, settings, chains, occupants, listed_share(occupants))
    widths = sorted({proposal.before_hz[1] for proposal in present})
    assumptions.append(
        f"the last filter keeps its width of {' or '.join(map(hz_text, widths))} at any IF; "
        "same-coil bandwidth says what the present coils would give"
    )
    if any(proposal.change.first_if_hz is not None for proposal in made):
        assumptions.append(
            f"behind a new first IF: a filter of {hz_text(FIRST_FILTER_HZ)} (the final width where that is "
            f"more), shape factor {FIRST_SHAPE_FACTOR:g}; a second mixer like the first, its oscillator "
            "below the first IF"
        )
    assumptions += _traps(present)
    return tuple(assumptions)


def _traps(present: Sequence[Proposal]) -> list[str]:
    """Say which traps stand on the present IF: they stay there."""
    sentences = []
    for proposal in present:
        if_hz = proposal.before_hz[0]
        traps = [e.trap_hz for e in proposal.range.front_end or () if isinstance(e, Trap)]
        on_it = [hz for hz in traps if abs(hz - if_hz) <= TRAP_ON_IF * if_hz]
        if on_it:
            sentences.append(
                f"range {proposal.range.name}: the IF trap on {hz_text(on_it[0])} stays where it is; "
                "move it with the IF"
            )
    return sentences

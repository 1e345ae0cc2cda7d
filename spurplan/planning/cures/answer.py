"""cures: what a preselector, a circuit, a trap, a pad, another IF or a converter would clear."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from spurplan.cautions import cautions_of
from spurplan.columns import Answer, Column, table_of
from spurplan.errors import Fault, Refused, did_you_mean
from spurplan.occupancy.occupants import Occupants
from spurplan.planning.converter.question import as_covers
from spurplan.planning.cures.file import MOST_EFFORT, Cure, cures_in_use
from spurplan.planning.cures.findings import Findings, helps, merit, spoils
from spurplan.planning.cures.trials import Bench, Tried
from spurplan.planning.judging import JointReception
from spurplan.planning.tally import Progress
from spurplan.receiver.chain import compile_chains
from spurplan.receiver.changes import with_range
from spurplan.receiver.changes.edits import range_named
from spurplan.receiver.description import Range, Receiver
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
from spurplan.units import checked_progress, hz_text, is_number

CURE_COLUMNS = (
    Column(
        "rank", "int", "", False, "Rank", "1 for the best: most spoilt dial cleared for each unit of effort"
    ),
    Column("cure", "text", "", False, "Cure", "what is done; two cures with a plus sign"),
    Column("clear_share_before", "float", "", False, "Clear now", "clear part (0 to 1) as it is"),
    Column("clear_share_after", "float", "", False, "Clear then", "clear part with the cure"),
    Column("unknown_share_before", "float", "", False, "", "part where the tables can not tell, as it is"),
    Column("unknown_share_after", "float", "", False, "", "part where they can not, with the cure"),
    Column("intrusions_before", "int", "", False, "", "occupants heard, once for each way in, as it is"),
    Column("intrusions_after", "int", "", False, "Left", "the same with the cure"),
    Column("worst_label", "text", "", True, "Worst left", "the intruder with the greatest margin"),
    Column("worst_margin_db", "float", "dB", True, "Margin", "its margin over the floor"),
    Column("effort", "float", "", False, "Effort", "how much work it is, against the others"),
    Column("not_cured", "list", "", False, "Not cured", "what is left, the loudest by each way in"),
    Column("note", "text", "", True, "", "what to know about it"),
)

MOST_NAMED = 4


@own_arithmetic
def cures(
    receiver: ReceiverLike,
    bands: BandsLike = None,
    *,
    cover: SpanLike | None = None,
    effort: Mapping[str, float | str] | None = None,
    cures: str | Path | None = None,
    progress: Progress | None = None,
    settings: Settings | None = None,
    **options: Any,
) -> Answer:
    """Compare what can be done against stations heard where they are not, on one scale.

    Parameters
    ----------
    receiver : Receiver, or path of a receiver file.
    bands : Bands, path, several paths, or None for the shipped tables.
    cover : "LOW:HIGH" or (low, high): the part of the dial that matters; all of it
        where None. A converter is tried only for a cover. [Hz]
    effort : mapping of the name of a cure to its effort.
    cures : path of a file with cures of one's own, beside those that ship.
    progress : called with (trials done, trials in all), or None.
    settings, options : see `Settings`; `range` names the one range to cure.

    Returns
    -------
    Answer with the table `cures`: every cure, and every two that each do something by
    themselves, the best for the least first. Its `findings` are `Findings`.

    Raises
    ------
    Refused  for a bad file, a cover the set can not tune, an effort for no cure.

    Notes
    -----
    Each cure is carried out on the description of the set, and the set asked again:
    the figures are those of `ranges` for the set so changed.
    """
    checked_progress(progress)
    chosen = settings_from(settings, options)
    set_ = as_receiver(receiver, chosen)
    tables = as_bands(bands)
    listed = with_efforts(cures_in_use(cures), effort)
    picked = picked_ranges(set_, chosen.range)
    span = None if cover is None else _one_cover(cover)
    cut, names = cut_to(set_, picked, span)
    occupants = occupants_of(set_, tables, chosen)
    bench = Bench(cut, set_, names, span, occupants, chosen, tables, progress)
    present = bench.reception(cut, names)
    ways = bench.singles(listed)
    tried = iter(bench.tried([trial for trials in ways for trial in trials]))
    # the best way of carrying out each cure
    singles = [
        min([next(tried) for _ in trials], key=lambda one: spoils(one.reception)) for trials in ways if trials
    ]
    pairs = bench.pairs([one.trial for one in singles if helps(one.reception, present)])
    order = sorted([*singles, *bench.tried(pairs)], key=lambda one: merit(one, present))
    findings = Findings(names, span, present, tuple(order), tuple(bench.not_tried))
    records = [_record(rank, one, present) for rank, one in enumerate(order, start=1)]
    return Answer(
        receiver=set_.name,
        settings={
            **chosen.plain(),
            "region": chosen.region if chosen.region is not None else set_.region,
            "cover_low_hz": None if span is None else span[0],
            "cover_high_hz": None if span is None else span[1],
            "effort": {cure.name: cure.effort for cure in listed},
            "not_tried": [one.text for one in findings.not_tried],
            "unknown_share": present.unknown_share,
        },
        assumptions=_assumptions(cut, chosen, names, occupants),
        cautions=cautions_of("cures"),
        tables={"cures": table_of("cures", CURE_COLUMNS, records)},
        findings=findings,
    )


def with_efforts(listed: Sequence[Cure], effort: Mapping[str, float | str] | None) -> tuple[Cure, ...]:
    """Return the cures with other efforts.

    Raises
    ------
    Refused  for a name that is no cure, or what is no sensible number; all at once.
    """
    given: dict[str, float] = {}
    faults: list[Fault] = []
    names = [cure.name for cure in listed]
    if effort is not None and not isinstance(effort, Mapping):
        remedy = 'give a mapping, as {"10 dB pad": 1}'
        raise Refused(Fault("--effort", "is no effort of a cure", str(effort), remedy))
    for name, value in (effort or {}).items():
        if name not in names:
            faults.append(Fault("--effort", "is no cure", str(name), did_you_mean(str(name), names)))
            continue
        number = _effort_of(value)
        if not 0.0 < number <= MOST_EFFORT:
            rule, remedy = "is no sensible effort", f"give more than 0, up to {MOST_EFFORT:g}"
            faults.append(Fault("--effort", rule, f"{name}={value}", remedy))
            continue
        given[name] = number
    if faults:
        raise Refused(faults)
    return tuple(cure.unchecked(effort=given.get(cure.name, cure.effort)) for cure in listed)


def _effort_of(value: object) -> float:
    """Return a number, or the number that text tells; not a number for anything else."""
    if is_number(value):
        return value
    try:
        return float(value) if isinstance(value, str) else math.nan
    except ValueError:
        return math.nan


def _one_cover(cover: SpanLike) -> tuple[int, int]:
    covers = as_covers(cover)
    if len(covers) > 1:
        raise Refused(Fault("--cover", "is more than one stretch", remedy="ask about one at a time"))
    return covers[0]


def cut_to(
    receiver: Receiver, picked: Sequence[Range], span: tuple[int, int] | None
) -> tuple[Receiver, tuple[str, ...]]:
    """Return the set with its ranges cut to a stretch, and the names of those that tune some of it.

    Raises
    ------
    Refused  when none does.
    """
    if span is None:
        return receiver, tuple(one.name for one in picked)
    names = []
    for one in picked:
        low, high = max(one.low_hz, span[0]), min(one.high_hz, span[1])
        if low < high:
            receiver = with_range(receiver, one.name, low_hz=low, high_hz=high)
            names.append(one.name)
    if not names:
        tuned = ", ".join(f'"{one.name}" {hz_text(one.low_hz)} to {hz_text(one.high_hz)}' for one in picked)
        value = f"{hz_text(span[0])} to {hz_text(span[1])}"
        raise Refused(Fault("--cover", "is on no range of the set", value, f"it tunes {tuned}"))
    return receiver, tuple(names)


def _record(rank: int, one: Tried, present: JointReception) -> dict[str, Any]:
    worst = one.reception.worst
    return {
        "rank": rank,
        "cure": one.trial.name,
        "clear_share_before": present.clear_share,
        "clear_share_after": one.reception.clear_share,
        "unknown_share_before": present.unknown_share,
        "unknown_share_after": one.reception.unknown_share,
        "intrusions_before": present.intrusions,
        "intrusions_after": one.reception.intrusions,
        "worst_label": None if worst is None else worst.label,
        "worst_margin_db": None if worst is None else worst.margin_db,
        "effort": one.trial.effort,
        "not_cured": [way.text for way in one.not_cured[:MOST_NAMED]],
        "note": one.trial.note,
    }


def _assumptions(
    receiver: Receiver, settings: Settings, names: Sequence[str], occupants: Occupants
) -> tuple[str, ...]:
    chains = compile_chains([(receiver, range_named(receiver, name)) for name in names])
    return (
        *assumptions_of(receiver, settings, chains, occupants, listed_share(occupants)),
        "efforts are estimates; --effort NAME=N sets one",
        "a rank says how much of the dial is cleared for each unit of effort; two cures are put together "
        "where each does something by itself",
        "what a cure does against blocking and cross-modulation is not judged",
    )

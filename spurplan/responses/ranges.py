"""What intrudes across the tuning ranges."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from spurplan import units
from spurplan.columns import Answer
from spurplan.receiver.chain import compile_chains
from spurplan.responses.answering import answer_of, responding
from spurplan.responses.asking import (
    BandsLike,
    ReceiverLike,
    Settings,
    SpanLike,
    as_bands,
    as_receiver,
    in_set,
    loudest_typical_dbm,
    occupants_of,
    picked_ranges,
    public_question,
    ranges_in,
    settings_from,
)
from spurplan.responses.intrusion_table import intruding
from spurplan.responses.listening.dial_words import DialVerdict
from spurplan.responses.listening.findings import CoverFinding, RangeFinding
from spurplan.responses.listening.judged import judge_cover, judge_evening_too, place_of
from spurplan.responses.pairs.records import made_together, with_together
from spurplan.responses.range_tables import loudest_by_range, range_tables


@public_question
def ranges(
    receiver: ReceiverLike,
    *,
    bands: BandsLike = None,
    cover: SpanLike | None = None,
    settings: Settings | None = None,
    **options: Any,
) -> Answer:
    """Return what intrudes across the tuning ranges, with the exact stretches of dial.

    Parameters
    ----------
    receiver, bands, settings, options : as in `dial`.
    cover : (low, high), text as "28MHz:29.7MHz", or None. That stretch alone, and whether it is usable. [Hz]

    Returns
    -------
    Answer with the tables `intrusions`, `ranges` (one record a range) and `unknown` (where
    nothing is heard, but the tables can not tell); with ``intermodulation`` also `pairs` and `triples`.

    Raises
    ------
    Refused  for a bad file or option, and a cover that the set can not tune.
    """
    chosen = settings_from(settings, options)
    set_ = as_receiver(receiver, chosen)
    span = None if cover is None else units.span_hz(cover, "--cover", in_set(set_))
    picked = ranges_in(picked_ranges(set_, chosen.range), span)
    occupants = occupants_of(set_, as_bands(bands), chosen)
    here = place_of(set_, occupants, chosen)
    presence = here.air(chosen.activity).presence
    responses = []
    findings: dict[str, RangeFinding] = {}
    busy: dict[str, RangeFinding] = {}
    covers: list[CoverFinding] = []
    compiled = compile_chains([(set_, r) for r in picked])
    groups = compiled if span is None else [chains.within(span) for chains in compiled]
    # where that is too much it is refused before anything else is worked out
    made = made_together(groups, occupants, chosen)
    for whole, chains in zip(compiled, groups, strict=True):
        here_covers = [] if span is None else judge_cover(whole, here, chosen, span)
        covers += here_covers
        responses.append(responding(set_, chains, occupants, chosen, presence))
        for finding, evening in judge_evening_too(whole, here, chosen, chosen.activity, here_covers, span):
            findings[finding.range], busy[finding.range] = finding, evening
    answer = answer_of("ranges", set_, chosen, responses, occupants)
    shown = [intruding(r) for r in responses]
    loudest = loudest_by_range(shown)
    findings = {name: replace(finding, loudest=loudest.get(name)) for name, finding in findings.items()}
    summary = range_tables(picked, shown, findings, busy, chosen, loudest_typical_dbm(set_), made)
    names = [range_.name for range_ in picked]
    of_set = DialVerdict(tuple(busy[name] for name in names)), *(findings[name] for name in names)
    answer = replace(
        answer, tables={**answer.tables, **summary}, findings=tuple(covers) if covers else of_set
    )
    return with_together(answer, groups, occupants, chosen, made)

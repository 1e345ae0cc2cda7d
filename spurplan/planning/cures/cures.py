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
from spurplan.planning.cures.cure_list import MOST_EFFORT, Cure, cures_in_use
from spurplan.planning.cures.findings import AS_GOOD_AS_ALL, Findings, Step, ordered
from spurplan.planning.cures.trials import CureTrials, Trial, Tried
from spurplan.planning.decision import Comparison
from spurplan.planning.outlook import HOUR, Together, place_of
from spurplan.planning.tally import Progress
from spurplan.receiver.chain import compile_chains
from spurplan.receiver.changes.edits import range_named
from spurplan.receiver.description import Receiver
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
from spurplan.responses.listening.findings import Loss
from spurplan.units import Where, checked_progress, is_number, pythons_own, share_text

_SHARES = (
    Column("usable_before", "float", "", False, "Now", "usable part (0 to 1) on a busy evening before it"),
    Column("usable_after", "float", "", False, "Usable", "the same with it"),
    Column("usable_gain", "float", "", False, "Gain", "what it gains on the mean of the worlds"),
    Column("usable_gain_low", "float", "", False, "", "low end of that: less in one world of ten"),
    Column("usable_gain_high", "float", "", False, "", "high end of that: more in one world of ten"),
    Column("better_in", "float", "", False, "", "part of the worlds in which it is better"),
    Column("effort", "float", "", False, "Evenings", "how many evenings it takes, an estimate"),
)
CURE_COLUMNS = (
    Column("rank", "int", "", False, "Rank", "1 for the one recommended; then what is not told from it"),
    Column("cure", "text", "", False, "Cure", "what is done"),
    *_SHARES,
    Column("recommended", "bool", "", False, "", "whether it is the best for the least"),
    Column("not_told_from", "list", "", False, "", "cures that can not be told from it in what they gain"),
    Column("unknown_share_before", "float", "", False, "", "part where the tables can not tell, as it is"),
    Column("unknown_share_after", "float", "", False, "", "part where they can not, with the cure"),
    Column(
        "unlisted_share_before", "float", "", False, "",
        "part besides where the tables list hardly anybody who could come in by an image, as it is",
    ),
    Column("unlisted_share_after", "float", "", False, "", "part where they do not, with the cure"),
    Column("not_cured", "list", "", False, "Not cured", "who still takes most, by which way in"),
    Column("note", "text", "", True, "", "what to know about it"),
    Column("values", "list", "", False, "", "coils and capacitors of what stands ahead of the set"),
)  # fmt: skip
PLAN_COLUMNS = (
    Column("step", "int", "", False, "Step", "from 1; each on top of those before it"),
    Column("cure", "text", "", False, "Cure", "what is done"),
    *_SHARES,
)

MOST_NAMED = 4
# a plan of more is another set
MOST_STEPS = 3


@public_question
def cures(
    receiver: ReceiverLike,
    *,
    bands: BandsLike = None,
    cover: SpanLike | None = None,
    effort: Mapping[str, float | str] | None = None,
    cures: str | Path | None = None,
    progress: Progress | None = None,
    settings: Settings | None = None,
    **options: Any,
) -> Answer:
    """Compare what can be done for a set, by what of its dial is usable on a busy evening.

    Parameters
    ----------
    receiver : Receiver, or path of a receiver file.
    bands : Bands, path, several paths, or None for the shipped tables.
    cover : "LOW:HIGH" or (low, high): the stretch that matters; all of the dial
        where None. A converter is tried only for a cover. [Hz]
    effort : mapping of the name of a cure to its effort.
    cures : path of a file with cures of one's own, beside those that ship.
    progress : called with (trials done, trials in all), or None.
    settings, options : see `Settings`; `range` names the one range to cure.

    Returns
    -------
    Answer with the table `cures`: every cure and design, the one recommended first, and the table
    `plan`: what to do one after the other, where anything is worth it. Its `findings` are `Findings`.

    Raises
    ------
    Refused  for a bad file, a cover the set can not tune, an effort for no cure.

    Notes
    -----
    Each cure is carried out on the description of the set, and the set judged again in the same worlds:
    the figures are those of `ranges` for the set so changed, on a busy evening.
    """
    checked_progress(progress)
    chosen = settings_from(settings, options)
    set_ = as_receiver(receiver, chosen)
    tables = as_bands(bands)
    listed = with_efforts(cures_in_use(cures), effort)
    picked = picked_ranges(set_, chosen.range)
    span = None if cover is None else _one_cover(cover, in_set(set_))
    names = tuple(range_.name for range_ in ranges_in(picked, span))
    occupants = occupants_of(set_, tables, chosen)
    place = place_of(set_, occupants, chosen)
    by_name = {cure.name: cure for cure in listed}
    trials_of_set = CureTrials(set_, names, span, place, chosen, tables, by_name, progress)
    findings = _findings_of(trials_of_set)
    records = [_record(number, findings) for number in range(len(findings.tried))]
    plan = [_step_record(number, step) for number, step in enumerate(findings.plan, start=1)]
    return Answer(
        receiver=set_.name,
        settings={
            **chosen.plain(),
            **hour_settings(set_, chosen),
            "activity": HOUR,
            "region": chosen.region if chosen.region is not None else set_.region,
            "cover_low_hz": None if span is None else span[0],
            "cover_high_hz": None if span is None else span[1],
            "effort": {cure.name: cure.effort for cure in listed},
            "not_tried": [cure.text for cure in findings.not_tried],
            "unknown_share": findings.present.unknown,
            "unlisted_share": findings.present.unlisted,
        },
        assumptions=_assumptions(set_, chosen, names, occupants),
        cautions=cautions_of("cures"),
        tables={
            "cures": table_of("cures", CURE_COLUMNS, records),
            "plan": table_of("plan", PLAN_COLUMNS, plan),
        },
        findings=findings,
    )


def _findings_of(trials_of_set: CureTrials) -> Findings:
    """Return what comes of trying every cure, and of a plan where one is not enough."""
    present = trials_of_set.present()
    trials_of_set.find_station()
    tried, choice = ordered(
        trials_of_set.without_idle(_best_ways(trials_of_set, trials_of_set.singles())), present
    )
    further: list[Tried] = []
    done = None if choice.recommended is None else tried[choice.recommended]
    while done is not None and done.outlook.usable < AS_GOOD_AS_ALL and len(further) < MOST_STEPS - 1:
        besides, next_choice = ordered(
            _best_ways(trials_of_set, trials_of_set.on_top(done.trial)), done.outlook
        )
        done = None if next_choice.recommended is None else besides[next_choice.recommended]
        further += [] if done is None else [done]
    not_tried = tuple(trials_of_set.not_tried)
    return Findings(
        trials_of_set.names,
        trials_of_set.cover,
        present,
        tried,
        choice,
        tuple(further),
        not_tried,
        trials_of_set.receiver,
    )


def _best_ways(trials_of_set: CureTrials, ways: Sequence[Sequence[Trial]]) -> list[Tried]:
    """Return the best way of carrying out each cure."""
    tried = iter(trials_of_set.tried([trial for trials in ways for trial in trials]))
    return [
        max([next(tried) for _ in trials], key=lambda result: float(result.outlook.worlds.mean()))
        for trials in ways
        if trials
    ]


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
    value = pythons_own(value)
    if is_number(value):
        return value
    try:
        return float(value) if isinstance(value, str) else math.nan
    except ValueError:
        return math.nan


def _one_cover(cover: SpanLike, where: Where) -> tuple[int, int]:
    covers = as_covers(cover, where)
    if len(covers) > 1:
        raise Refused(Fault("--cover", "is more than one stretch", remedy="ask about one at a time"))
    return covers[0]


def _record(number: int, findings: Findings) -> dict[str, Any]:
    result, present = findings.tried[number], findings.present
    first = number == findings.choice.recommended
    alike: list[str] = []
    if first:
        alike = [other.trial.name for other in findings.alike]
    elif number in findings.choice.not_told_from and findings.recommended is not None:
        alike = [findings.recommended.trial.name]
    return {
        "rank": number + 1,
        "cure": result.trial.name,
        **_shares(present, result.outlook, findings.gains[number]),
        "effort": result.trial.effort,
        "recommended": first,
        "not_told_from": alike,
        "unknown_share_before": present.unknown,
        "unknown_share_after": result.outlook.unknown,
        "unlisted_share_before": present.unlisted,
        "unlisted_share_after": result.outlook.unlisted,
        "not_cured": [loss_text(loss) for loss in result.outlook.losses[:MOST_NAMED]],
        "note": result.trial.note,
        "values": [value.text for value in findings.values_of(result)],
    }


def _step_record(number: int, step: Step) -> dict[str, Any]:
    return {
        "step": number,
        "cure": step.tried.trial.last_name,
        **_shares(step.before, step.tried.outlook, step.gain),
        "effort": step.effort,
    }


def _shares(before: Together, after: Together, gain: Comparison) -> dict[str, float]:
    return {
        "usable_before": before.usable,
        "usable_after": after.usable,
        "usable_gain": gain.gain,
        "usable_gain_low": gain.low,
        "usable_gain_high": gain.high,
        "better_in": gain.better_in,
    }


def loss_text(loss: Loss) -> str:
    """Return who takes how much by which way."""
    return f"{loss.label} by {loss.response}, {share_text(loss.share)}"


def _assumptions(
    receiver: Receiver, settings: Settings, names: Sequence[str], occupants: Occupants
) -> tuple[str, ...]:
    chains = compile_chains([(receiver, range_named(receiver, name=name)) for name in names])
    return (
        *assumptions_of(receiver, settings, chains, occupants, listed_share(occupants)),
        "cures are judged by what of the dial is usable on a busy evening: a cure has to hold when the "
        "bands are full",
        "efforts in evenings, losses, gains and Qs of cures are estimates of cures.toml [est]; --effort "
        "NAME=N sets an effort, --cures FILE the rest",
        "what a cure does against blocking and cross-modulation is not judged",
    )

"""dial, ranges, station: what intrudes here, what intrudes anywhere, where does this turn up."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt

from spurplan import units
from spurplan.cautions import cautions_of
from spurplan.columns import NULL_INT, Answer, distinct
from spurplan.errors import Fault, Refused
from spurplan.occupancy.bands import Bands, in_tables
from spurplan.occupancy.occupants import Occupants, unlisted
from spurplan.receiver.chain import Chains, compile_chains
from spurplan.receiver.description import Range, Receiver
from spurplan.responses.asking import (
    BandsLike,
    ReceiverLike,
    Settings,
    SpanLike,
    as_bands,
    as_receiver,
    hour_settings,
    in_ranges,
    in_set,
    loudest_typical_dbm,
    occupants_of,
    picked_ranges,
    pointer_error_hz,
    public_question,
    ranges_in,
    ranges_text,
    settings_from,
)
from spurplan.responses.assumptions import assumptions_of, listed_share
from spurplan.responses.beyond import beyond_tables
from spurplan.responses.dead_dial import unusable
from spurplan.responses.engine import respond
from spurplan.responses.intrusion_table import Response, intruding, intrusion_table
from spurplan.responses.listening.dial_words import DialVerdict
from spurplan.responses.listening.findings import CoverFinding, RangeFinding, SettingFinding
from spurplan.responses.listening.judged import judge_cover, judge_evening_too, judge_settings, place_of
from spurplan.responses.listening.stretch_chances import with_chances
from spurplan.responses.pairs.records import made_by_two, with_pairs
from spurplan.responses.range_tables import range_tables, setting_table
from spurplan.responses.strong_signals.records import with_overload
from spurplan.units import FrequencyLike, as_whole, hz_text


@public_question
def dial(
    receiver: ReceiverLike,
    *,
    frequency: FrequencyLike,
    bands: BandsLike = None,
    dial_error: FrequencyLike | None = None,
    settings: Settings | None = None,
    **options: Any,
) -> Answer:
    """Return what intrudes at one dial setting.

    Parameters
    ----------
    receiver : Receiver, or path of a receiver file.
    bands : Bands, path, several paths, or None for the shipped tables.
    frequency : int or str. Dial setting (behind a converter: the signal's frequency)
        in hertz, or text with its unit; a bare number in text is taken where only one
        of its kHz and MHz readings lies in the ranges. [Hz]
    dial_error : int, str or None. How far the pointer may be off, either way: the
        answer is then for the stretch the pointer may mean. [Hz]
    settings, options : see `Settings`.

    Returns
    -------
    Answer with the tables `intrusions` and `on_frequency` (the wanted route); with
    ``intermodulation`` also `pairs`.

    Raises
    ------
    Refused  for a bad file, or a setting outside every range (the ranges are listed).
    """
    chosen = settings_from(settings, options)
    set_ = as_receiver(receiver, chosen)
    tables = as_bands(bands)
    places = _ranges_holding(set_, _dial_hz(set_, frequency, chosen.range), chosen.range)
    if dial_error is None or as_whole(dial_error) == 0:
        off = 0
    else:
        off = pointer_error_hz(dial_error, places[0][1])
    occupants = occupants_of(set_, tables, chosen)
    here = place_of(set_, occupants, chosen)
    presence = here.air(chosen.activity).presence
    responses = []
    findings: list[SettingFinding] = []
    settings_looked_at: list[tuple[Chains, npt.NDArray[np.int64]]] = []
    for chains in compile_chains([(set_, place) for place, _ in places]):
        at = {place.name: hz for place, hz in places}
        setting = np.array([at[chains.names[code]] for code in chains.name_code], dtype=np.int64)
        low = np.maximum(setting - off, chains.low_hz)
        high = np.minimum(setting + off, chains.high_hz)
        responses.append(
            _with_bfo(set_, with_chances(respond(chains.tuned_to(low, high), occupants, chosen), presence))
        )
        found = judge_settings(chains, here, chosen, chosen.activity, setting, set_)
        findings += [replace(one, among_several=len(places) > 1) for one in found]
        settings_looked_at.append((chains, setting))
    answer = _answer("dial", set_, chosen, responses, occupants)
    extra = {
        "frequency_hz": places[0][1],
        "set_dial_hz": _shown_at(places[0][1], responses),
        "dial_error_hz": off or None,
        "on_own_if": _on_own_if(responses),
        "image_unknown": _image_unknown(set_, chosen, responses),
    }
    on_frequency = intrusion_table("on_frequency", [_on_wanted(r, chosen) for r in responses])
    answer = replace(
        answer,
        settings={**answer.settings, **extra},
        tables={**answer.tables, "on_frequency": on_frequency, "dial": setting_table(findings)},
        findings=tuple(findings),
    )
    answer = with_overload(answer, set_, settings_looked_at, occupants)
    return with_pairs(answer, [r.chains for r in responses], occupants, chosen)


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
    nothing is heard, but the tables can not tell); with ``intermodulation`` also `pairs`.

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
    for chains in compile_chains([(set_, r) for r in picked]):
        if span is not None:
            covers += judge_cover(chains, here, chosen, span)
            chains = chains.tuned_to(np.maximum(chains.low_hz, span[0]), np.minimum(chains.high_hz, span[1]))
        responses.append(_with_bfo(set_, with_chances(respond(chains, occupants, chosen), presence)))
        for finding, evening in judge_evening_too(chains, here, chosen, chosen.activity):
            findings[finding.range], busy[finding.range] = finding, evening
    answer = _answer("ranges", set_, chosen, responses, occupants)
    shown = [intruding(r) for r in responses]
    groups = [r.chains for r in responses]
    made = made_by_two(groups, occupants, chosen)
    summary = range_tables(picked, shown, findings, busy, chosen, loudest_typical_dbm(set_), made)
    names = [one.name for one in picked]
    of_set = DialVerdict(tuple(busy[name] for name in names)), *(findings[name] for name in names)
    answer = replace(
        answer, tables={**answer.tables, **summary}, findings=tuple(covers) if covers else of_set
    )
    return with_pairs(answer, groups, occupants, chosen, made)


@public_question
def station(
    receiver: ReceiverLike,
    *,
    frequency: FrequencyLike | None = None,
    label: str | None = None,
    bands: BandsLike = None,
    settings: Settings | None = None,
    **options: Any,
) -> Answer:
    """Return every place on the dial where one station turns up.

    Parameters
    ----------
    receiver, bands, settings, options : as in `dial`.
    frequency : int, str or None. Frequency of the station; the rows of the tables that
        hold it are looked up, and where none does a carrier of the loudest typical level
        is taken. [Hz]
    label : str or None. Part of a label of the tables, instead of a frequency.

    Returns
    -------
    Answer with the tables `intrusions` and `wanted` (where it belongs on the dial).

    Raises
    ------
    Refused  when neither or both are given, or no row has such a label.
    """
    chosen = settings_from(settings, options)
    set_ = as_receiver(receiver, chosen)
    picked = picked_ranges(set_, chosen.range)
    occupants = _occupants_of_station(set_, as_bands(bands), chosen, frequency, label)
    presence = place_of(set_, occupants, chosen).air(chosen.activity).presence
    responses = [
        _with_bfo(set_, with_chances(respond(chains, occupants, chosen), presence))
        for chains in compile_chains([(set_, r) for r in picked])
    ]
    answer = _answer("station", set_, chosen, responses, occupants, one_station=True)
    wanted = intrusion_table("wanted", [_on_wanted(r, chosen) for r in responses])
    return replace(answer, tables={**answer.tables, "wanted": wanted})


def _shown_at(hz: int, responses: Sequence[Response]) -> int | None:
    """Return what the set's dial shows where it receives a frequency; None for that itself, or several."""
    shown = set()
    for response in responses:
        every = np.arange(len(response.chains))
        shown |= set(response.chains.set_dial_hz(every, np.full(len(every), hz)).tolist())
    return shown.pop() if len(shown) == 1 and shown != {hz} else None


def _image_unknown(receiver: Receiver, settings: Settings, responses: Sequence[Response]) -> list[str]:
    """Return the ranges on which a strong image of a setting would be heard that lies beyond the tables."""
    loudest_dbm = loudest_typical_dbm(receiver)
    return [
        one.chains.names[int(one.chains.name_code[v])]
        for one in responses
        for v in distinct(beyond_tables(one.chains, one.occupants, settings, loudest_dbm).candidate).tolist()
    ]


def _on_own_if(responses: Sequence[Response]) -> str | None:
    """Return the range on which a dial setting lies within a bandwidth of an IF of the set, or None."""
    for response in responses:
        low, _ = unusable(response.chains)
        for v in np.flatnonzero(low != NULL_INT).tolist():
            return response.chains.names[int(response.chains.name_code[v])]
    return None


def _on_wanted(response: Response, settings: Settings) -> Response:
    """Return the stretches of the wanted route, buried or not."""
    if settings.skirts or not settings.everything:
        shown = replace(settings, skirts=False, everything=True, lo_order=_wanted_order(response), rf_order=1)
        response = replace(respond(response.chains, response.occupants, shown), bfo_hz=response.bfo_hz)
    wanted = response.lines.is_wanted(response.chains)[response.graded.line]
    return response.take(np.flatnonzero(wanted))


def _wanted_order(response: Response) -> int:
    return int(np.abs(response.chains.wanted_steps[:, :, 0]).max())


def _with_bfo(receiver: Receiver, response: Response) -> Response:
    return response if receiver.bfo is None else replace(response, bfo_hz=receiver.bfo.offset_hz)


def _answer(
    command: str,
    receiver: Receiver,
    settings: Settings,
    responses: Sequence[Response],
    occupants: Occupants,
    *,
    one_station: bool = False,
) -> Answer:
    shown = [intruding(response) for response in responses]
    listed = None if one_station else listed_share(occupants)
    region = settings.region if settings.region is not None else receiver.region
    return Answer(
        receiver=receiver.name,
        settings={
            **settings.plain(),
            **hour_settings(receiver, settings),
            "region": region,
            "listed_share": listed,
        },
        assumptions=tuple(
            assumptions_of(receiver, settings, [r.chains for r in responses], occupants, listed)
        ),
        cautions=cautions_of(command),
        tables={"intrusions": intrusion_table("intrusions", shown)},
    )


def _dial_hz(receiver: Receiver, frequency: FrequencyLike, range_name: str | None) -> int:
    if not isinstance(frequency, str):
        return units.hz(frequency, "FREQ")
    if not frequency.strip():
        raise Refused(Fault("FREQ", "is not given", remedy="say where the dial stands, as 14.2 MHz"))
    return units.hz(frequency, "FREQ", in_ranges(picked_ranges(receiver, range_name)))


def _ranges_holding(receiver: Receiver, hz: int, name: str | None) -> list[tuple[Range, int]]:
    picked = picked_ranges(receiver, name)
    holding = [(r, hz) for r in picked if r.low_hz <= hz <= r.high_hz]
    if not holding:
        remedy = _read_off(receiver, picked, hz) or f"the set tunes {ranges_text(picked)}"
        raise Refused(Fault("FREQ", "is outside every range", hz_text(hz), remedy))
    return holding


def _read_off(receiver: Receiver, picked: Iterable[Range], hz: int) -> str:
    """Say what is received where the set's dial shows a frequency; "" where it never does."""
    said = []
    for chains in compile_chains([(receiver, one) for one in picked]):
        every = np.arange(len(chains))
        tuned = chains.tuned_hz(every, np.full(len(chains), hz))
        for row in np.flatnonzero((tuned >= chains.low_hz) & (tuned <= chains.high_hz)).tolist():
            name = chains.names[chains.name_code[row]]
            said.append(f'on range "{name}" the dial shows that at {hz_text(int(tuned[row]))}')
    return f"{'; '.join(said)}: give the frequency received" if said else ""


def _occupants_of_station(
    receiver: Receiver, bands: Bands, settings: Settings, frequency: FrequencyLike | None, label: str | None
) -> Occupants:
    if (frequency is None) == (label is None):
        rule = "are both given" if label is not None else "are both missing"
        raise Refused(Fault("FREQ and --label", rule, remedy="give one of them"))
    if label is not None and (not isinstance(label, str) or not label.strip()):
        raise Refused(Fault("--label", "is no part of a label", str(label), "give some of its letters"))
    every = occupants_of(receiver, bands, settings)
    if label is not None:
        wanted = [code for code, text in enumerate(every.labels) if label.casefold() in text.casefold()]
        found = np.flatnonzero(np.isin(every.label, wanted))
        if not len(found):
            _refuse_silent(receiver, bands, settings, "--label", label, None)
            remedy = "give a part of a label; `bands --at FREQ` shows the labels there"
            raise Refused(Fault("--label", "is in no label of the tables in use", label, remedy))
        return every.take(found)
    assert frequency is not None
    hz = units.hz(frequency, "FREQ", in_tables(bands))
    here = np.flatnonzero((every.low_hz <= hz) & (every.high_hz >= hz))
    if len(here):
        # of a band or a raster one carrier is asked about; a station keeps the width it has
        some = every.take(here)
        low, high = np.where(some.spot, some.low_hz, hz), np.where(some.spot, some.high_hz, hz)
        order = np.lexsort((some.row, some.table, high, low))
        return some.take(order, low_hz=low[order], high_hz=high[order])
    _refuse_silent(receiver, bands, settings, "FREQ", hz_text(hz), hz)
    return unlisted(hz, loudest_typical_dbm(receiver), every)


def _refuse_silent(
    receiver: Receiver, bands: Bands, settings: Settings, place: str, value: str, hz: int | None
) -> None:
    """Refuse a station that the tables have, but not at the time asked about.

    Raises
    ------
    Refused  naming it; `hz` is its frequency, or None where `value` is part of its label.
    """
    if settings.utc is None and settings.day is None:
        return
    ever = occupants_of(
        receiver, bands, replace(settings, utc=None, day=None, place=None, month=None, sunspots=None)
    )
    for at in range(len(ever)):
        label = ever.label_of(at)
        if value.casefold() in label.casefold() if hz is None else ever.low_hz[at] <= hz <= ever.high_hz[at]:
            remedy = "leave --utc and --day out to hear where it would turn up"
            raise Refused(Fault(place, f"is silent at that time: {label}", value, remedy))

"""What intrudes at one dial setting."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt

from spurplan import units
from spurplan.columns import NULL_INT, Answer, distinct
from spurplan.errors import Fault, Refused
from spurplan.receiver.chain import Chains, compile_chains
from spurplan.receiver.description import Range, Receiver
from spurplan.responses.answering import answer_of, on_wanted_route, responding
from spurplan.responses.asking import (
    BandsLike,
    ReceiverLike,
    Settings,
    as_bands,
    as_receiver,
    in_ranges,
    loudest_typical_dbm,
    occupants_of,
    picked_ranges,
    pointer_error_hz,
    public_question,
    ranges_text,
    settings_from,
)
from spurplan.responses.beyond import beyond_tables
from spurplan.responses.dead_dial import unusable
from spurplan.responses.intrusion_table import Response, intrusion_table
from spurplan.responses.listening.findings import SettingFinding
from spurplan.responses.listening.judged import judge_settings, place_of
from spurplan.responses.pairs.records import made_together, with_together
from spurplan.responses.range_tables import setting_table
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
    ``intermodulation`` also `pairs` and `triples`.

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
        responses.append(responding(set_, chains.tuned_to(low, high), occupants, chosen, presence))
        heard = judge_settings(chains, here, chosen, chosen.activity, setting)
        findings += [replace(finding, among_several=len(places) > 1) for finding in heard]
        settings_looked_at.append((chains, setting))
    answer = answer_of("dial", set_, chosen, responses, occupants)
    extra = {
        "frequency_hz": places[0][1],
        "set_dial_hz": _shown_at(places[0][1], responses),
        "dial_error_hz": off or None,
        "on_own_if": _on_own_if(responses),
        "image_unknown": _image_unknown(set_, chosen, responses),
    }
    on_frequency = intrusion_table("on_frequency", [on_wanted_route(r, chosen) for r in responses])
    answer = replace(
        answer,
        settings={**answer.settings, **extra},
        tables={**answer.tables, "on_frequency": on_frequency, "dial": setting_table(findings)},
        findings=tuple(findings),
    )
    answer = with_overload(answer, settings_looked_at, occupants)
    groups = [r.chains for r in responses]
    return with_together(answer, groups, occupants, chosen, made_together(groups, occupants, chosen))


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
        response.chains.names[int(response.chains.name_code[v])]
        for response in responses
        for v in distinct(
            beyond_tables(response.chains, response.occupants, settings, loudest_dbm).candidate
        ).tolist()
    ]


def _on_own_if(responses: Sequence[Response]) -> str | None:
    """Return the range on which a dial setting lies within a bandwidth of an IF of the set, or None."""
    for response in responses:
        low, _ = unusable(response.chains)
        for v in np.flatnonzero(low != NULL_INT).tolist():
            return response.chains.names[int(response.chains.name_code[v])]
    return None


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
    clauses = []
    for chains in compile_chains([(receiver, range_) for range_ in picked]):
        every = np.arange(len(chains))
        tuned = chains.tuned_hz(every, np.full(len(chains), hz))
        for row in np.flatnonzero((tuned >= chains.low_hz) & (tuned <= chains.high_hz)).tolist():
            name = chains.names[chains.name_code[row]]
            clauses.append(f'on range "{name}" the dial shows that at {hz_text(int(tuned[row]))}')
    return f"{'; '.join(clauses)}: give the frequency received" if clauses else ""

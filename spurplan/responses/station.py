"""Where one station turns up on the dial."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from spurplan import units
from spurplan.columns import Answer
from spurplan.errors import Fault, Refused
from spurplan.occupancy.bands import Bands, in_tables
from spurplan.occupancy.occupants import Occupants, unlisted
from spurplan.receiver.chain import compile_chains
from spurplan.receiver.description import Receiver
from spurplan.responses.answering import answer_of, on_wanted_route, responding
from spurplan.responses.asking import (
    BandsLike,
    ReceiverLike,
    Settings,
    as_bands,
    as_receiver,
    loudest_typical_dbm,
    occupants_of,
    picked_ranges,
    public_question,
    settings_from,
)
from spurplan.responses.intrusion_table import intrusion_table
from spurplan.responses.listening.judged import place_of
from spurplan.units import FrequencyLike, hz_text


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
    occupants = occupants_of_station(set_, as_bands(bands), chosen, frequency, label)
    presence = place_of(set_, occupants, chosen).air(chosen.activity).presence
    responses = [
        responding(set_, chains, occupants, chosen, presence)
        for chains in compile_chains([(set_, r) for r in picked])
    ]
    answer = answer_of("station", set_, chosen, responses, occupants, one_station=True)
    wanted = intrusion_table("wanted", [on_wanted_route(r, chosen) for r in responses])
    return replace(answer, tables={**answer.tables, "wanted": wanted})


def occupants_of_station(
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
        matching = np.flatnonzero(np.isin(every.label, wanted))
        if not len(matching):
            _refuse_silent(receiver, bands, settings, "--label", label, None)
            remedy = "give a part of a label; `bands --at FREQ` shows the labels there"
            raise Refused(Fault("--label", "is in no label of the tables in use", label, remedy))
        return every.take(matching)
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

"""bench_sheet: what to inject to know a set, and what each reading would teach."""

from __future__ import annotations

from dataclasses import replace

from spurplan.columns import Answer
from spurplan.errors import Fault, Refused, did_you_mean, text_of
from spurplan.planning.bench.dial_settings import TRACKING_POINTS
from spurplan.planning.bench.generator import DEFAULT_MAXIMUM
from spurplan.planning.bench.points import Bench
from spurplan.planning.bench.settle import settle as settle_range
from spurplan.planning.bench.sheet import KINDS, Agc, sheet
from spurplan.responses.asking import (
    BandsLike,
    ReceiverLike,
    Settings,
    SpanLike,
    as_bands,
    as_receiver,
    in_set,
    occupants_of,
    picked_ranges,
    public_question,
    ranges_in,
)
from spurplan.responses.listening.judged import place_of
from spurplan.units import generator_dbm, span_hz


@public_question
def bench_sheet(
    receiver: ReceiverLike,
    *,
    range: str | None = None,
    points: int | None = None,
    generator_max: str | float = DEFAULT_MAXIMUM,
    reference: str | float | None = None,
    agc: str = "off",
    only: str | None = None,
    settle: SpanLike | None = None,
    bands: BandsLike = None,
) -> Answer:
    """Return what to inject into a set to measure it, and what each reading would teach.

    Parameters
    ----------
    receiver : Receiver, or path of a receiver file.
    range : str or None. One range of the set by name; all where None.
    points : int, 1 to 25, or None. Dial settings a range; 3, the tracking points, where None.
    generator_max : str or float. The most the generator gives: "0.1 V EMF" (a bare voltage is the
        EMF), "50 mV PD", "-13 dBm", or a number of dBm. [dBm]
    reference : str, float or None. Level of the wanted signals; 20 dB above the set's own noise,
        rounded up to a step of 5 dB, where None. [dBm]
    agc : "on" or "off". With it on, lines that give the S meter its scale are on the sheet, and audio
        volts tell nothing.
    only : str or None. One kind of reading, beside the wanted signals, in place of the whole sheet: "image",
        "IF breakthrough", "half-IF", "LO-harmonic", "second image", "pointer" and so on.
    settle : (low, high), text as "28MHz:29.7MHz", or None. The fewest readings that settle whether that
        stretch is usable, in place of the whole sheet. [Hz]
    bands : as in `dial`. Who may be a stranger there.

    Returns
    -------
    Answer with the tables `points` (a line each, its `reading` left open), `alignment` (the two
    oscillator settings that give a peak at each setting) and `settle` (what each reading leaves open
    of what was asked). Its `findings` are a `Sheet`.

    Raises
    ------
    Refused  for a bad file, an unknown range, or figures outside any sense.

    Notes
    -----
    The constant-output method: the generator is raised until the response comes out as loud as the
    wanted signal did, so its attenuator is the instrument. A level P on a route gives what P - R gives
    on the wanted one, and predicted_db is the P for which P - R is the wanted signal's level.
    """
    set_ = as_receiver(receiver)
    picked = picked_ranges(set_, range)
    most = generator_dbm(generator_max, "--generator-max")
    level = None if reference is None else generator_dbm(reference, "--reference")
    if level is not None and level > most:
        rule = f"is more than the generator gives, {most:g} dBm"
        raise Refused(Fault("--reference", rule, f"{level:g} dBm", "give a lower level"))
    if not (isinstance(agc, str) and agc in ("on", "off")):
        raise Refused(Fault("--agc", "is neither on nor off", text_of(agc), "give on or off"))
    bench = Bench(set_, most, level)
    mode: Agc = "on" if agc == "on" else "off"
    if settle is None:
        if bands is not None:
            rule, remedy = "changes nothing without a stretch to settle", "give --settle, or leave it out"
            raise Refused(Fault("--bands", rule, remedy=remedy))
        return sheet(bench, picked, TRACKING_POINTS if points is None else points, mode, only=_kind_of(only))
    for option, value in (("--only", only), ("--points", points)):
        if value is not None:
            rule, remedy = (
                "changes nothing beside --settle, which chooses its own",
                "leave one of the two out",
            )
            raise Refused(Fault(option, rule, remedy=remedy))
    span, chosen = span_hz(settle, "--settle", in_set(set_)), Settings()
    ranges = ranges_in(picked, span, "--settle")
    place = place_of(set_, occupants_of(set_, as_bands(bands), chosen), chosen)
    settled = [settle_range(bench, range_, span, place, chosen) for range_ in ranges]
    answer = sheet(bench, ranges, TRACKING_POINTS, mode, settled)
    return replace(answer, settings={**answer.settings, "settle": list(span)})


def _kind_of(only: str | None) -> str | None:
    """Return the kind of reading that alone was asked for, as its lines name it."""
    if only is None:
        return None
    by_name = {kind.casefold(): kind for kind in KINDS}
    name = only.casefold() if isinstance(only, str) else ""
    if name not in by_name:
        remedy = did_you_mean(text_of(only), list(KINDS))
        raise Refused(Fault("--only", "is no kind of reading", text_of(only), remedy))
    return by_name[name]

"""Which figures nobody gave: what an answer has to list as taken for granted."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from spurplan.receiver.description import (
    Box,
    Circuits,
    Conversion,
    CoupledPair,
    Element,
    Mixer,
    Premix,
    Range,
    Receiver,
)
from spurplan.receiver.description.quantities import decimal

UNKNOWN_COUPLING_TEXT = "a coupled pair half way between capacitive and inductive"
DEFAULT_Q_TEXT = "120 up to 1 MHz, falling to 80 at 3.5 MHz and 40 at 28 MHz"


def defaults_in_use(receiver: Receiver, ranges: Iterable[Range] | None = None) -> tuple[str, ...]:
    """Return every default that the answer rests on, in words.

    Parameters
    ----------
    receiver : Receiver.
    ranges : the ranges the answer is about; None for all.

    Returns
    -------
    tuple of str, each a clause such as "noise figure 12 dB (default)"; what
    holds for several ranges is said once with their names.
    """
    chosen = receiver.ranges if ranges is None else tuple(ranges)
    defaults = list(
        _of_set(
            receiver,
            [box for box in receiver.ahead if any(box in receiver.ahead_of(range_) for range_ in chosen)],
        )
    )
    by_text: dict[str, list[str]] = {}
    for range_ in chosen:
        for text in _of_range(range_):
            by_text.setdefault(text, []).append(range_.name)
        for number, conversion in enumerate(receiver.conversions_of(range_), 1):
            for text in _of_conversion(conversion):
                by_text.setdefault(f"conversion {number}: {text}", []).append(range_.name)
    for text, names in by_text.items():
        # what holds on every range of the set needs no list of them
        where = "" if len(names) == len(receiver.ranges) else f" on range {', '.join(names)}"
        defaults.append(f"{text} (default){where}")
    return tuple(defaults)


def _of_set(receiver: Receiver, boxes: Iterable[Box]) -> Iterator[str]:
    given = receiver.given
    if "environment" not in given and receiver.noise is None:
        yield f"environment {receiver.environment} (default)"
    if "noise_figure_db" not in given:
        if receiver.first_stage is None:
            yield f"noise figure {decimal(receiver.noise_figure_db)} dB (default)"
        else:
            stage = receiver.first_stage.replace("_", "-")
            yield f"noise figure of a set with a {stage} first, an estimate against frequency"
    if "case_pickup_db" not in given:
        yield f"case pickup {decimal(receiver.case_pickup_db)} dB (default)"
    for box in boxes:
        if "ceiling_db" not in box.given and box.elements:
            yield f"ceiling {decimal(box.ceiling_db)} dB of {box.name} (default)"
        if "pickup_db" not in box.given:
            yield f"pickup {decimal(box.pickup_db)} dB past {box.name} (default)"
        if _unknown_q(box.elements):
            yield f"Q of {box.name} {DEFAULT_Q_TEXT} (default)"
        if _unknown_coupling(box.elements):
            yield f"{UNKNOWN_COUPLING_TEXT} in {box.name}"
    if "antenna_gain_db" not in given:
        yield f"antenna gain {decimal(receiver.antenna_gain_db)} dB (default)"


def _of_range(range_: Range) -> Iterator[str]:
    if "rf_gain_db" not in range_.given:
        yield f"RF gain {decimal(range_.rf_gain_db)} dB"
    if range_.front_end is None:
        yield f"front end of one circuit, Q {DEFAULT_Q_TEXT}"
    elif _unknown_q(range_.front_end):
        yield f"front end Q {DEFAULT_Q_TEXT}"
    if _unknown_coupling(range_.front_end or ()):
        yield f"{UNKNOWN_COUPLING_TEXT} in the front end"
    if range_.front_end != () and "front_end_ceiling_db" not in range_.given:
        yield f"front end ceiling {decimal(range_.front_end_ceiling_db)} dB"


def _unknown_q(elements: tuple[Element, ...]) -> bool:
    return any(isinstance(e, Circuits | CoupledPair) and e.q is None for e in elements)


def _unknown_coupling(elements: tuple[Element, ...]) -> bool:
    return any(isinstance(e, CoupledPair) and e.coupling is None for e in elements)


def _of_conversion(conversion: Conversion) -> Iterator[str]:
    given = conversion.given
    if "gain_db" not in given:
        yield f"gain {decimal(conversion.gain_db)} dB"
    if conversion.multiplier > 1 and not given & {"multiplier_circuits", "multiplier_impurity_db"}:
        circuits = conversion.multiplier_circuits
        yield f"{circuits} tuned circuit{'' if circuits == 1 else 's'} behind the multiplier"
    if conversion.premix is not None:
        yield from _of_premixer(conversion.premix)
    if "family" not in conversion.mixer.given:
        yield f"mixer {Mixer().family}"
    if conversion.filter is not None:
        shape = conversion.filter
        if "shape_factor" not in shape.given:
            yield f"filter shape factor {decimal(shape.shape_factor)}"
        if "ultimate_db" not in shape.given:
            yield f"filter ultimate rejection {decimal(shape.ultimate_db)} dB"
    if conversion.selectivity:
        if _unknown_coupling(conversion.selectivity):
            yield f"{UNKNOWN_COUPLING_TEXT} in the selectivity"
        if _unknown_q(conversion.selectivity):
            yield f"selectivity Q {DEFAULT_Q_TEXT}"
        if "selectivity_ceiling_db" not in given:
            yield f"selectivity ceiling {decimal(conversion.selectivity_ceiling_db)} dB"


def _of_premixer(premix: Premix) -> Iterator[str]:
    if not premix.given & {"mixer", "products"}:
        yield f"{premix.mixer} premixer"
    if premix.filter is None:
        yield f"one circuit behind the premixer, Q {DEFAULT_Q_TEXT}"
    elif _unknown_q(premix.filter):
        yield f"Q behind the premixer {DEFAULT_Q_TEXT}"
    if _unknown_coupling(premix.filter or ()):
        yield f"{UNKNOWN_COUPLING_TEXT} behind the premixer"
    if premix.filter != () and "filter_ceiling_db" not in premix.given:
        yield f"ceiling {decimal(premix.filter_ceiling_db)} dB of the filter behind the premixer"

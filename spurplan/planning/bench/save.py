"""Fitted figures put into the description, and a note in the file of where each came from."""

from __future__ import annotations

import math
import os
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from spurplan.planning.bench.figures import SHARED, Key, owner_of
from spurplan.planning.bench.fit import BenchFit
from spurplan.planning.bench.laws import Course, with_mean_q
from spurplan.planning.bench.model import BenchModel
from spurplan.planning.bench.pointer import DialFit
from spurplan.receiver.changes import with_fitted, with_front_end, with_range
from spurplan.receiver.changes.edits import changed, front_end_of, range_named
from spurplan.receiver.description import Circuits, Conversion, CoupledPair, Element, Range, Receiver
from spurplan.receiver.file.writing import receiver_toml

Floats = npt.NDArray[np.float64]
Curve = float | tuple[tuple[int, float], ...]


def proposed(
    receiver: Receiver,
    bench_fit: BenchFit | None,
    measured: Mapping[Key, float | None],
    dials: Sequence[DialFit],
) -> Receiver:
    """Return the set with the figures that readings told something of; all others as they were.

    Parameters
    ----------
    receiver : Receiver. As described.
    bench_fit : BenchFit or None. None where there are pointer readings alone.
    measured : by key of the figures to put in, which readings have told something of, what each is at least
        where that is all they tell; else None, and the most probable value is taken.
    dials : offsets of the ranges that have one; those that readings decided are put in.
    """
    out = receiver
    if bench_fit is not None:
        fitted = bench_fit.model.values(bench_fit.fit.at)
        least = {key: low for key, low in measured.items() if low is not None}
        values = {key: least.get(key, value) for key, value in fitted.items() if key in measured}
        for range_ in bench_fit.model.ranges:
            out = _with_front_end(out, range_, bench_fit, values, least)
        for owner in dict.fromkeys(owner_of(range_) for range_ in bench_fit.model.ranges):
            out = _with_conversions(out, owner, values)
    for dial in (dial_fit for dial_fit in dials if dial_fit.decided):
        out = with_fitted(out, range_name=dial.range, dial_offset_hz=round(dial.offset_hz))
    return out


def with_coordinates(model: BenchModel, at: Floats) -> Receiver:
    """Return the set of a model with all its figures at some coordinates, shape (p,)."""
    out, values = model.receiver, model.values(at)
    place = {figure.key: j for j, figure in enumerate(model.figures)}
    for range_ in model.ranges:
        course = model.courses.get(range_.name)
        if course is not None:
            log_q = at[[place["q", range_.name, k] for k in range(len(course.at_hz))]]
            out = _with_course(out, range_, course, log_q)
        if ("ceiling", range_.name) in values:
            out = with_fitted(
                out, range_name=range_.name, front_end_ceiling_db=round(values["ceiling", range_.name], 1)
            )
    for owner in dict.fromkeys(owner_of(range_) for range_ in model.ranges):
        out = _with_conversions(out, owner, values)
    return out


def _with_course(
    receiver: Receiver, range_: Range, course: Course, log_q: Floats | Sequence[float]
) -> Receiver:
    curve = course.curve(range_.low_hz, range_.high_hz, list(log_q))
    elements = with_mean_q(front_end_of(range_), curve, lambda element, q: _with_q(element, q, receiver))
    return with_front_end(receiver, elements=elements, range_name=range_.name)


def _with_front_end(
    receiver: Receiver,
    range_: Range,
    bench_fit: BenchFit,
    values: Mapping[Key, float],
    least: Mapping[Key, float],
) -> Receiver:
    """Return the set with the front end of a range as read; what is known at least alone has no interval."""
    course = bench_fit.model.courses.get(range_.name)
    if course is not None and any(("q", range_.name, k) in values for k in range(len(course.at_hz))):
        keys = [("q", range_.name, k) for k in range(len(course.at_hz))]
        fitted = bench_fit.model.values(bench_fit.fit.at)
        log_q = [math.log(least.get(key, fitted[key])) for key in keys]
        receiver = _with_course(receiver, range_, course, log_q)
        known = not any(key in least for key in keys)
        receiver = with_range(
            receiver, range_name=range_.name, q_interval=_q_interval(range_, bench_fit) if known else None
        )
    if ("ceiling", range_.name) in values:
        number = next(j for j, f in enumerate(bench_fit.model.figures) if f.key == ("ceiling", range_.name))
        low, high = (round(end, 1) for end in bench_fit.fit.interval(number))
        receiver = with_range(
            receiver,
            range_name=range_.name,
            front_end_ceiling_db=round(values["ceiling", range_.name], 1),
            front_end_ceiling_interval_db=None if ("ceiling", range_.name) in least else (low, high),
        )
    return receiver


def _q_interval(range_: Range, bench_fit: BenchFit) -> tuple[float, float]:
    """Return the 95 % interval of the mean Q in the middle of a range, to three figures."""
    course = bench_fit.model.courses[range_.name]
    middle = math.sqrt(range_.low_hz * range_.high_hz)
    number = {figure.key: j for j, figure in enumerate(bench_fit.model.figures)}
    columns = [number["q", range_.name, k] for k in range(len(course.at_hz))]
    weights = course.weights(middle) * bench_fit.fit.scale[columns]
    half = bench_fit.fit.quantile * math.sqrt(
        weights @ bench_fit.fit.covariance[np.ix_(columns, columns)] @ weights
    )
    at = float(course.log_q(middle, bench_fit.fit.at[columns]))
    return float(f"{math.exp(at - half):.3g}"), float(f"{math.exp(at + half):.3g}")


def _with_q(element: Circuits | CoupledPair, q: Curve, receiver: Receiver) -> Element:
    """Return an element with a Q to four figures, which is more than any reading gives."""
    neat = float(f"{q:.4g}") if isinstance(q, float) else tuple((hz, float(f"{v:.4g}")) for hz, v in q)
    return changed(element, receiver.name, q=neat)


def _with_conversions(receiver: Receiver, owner: str, values: Mapping[Key, float]) -> Receiver:
    """Return the set with figures of the conversions of one range, or of those that ranges share."""
    own = receiver.conversions if owner == SHARED else range_named(receiver, name=owner).conversions
    assert own is not None  # an owner has conversions
    chain = tuple(
        _with_stage(conversion, (owner, stage), values, receiver) for stage, conversion in enumerate(own)
    )
    if chain == own:
        return receiver
    if owner == SHARED:
        return changed(receiver, receiver.name, conversions=chain)
    return with_range(receiver, range_name=owner, conversions=chain)


def _with_stage(
    conversion: Conversion, at: Key, values: Mapping[Key, float], receiver: Receiver
) -> Conversion:
    mixer = {str(key[3]): value for key, value in values.items() if key[0] == "mixer" and key[1:3] == at}
    new: dict[str, Any] = {}
    if mixer:
        neat = {name: round(value, 3 if name in ("e1", "v0") else 1) for name, value in mixer.items()}
        new["mixer"] = changed(conversion.mixer, receiver.name, **neat)
    if ("pickup", *at) in values:
        new["pickup_db"] = round(values["pickup", *at], 1)
    if ("ultimate", *at) in values and conversion.filter is not None:
        ultimate = round(values["ultimate", *at], 1)
        new["filter"] = changed(conversion.filter, receiver.name, ultimate_db=ultimate)
    if ("selectivity_ceiling", *at) in values:
        new["selectivity_ceiling_db"] = round(values["selectivity_ceiling", *at], 1)
    if ("selectivity_q", *at) in values:
        mean = values["selectivity_q", *at]
        new["selectivity"] = with_mean_q(
            conversion.selectivity, mean, lambda element, q: _with_q(element, q, receiver)
        )
    return changed(conversion, receiver.name, **new) if new else conversion


def fitted_toml(
    receiver: Receiver,
    path: str,
    keep_comments_of: str | os.PathLike[str] | None,
    origin: Sequence[str],
) -> str:
    """Return a receiver file with fitted figures, the user's comments kept, and their origin at its end.

    Parameters
    ----------
    receiver : Receiver. With the fitted figures.
    path : str. Where it will stand.
    keep_comments_of : path or None. As in `receiver.file.receiver_toml`.
    origin : lines that say where the figures came from.

    Raises
    ------
    Refused  as `receiver.file.receiver_toml`.
    """
    text = receiver_toml(receiver, path, keep_comments_of)
    note = "".join(f"# {line}\n" for line in origin)
    return f"{text.rstrip()}\n\n{note}" if note else text

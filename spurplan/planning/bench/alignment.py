"""Before measuring: at each alignment point two oscillator settings give a peak, and one is right."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np

from spurplan.columns import NULL_INT, RANGE, Column
from spurplan.planning.bench.dial_settings import tracking_of, tuned_stage
from spurplan.planning.bench.injection import generator_hz
from spurplan.receiver.chain import compile_chains
from spurplan.receiver.description import Range, Receiver
from spurplan.responses.image_rejection import flipped, route_rejection_db
from spurplan.units import hz_text

# Below this, a rule of thumb, the front end can be peaked on the image too: it looks aligned and is not. [dB]
PEAKS_ON_IMAGE_DB = 25.0
# How far trimmer and core move an oscillator, up or down: common practice.
REACH = 0.15
# A padder that can not be set: by what it is off where the cost of leaving it is told.
PADDER_OFF = 0.1

ALIGNMENT_COLUMNS = (
    RANGE,
    Column("dial_hz", "int", "Hz", False, "At", "frequency of the generator, which the pointer should show"),
    Column("adjust", "text", "", False, "Adjust", "what is adjusted there"),
    Column("right_hz", "int", "Hz", False, "Oscillator", "oscillator setting that is right"),
    Column("wrong_hz", "int", "Hz", False, "Not on", "oscillator setting that gives a peak too and is wrong"),
    Column("right_is", "text", "", False, "Right is", "which of the two, by frequency"),
    Column("apart_percent", "float", "%", False, "Apart", "how far apart they are, of the right one"),
    Column("within_reach", "bool", "", False, "In reach", "whether trimmer and core reach the wrong one"),
    Column("check_dial_hz", "int", "Hz", True, "Check at", "where else on the dial it is heard when right"),
    Column(
        "check_wrong_hz", "int", "Hz", True, "", "where it is heard there instead with the oscillator wrong"
    ),
    Column("image_hz", "int", "Hz", True, "Image", "image frequency of the setting"),
    Column("image_rejection_db", "float", "dB", True, "Image rejection", "as described"),
    Column(
        "peaks_on_image", "bool", "", True, "Peaks on image",
        "whether the front end can be peaked on the image: its rejection is under 25 dB",
    ),
    Column("padder_pf", "float", "pF", True, "", "padder as worked out; null where no gang is described"),
    Column(
        "padder_off_hz", "float", "Hz", True, "",
        "what the dial is wrong by at most between the outer points with a padder 10 % off, these right",
    ),
    Column("at_end", "text", "", True, "", "what to do where the adjuster is at its end"),
)  # fmt: skip


def alignment_rows(receiver: Receiver, range_: Range, dials: Sequence[int]) -> Iterator[dict[str, Any]]:
    """Yield what to watch for at each alignment point of a range; nothing where no oscillator tunes.

    Notes
    -----
    Both w + IF and w - IF give the IF with a signal on w, w the wanted frequency at the mixer
    whose oscillator follows the dial. With the oscillator on the wrong one the dial reads twice the
    IF off and what it should receive is its image.
    """
    stage_and_plan = tuned_stage(receiver, range_)
    if stage_and_plan is None:
        return
    stage, plan = stage_and_plan
    chains = compile_chains([(receiver, range_)])[0]
    image_steps = flipped(chains, stage)
    zero = np.zeros(1, dtype=np.int64)
    for number, dial in enumerate(dials):
        at = np.array([dial], dtype=np.int64)
        wanted = int(chains.wanted_hz(stage, zero, at)[0])
        rejection = float(route_rejection_db(chains, image_steps, at[None])[0, 0])
        right = plan.osc_a * dial + plan.osc_b
        wrong = abs(2 * wanted - right) if plan.lo * plan.rf < 0 else right + 2 * wanted
        apart = 100.0 * abs(wrong - right) / right
        image = int(generator_hz(chains, image_steps, at)[0])
        yield {
            "range": range_.name,
            "dial_hz": dial,
            "adjust": _adjust(number, len(dials)),
            "right_hz": round(right / plan.osc_h),
            "wrong_hz": round(wrong / plan.osc_h),
            "right_is": "higher" if right > wrong else "lower",
            "apart_percent": apart,
            "within_reach": apart <= 100.0 * REACH,
            "check_dial_hz": _inside(2 * dial - image, range_) if image > 0 and stage == 0 else NULL_INT,
            "check_wrong_hz": _inside(image, range_) if image > 0 and stage == 0 else NULL_INT,
            "image_hz": image if image > 0 else NULL_INT,
            "image_rejection_db": rejection,
            **_at_end(receiver, range_, _adjust(number, len(dials))),
            "peaks_on_image": None if np.isnan(rejection) else rejection < PEAKS_ON_IMAGE_DB,
        }


def _at_end(receiver: Receiver, range_: Range, adjust: str) -> dict[str, Any]:
    """Return what to do where an adjuster is at its end: common practice."""
    out: dict[str, Any] = {"padder_pf": None, "padder_off_hz": None, "at_end": None}
    if adjust == "trimmers":
        out["at_end"] = (
            "trimmer right in: put 10 pF or so across it, or turn the core a little in; right out: look for "
            "stray capacitance, or turn the core a little out; then set the low point again"
        )
    if adjust == "padder or core":
        out["at_end"] = (
            "padder right in: put a fixed capacitor beside it; right out: fit a smaller fixed padder; where "
            "neither can be, move the core until this point is right, set the trimmer again at the high "
            "point, and repeat: the middle pays for it"
        )
        tracking = tracking_of(receiver, range_)
        if tracking is not None:
            off = max(tracking.peak_error_with_padder_hz(1.0 + sign * PADDER_OFF) for sign in (-1.0, 1.0))
            out["padder_off_hz"] = off if np.isfinite(off) else None
            out["padder_pf"] = None if range_.gang is None else tracking.padder_pf
    return out


def remedies(rows: Sequence[dict[str, Any]]) -> list[str]:
    """Return what to do where padder or trimmer is at its end, once, and what a compromise costs."""
    sentences = list(dict.fromkeys(row["at_end"] for row in rows if row["at_end"] is not None))
    cost = [
        f"{row['padder_off_hz'] / 1e3:.3g} kHz on range {row['range']}"
        for row in rows
        if row["padder_off_hz"] is not None
    ]
    if cost:
        where = ", ".join(cost)
        sentences.append(f"a padder 10 % off, the outer points right, leaves the dial wrong by up to {where}")
    return sentences


def _inside(dial_hz: int, range_: Range) -> int:
    return dial_hz if range_.low_hz <= dial_hz <= range_.high_hz else NULL_INT


def _adjust(number: int, count: int) -> str:
    if count == 1:
        return "oscillator"
    if number == 0:
        return "padder or core"
    return "trimmers" if number == count - 1 else "check"


def warnings(rows: Sequence[dict[str, Any]]) -> list[str]:
    """Return what the sheet has to say of false peaks, a sentence a range."""
    sentences = []
    for name in dict.fromkeys(row["range"] for row in rows):
        own = [row for row in rows if row["range"] == name]
        both = [row for row in own if row["within_reach"]]
        if both:
            side = both[0]["right_is"]
            at = ", ".join(hz_text(row["dial_hz"]) for row in both)
            sentences.append(
                f"range {name}: trimmer and core reach two oscillator settings that give a peak at {at}; "
                f"the one {side} in frequency is right"
            )
        # best where both places are on the dial, then where the adjuster is the trimmer
        checked = [row for row in own if row["check_dial_hz"] not in (None, NULL_INT)]
        checked.sort(key=lambda row: row["check_wrong_hz"] not in (None, NULL_INT))
        sentences += [_check_said(row) for row in checked[-1:]]
        poor = [row for row in own if row["peaks_on_image"]]
        if poor:
            at = ", ".join(hz_text(row["dial_hz"]) for row in poor)
            sentences.append(
                f"range {name}: image rejection is under {PEAKS_ON_IMAGE_DB:g} dB at {at}: the front end can "
                "be peaked on the image; peak it with the generator on the frequency itself, then see that "
                "the image is weaker"
            )
    return sentences


def _check_said(row: dict[str, Any]) -> str:
    """Say how a generator that stays where it is shows on which side the oscillator stands.

    Notes
    -----
    On the wrong side everything is heard twice the IF off the other way. A setting off the range is not
    heard at all.
    """
    wrong = row["check_wrong_hz"]
    otherwise = "with nothing there" if wrong in (None, NULL_INT) else f"heard at {hz_text(wrong)} instead"
    return (
        f"range {row['range']}: aligned at {hz_text(row['dial_hz'])}, leave the generator where it is, some "
        f"{row['image_rejection_db']:.0f} dB stronger: the set must hear it again with its dial at "
        f"{hz_text(row['check_dial_hz'])}; {otherwise}, the oscillator stands on the wrong side"
    )

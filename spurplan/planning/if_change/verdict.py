"""One line about one IF on one range, against the present one."""

from __future__ import annotations

from spurplan.planning.if_change.rows import Row
from spurplan.planning.judging import Judged
from spurplan.responses.asking import Settings
from spurplan.units import hz_text, percent_text

# Shares nearer than this say the same: half a percent of a range is nothing to rebuild a set for.
SAME_SHARE = 0.005
SAME_DB = 1.0
# Sections of one gang swing alike; an oscillator section is cut or padded to swing less, and cannot swing
# this much more than the signal's: common practice.
MORE_SWING = 1.1


def compared(new: Judged, old: Judged) -> int:
    """Return 1 where a range fares better than another, -1 where worse, 0 where it is the same.

    Notes
    -----
    By the share that is clear, the unknown left out; where that is the same, by the margin of the worst
    intruder.
    """
    gain = new.clear_share - old.clear_share
    if abs(gain) >= SAME_SHARE:
        return 1 if gain > 0 else -1
    now, was = (-100.0 if one.worst is None else one.worst.margin_db for one in (new, old))
    if abs(now - was) < SAME_DB:
        return 0
    return 1 if now < was else -1


def verdict(row: Row, present: Row, settings: Settings) -> str:
    """Return what becomes of a range, in a line without full stop."""
    if row.fate is None or present.fate is None:
        return f"not possible: {row.proposal.refusal}"
    if row.proposal.asked.present:
        return "; ".join([f"as it is: {_state(row.fate)}", *_left(row.fate), *_trouble(row, settings)])
    word = {1: "better", 0: "no better", -1: "worse"}[compared(row.fate, present.fate)]
    said = [f"{word}: {_state(row.fate, present.fate)}", *_left(row.fate), *_trouble(row, settings)]
    return "; ".join(said)


def _state(now: Judged, was: Judged | None = None) -> str:
    clear = f"clear {percent_text(now.clear_share)} %"
    if was is not None and percent_text(was.clear_share) != percent_text(now.clear_share):
        clear += f" instead of {percent_text(was.clear_share)} %"
    if now.unknown_share:
        clear += f", unknown {percent_text(now.unknown_share)} % (an image lies beyond the tables)"
    if now.image_rejection_db is None:
        return clear
    image = f"image {now.image_rejection_db:.0f} dB down"
    if was is not None and was.image_rejection_db is not None:
        before = f"{was.image_rejection_db:.0f}"
        if before != f"{now.image_rejection_db:.0f}":
            image += f" instead of {before}"
    return f"{clear}, {image}"


def _left(now: Judged) -> list[str]:
    return [] if now.worst is None else [f"worst {now.worst.said}"]


def _trouble(row: Row, settings: Settings) -> list[str]:
    """Return what else comes with an IF."""
    said = []
    fate = row.fate
    assert fate is not None
    if fate.unusable_low_hz is not None and fate.unusable_high_hz is not None:
        said.append(f"unusable {hz_text(fate.unusable_low_hz)} to {hz_text(fate.unusable_high_hz)}")
    if row.on_if is not None and row.on_if.margin_db >= settings.audible_at:
        said.append(f"{row.on_if.label} straight in on the IF, +{row.on_if.margin_db:.0f} dB")
    one, ratio = row.proposal.range, row.oscillator_ratio
    signal = one.high_hz / one.low_hz
    if ratio is not None and ratio > MORE_SWING * signal:
        said.append(f"no gang tunes an oscillator 1 to {ratio:.2f} with the signal 1 to {signal:.2f}")
    if not row.tracks:
        said.append("no padder and trimmer track it")
    return said

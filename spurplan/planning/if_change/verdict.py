"""What becomes of a range with another IF: the finding, and the one line it is put in."""

from __future__ import annotations

from dataclasses import dataclass

from spurplan.planning.if_change.routes import Loudest
from spurplan.planning.judging import Reception, Standing, Way, worst_db
from spurplan.units import hz_text, percent_text

# Sections of one gang swing alike; an oscillator section is cut or padded to swing less, and cannot swing
# this much more than the signal's: common practice.
MORE_SWING = 1.1


@dataclass(frozen=True)
class Verdict:
    """One proposal on one range against the present IF.

    Attributes
    ----------
    standing : Standing.
    now, was : Reception or None. The range as it would be and, of a change, as it is.
    refusal : str. Why it is not possible.
    straight_in : Loudest or None. Who is heard straight in on the IF.
    swing : (float, float) or None. Tuning ratios of oscillator and signal no gang gives together.
    tracks : bool. False where no padder and trimmer track it.
    """

    standing: Standing
    now: Reception | None = None
    was: Reception | None = None
    refusal: str = ""
    straight_in: Loudest | None = None
    swing: tuple[float, float] | None = None
    tracks: bool = True

    @property
    def worst(self) -> Way | None:
        """Who is left loudest, and by which way."""
        return None if self.now is None else self.now.worst

    @property
    def merit(self) -> tuple[bool, float, float]:
        """What sorts proposals, the best last: one that a gang can track, then by what is clear."""
        assert self.now is not None, self.refusal
        return self.tracks, round(self.now.clear_share, 3), -worst_db(self.now)

    @property
    def because(self) -> str:
        """The reasons, in a line without full stop."""
        return self.refusal if self.now is None else "; ".join(_reasons(self, self.now))

    @property
    def sentence(self) -> str:
        """The whole of it in a line."""
        return f"{self.standing}: {self.because}"


def _reasons(verdict: Verdict, now: Reception) -> list[str]:
    reasons = [", ".join([_clear(now, verdict.was), *_image(now, verdict.was)])]
    if now.worst is not None:
        reasons.append(f"worst {now.worst.text}")
    if now.unusable_low_hz is not None and now.unusable_high_hz is not None:
        reasons.append(f"unusable {hz_text(now.unusable_low_hz)} to {hz_text(now.unusable_high_hz)}")
    if verdict.straight_in is not None:
        label, margin_db = verdict.straight_in.label, verdict.straight_in.margin_db
        reasons.append(f"{label} straight in on the IF, +{margin_db:.0f} dB")
    if verdict.swing is not None:
        oscillator, signal = verdict.swing
        reasons.append(f"no gang tunes an oscillator 1 to {oscillator:.2f} with the signal 1 to {signal:.2f}")
    if not verdict.tracks:
        reasons.append("no padder and trimmer track it")
    return reasons


def _clear(now: Reception, was: Reception | None) -> str:
    clear = f"clear {percent_text(now.clear_share)} %"
    if was is not None and percent_text(was.clear_share) != percent_text(now.clear_share):
        clear += f" instead of {percent_text(was.clear_share)} %"
    if now.unknown_share:
        clear += f", unknown {percent_text(now.unknown_share)} % (an image lies beyond the tables)"
    return clear


def _image(now: Reception, was: Reception | None) -> list[str]:
    if now.image_rejection_db is None:
        return []
    image = f"image {now.image_rejection_db:.0f} dB down"
    before = None if was is None or was.image_rejection_db is None else f"{was.image_rejection_db:.0f}"
    if before not in (None, f"{now.image_rejection_db:.0f}"):
        image += f" instead of {before}"
    return [image]

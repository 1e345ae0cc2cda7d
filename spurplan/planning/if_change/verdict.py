"""What becomes of a range with another IF: the finding, and its reasons in words."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from spurplan.planning.decision import Comparison, verdict
from spurplan.planning.if_change.costs import Costs
from spurplan.planning.outlook import Outlook
from spurplan.responses.listening.findings import HARDLY_LISTED, WORTH_A_WORD
from spurplan.units import part_text, share_span_text, share_text


class Fate(StrEnum):
    """Whether there is something to compare."""

    present = "present"
    changed = "changed"
    impossible = "not possible"


@dataclass(frozen=True)
class Verdict:
    """One proposal on one range against the present IF, in the same worlds.

    Attributes
    ----------
    fate : Fate.
    now, was : Outlook or None. The range as it would be, and as it is.
    gain : Comparison or None. Of a change.
    rejection_db : (float or None, float or None). Of the image as it would be, and as it is. [dB]
    refusal : str. Why it is not possible.
    costs : Costs.
    """

    fate: Fate
    now: Outlook | None = None
    was: Outlook | None = None
    gain: Comparison | None = None
    rejection_db: tuple[float | None, float | None] = (None, None)
    refusal: str = ""
    costs: Costs = field(default_factory=Costs)

    @property
    def word(self) -> str | None:
        """What it is worth: one of the five of `decision.verdict`; None where nothing is compared."""
        return None if self.gain is None else verdict(self.gain)

    @property
    def face(self) -> str:
        """The word, or why there is none."""
        return self.word or str(self.fate)

    @property
    def usable_said(self) -> str:
        """How much is usable, how sure that is, and how much it was."""
        if self.now is None:
            return ""
        finding = self.now.finding
        if finding.nobody_tells:
            return f"nobody can tell how much of it is usable: {HARDLY_LISTED}"
        return usable_text(
            finding.usable, (finding.usable_low, finding.usable_high), finding.at, self._before
        )

    @property
    def _before(self) -> float | None:
        return None if self.was is None or self.gain is None else self.was.finding.usable

    @property
    def reasons(self) -> tuple[str, ...]:
        """What speaks for it and against it, in words."""
        return (self.refusal,) if self.now is None else (*self.figures, *self.costs.texts)

    @property
    def figures(self) -> tuple[str, ...]:
        """The image, what is lost and what is unknown, in words."""
        if self.now is None:
            return ()
        finding, phrases = self.now.finding, []
        now_db, was_db = self.rejection_db
        if now_db is not None:
            before = (
                "" if was_db is None or f"{was_db:.0f}" == f"{now_db:.0f}" else f" instead of {was_db:.0f}"
            )
            phrases.append(f"image {now_db:.0f} dB down{before}")
        if finding.intruders >= WORTH_A_WORD and finding.losses:
            phrases.append(f"most lost {finding.losses[0].first}")
        if finding.unknown >= WORTH_A_WORD:
            phrases.append(f"unknown {share_text(finding.unknown)}: an image lies beyond the tables")
        if finding.unlisted >= WORTH_A_WORD and not finding.nobody_tells:
            phrases.append(f"nobody can tell of {share_text(finding.unlisted)} of it: {HARDLY_LISTED}")
        return tuple(phrases)


def usable_text(
    share: float, span: tuple[float, float], at: str, before: float | None = None, of: str = "it"
) -> str:
    """Return "on a busy evening 98 % of it is usable (96 to 99 %) instead of 94 %"."""
    # the share is worked out in closed form, its span in worlds: where one station decides they part
    sure = share_span_text(*span) if span[0] <= share <= span[1] else ""
    text = f"{at} {part_text(share, of)} is usable{f' ({sure})' if sure else ''}"
    return text if before is None else f"{text} instead of {share_text(before)}"

"""The verdict in words, as every picture of a dial has it."""

from __future__ import annotations

from collections.abc import Sequence

from spurplan.reporting.charts.sheet import shown
from spurplan.responses.listening.dial_words import A_LITTLE, DialVerdict, range_word
from spurplan.responses.listening.findings import BUSY, RangeFinding, at_text
from spurplan.units import share_text

# the key: what each fill means
MEANING = {
    "believe": "believe: in fewer than 1 of 100 cases does anything get in",
    "check": "check: something may get in, do not trust it before a test",
    "don't": "don\u2019t: something does, half the time or more",
    "unknown": "unknown: the tables tell nothing of an image",
    "deaf": "too deaf",
    "dead": "the set\u2019s own IF",
}
# the words of a whole range as they are drawn
RANGE_WORDS = {
    "unknown": "UNKNOWN",
    "don't, before a test": "DON\u2019T, before a test",
    "check: much is unknown": "CHECK: much is unknown",
    "believe": "BELIEVE",
    "believe, but for a little": "BELIEVE, but for a little",
    "check": "CHECK",
}
# what a kind of strip means, in a word or two
KEY_WORDS = {
    "believe": "believe",
    "check": "check",
    "don't": "don\u2019t",
    "unknown": "unknown",
    "deaf": "too deaf",
    "dead": "the set\u2019s own IF",
}
KEY_ORDER = ("believe", "check", "don't", "unknown", "dead", "deaf")


def verdict(busy: Sequence[RangeFinding]) -> tuple[str, str]:
    """Return the one sentence that joins ranges by word: with their names, and with their number."""
    verdict = DialVerdict(tuple(busy))
    return shown(verdict.sentence), shown(verdict.short)


def word_text(busy: RangeFinding) -> str:
    """Return the word of a range as it is drawn, "CHECK above 14 MHz: weak image"."""
    word = range_word(busy)
    if busy.weak_image is not None and word not in RANGE_WORDS:
        return f"CHECK{f' {where}' if (where := busy.weak_image.where) else ''}: weak image"
    return RANGE_WORDS[word]


def shares_text(typical: RangeFinding) -> str:
    """Return the shares of a range: usable, at a typical hour and on a busy evening, and clear."""
    if typical.unknown > 1.0 - A_LITTLE or range_word(typical) == "unknown":
        return "nobody can tell"
    clear = {0.0: "none", 1.0: "all"}.get(typical.clear, share_text(typical.clear))
    usable = f"{share_text(typical.usable)} usable {typical.at}"
    if typical.busy_usable is not None:
        usable += f", {share_text(typical.busy_usable)} {at_text(BUSY, this_hour=typical.this_hour)}"
    if typical.unlisted:
        return f"{usable}, of those listed; of {share_text(typical.unlisted)} nobody can tell"
    return f"{usable}, {clear} clear whatever is on"

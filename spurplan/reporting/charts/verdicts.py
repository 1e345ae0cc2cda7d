"""The verdict in words, as every picture of a dial has it."""

from __future__ import annotations

from collections.abc import Sequence

from spurplan.reporting.charts.sheet import shown
from spurplan.responses.listening.dial_words import A_LITTLE, range_word
from spurplan.responses.listening.findings import RangeFinding
from spurplan.units import share_text

# the key: what each fill means
MEANING = {
    "believe": "believe: nothing else in the tables gets in",
    "check": "check: something may get in",
    "don't": "don\u2019t: something does, half the time or more",
    "unknown": "unknown: an image beyond the tables",
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
_JOINED = (
    (("believe", "believe, but for a little"), "Believe "),
    (("check", "check: much is unknown"), "Check "),
    (("don't, before a test",), "Test before you believe "),
    (("unknown",), "Nobody can tell of "),
)


def verdict(busy: Sequence[RangeFinding]) -> tuple[str, str]:
    """Return the one sentence that joins ranges by word: with their names, and with their number."""
    full, short = [], []
    for words, before in _JOINED:
        names = [shown(one.range) for one in busy if range_word(one) in words]
        if names:
            joined = names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
            full.append(f"{before}{joined}.")
            short.append(f"{before}{len(names)} of {len(busy)} ranges.")
    return " ".join(full), " ".join(short)


def word_text(word: str) -> str:
    """Return the word of a range as it is drawn, "DON\u2019T, before a test"."""
    return RANGE_WORDS[word]


def shares_text(busy: RangeFinding) -> str:
    """Return the pair of shares of a range."""
    if busy.unknown > 1.0 - A_LITTLE:
        return "nobody can tell"
    clear = {0.0: "none", 1.0: "all"}.get(busy.clear, share_text(busy.clear))
    return f"{share_text(busy.usable)} usable {busy.at}, {clear} clear whatever is on"

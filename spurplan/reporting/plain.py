"""Text that can do no harm where it is shown."""

from __future__ import annotations

import re

# A whole terminal sequence goes, not its first character alone: what would be
# left of "ESC [ 31 m" reads as part of the label.
_SEQUENCE = re.compile(
    r"(?:\x1b\[|\x9b)[0-?]*[ -/]*[@-~]"  # control sequence
    r"|(?:\x1b[\]PX^_]|[\x9d\x90\x98\x9e\x9f])[^\x07\x1b\x9c\n]*(?:\x07|\x1b\\|\x9c)?"  # title, device string
    r"|\x1b[ -/]*[0-~]"  # two-character escapes
)


def harmless(text: str, keep: str = "") -> str:
    """Return `text` without anything a terminal would act on.

    Parameters
    ----------
    text : str. From a file or from us.
    keep : str. Control characters to leave, as a newline.

    Notes
    -----
    Terminal sequences are dropped; other control characters, marks that
    reverse the writing direction and lone surrogates show as backslash escapes
    (a tab or newline that is not kept: as one space).
    """
    if text.isprintable():
        return text
    return "".join(_shown(c, keep) for c in _SEQUENCE.sub("", text))


def _shown(character: str, keep: str) -> str:
    if character in keep:
        return character
    if character in "\t\n\r\v\f\x85\u2028\u2029":
        return " "
    import unicodedata

    # Cc control, Cf format (direction marks, zero widths), Cs surrogate, Co private, Cn unassigned
    if unicodedata.category(character) in {"Cc", "Cf", "Cs", "Co", "Cn"}:
        return character.encode("unicode_escape").decode("ascii")
    return character


def counted(number: int, singular: str, many: str = "") -> str:
    """Return a number with its noun: "1 row", "1,200 rows"; `many` where an s is not enough."""
    return f"{number:,} {singular if number == 1 else many or f'{singular}s'}"

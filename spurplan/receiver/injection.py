"""Lines beside an injection: what a multiplier or a premixer leaves of the oscillators it is made of.

An injection of a crystal X and a variable oscillator V holds lines p X + q V; behind a multiplier alone
q is 0. Each is an oscillator of its own, so weak that it mixes once, as a fundamental does. In a step of a
route, (lo, rf), it stands as lo = +-(`BESIDE` + code), of a multiplied crystal the code is p; a line and its
negative are one, so p is not below 0 and q above 0 where p is 0.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

Ints = npt.NDArray[np.int64]

# Above every oscillator harmonic that can be asked for.
BESIDE = 1000
# Lines are followed up to this many times the crystal in the injection: so far a switch mirrors them.
REACH = 3
# Highest harmonic of the variable oscillator of a premixer that is followed.
MOST_OF_VARIABLE = 3
# Above every harmonic of a crystal that is followed.
_CODES = 1000


def line_code(p: int, q: int) -> int:
    """Return the code of the line p X + q V."""
    if p < 0 or (p == 0 and q < 0):
        p, q = -p, -q
    return p + _CODES * (2 * q - 1 if q > 0 else -2 * q)


def line_of(code: Any) -> tuple[Any, Any]:
    """Return (p, q) of a code, an int or an array of them."""
    turn = code // _CODES
    # 0, 1, -1, 2, -2 ... in turn
    return code % _CODES, (turn + 1) // 2 * (2 * (turn % 2) - 1)


def code_of(lo: Ints) -> Ints:
    """Return the code of the line that steps mix with; 0 for the injection and its harmonics."""
    code: Ints = np.maximum(np.abs(lo) - BESIDE, 0)
    return code


def mirrors_of(code: int, used: tuple[int, int]) -> tuple[int, ...]:
    """Return the codes of lines whose mirror about the injection is a line: 2 f_inj - line, 2 f_inj + line.

    Parameters
    ----------
    used : (p, q) of the injection.
    """
    p, q = (int(part) for part in line_of(code))
    ends = ((2 * used[0] - p, 2 * used[1] - q), (2 * used[0] + p, 2 * used[1] + q))
    return tuple(line_code(*end) for end in ends if end != (0, 0))


def is_harmonic(code: int, used: tuple[int, int]) -> bool:
    """Whether a line is the injection or a harmonic of it."""
    p, q = (int(part) for part in line_of(code))
    # both stand in the same ratio
    return p * used[1] == q * used[0] and (p % used[0] == 0 if used[0] else q % used[1] == 0)

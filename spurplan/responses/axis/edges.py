"""Where a margin is not below zero, to the hertz, for many curves at once."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]
# Rounds after which a bracket is halved, whatever the curve promises.
HALVE = 6
Curve = Callable[[Ints, Ints], Floats]


def heard_stretches(
    margin: Curve, dial_hz: Ints, margin_db: Floats, guess_hz: Floats
) -> tuple[Ints, Ints, Ints]:
    """Return the stretches on which each curve is not below zero.

    Parameters
    ----------
    margin : called with (which curves, whole hertz), both of one shape; returns decibels.
    dial_hz : int64, shape (n, K). Points, ascending, between which a curve crosses zero once
        at most. [Hz]
    margin_db : float64, shape (n, K). The curves there. [dB]
    guess_hz : float64, shape (n,). Where a crossing may be. [Hz]

    Returns
    -------
    (which, first, last), int64 of one shape, ascending. [Hz]
    """
    heard = margin_db >= 0
    parts = []
    for now, then in ((0, 1), (1, 0)):
        # first where it comes up, then where it goes down
        side = heard if now == 0 else ~heard
        row, k = np.nonzero(~side[:, :-1] & side[:, 1:])
        near, far = dial_hz[row, k + then], dial_hz[row, k + now]
        end = last_heard(
            lambda which, dial, row=row: margin(row[which], dial),  # type: ignore[misc]
            near, far, guess_hz[row],
        )  # fmt: skip
        at_end = 0 if now == 0 else -1
        whole = np.flatnonzero(heard[:, at_end])
        rows = np.concatenate([row, whole])
        ends = np.concatenate([end, dial_hz[whole, at_end]])
        order = np.lexsort((ends, rows))
        parts.append((rows[order], ends[order]))
    return parts[0][0], parts[0][1], parts[1][1]


def last_heard(margin: Curve, heard_hz: Ints, silent_hz: Ints, guess_hz: Floats) -> Ints:
    """Return the last whole hertz at which each curve is not below zero.

    Parameters
    ----------
    margin : called with (which curves, whole hertz), both of one shape; returns decibels.
    heard_hz, silent_hz : int64, shape (n,). Ends of a stretch in which each curve crosses zero
        once: not below it at the first, below it at the second, which may be the lower. [Hz]
    guess_hz : float64, shape (n,). Where it may be. [Hz]

    Returns
    -------
    int64, shape (n,). The next hertz towards `silent_hz` is below zero. [Hz]

    Notes
    -----
    Newton's method with the difference of two neighbouring hertz as slope, which also
    closes the bracket; the chord where it leaves the bracket, halving every `HALVE` rounds.
    """
    heard, silent = heard_hz.copy(), silent_hz.copy()
    open_ = np.flatnonzero(np.abs(silent - heard) > 1)
    near, far, guess = heard[open_], silent[open_], guess_hz[open_]
    # the curves at the two ends, once they have been looked at
    near_db, far_db = np.full(len(open_), np.nan), np.full(len(open_), np.nan)
    rounds = 0
    while len(open_):
        up = near < far
        low = np.clip(np.floor(guess), np.where(up, near, far), np.where(up, far, near) - 1).astype(np.int64)
        both = margin(np.concatenate([open_, open_]), np.concatenate([low, low + 1]))
        at_low, at_high = both[: len(open_)], both[len(open_) :]
        # the point on the side that is heard, and the one on the other
        first, second = low + ~up, low + up
        first_db, second_db = np.where(up, at_low, at_high), np.where(up, at_high, at_low)
        on, past = second_db >= 0, first_db < 0
        short = ~past & ~on
        near = np.where(on, second, np.where(past, near, first))
        near_db = np.where(on, second_db, np.where(past, near_db, first_db))
        far = np.where(past, first, np.where(short, second, far))
        far_db = np.where(past, first_db, np.where(short, second_db, far_db))
        rounds += 1
        still = np.flatnonzero(np.abs(far - near) > 1)
        if len(still) < len(open_):
            heard[open_] = near
            open_, near, far = open_[still], near[still], far[still]
            near_db, far_db = near_db[still], far_db[still]
            low, at_low, at_high = low[still], at_low[still], at_high[still]
        guess = _next_guess(low, at_low, at_high, near, far, near_db, far_db, halve=rounds % HALVE == 0)
    return heard


def _next_guess(
    low: Ints, at_low: Floats, at_high: Floats, near: Ints, far: Ints, near_db: Floats, far_db: Floats,
    *, halve: bool,
) -> Floats:  # fmt: skip
    middle = (near + far) / 2.0
    if halve:
        return middle
    with np.errstate(divide="ignore", invalid="ignore"):
        newton = low - at_low / (at_high - at_low)
        chord = near + (far - near) * (near_db / (near_db - far_db))
    least, most = np.minimum(near, far), np.maximum(near, far)
    guess = np.where((newton > least) & (newton < most), newton, chord)
    return np.where((guess > least) & (guess < most), guess, middle)

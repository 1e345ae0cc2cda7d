"""What a route is called, and how it is written.

Everything is said relative to the wanted route of the same set, so half-IF is
[2, -2] with the oscillator above and [-2, 2] with it below.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from spurplan.receiver.chain import Chains
from spurplan.receiver.injection import code_of, line_of
from spurplan.responses.lines import Lines

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

IMPURE = "impure injection"
# a response that has no name of its own: of harmonics of both, or unlike the wanted one at two mixers
PRODUCT = "mixer product"
ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth")
Steps = tuple[tuple[int, int], ...]


def response_name(steps: Steps, wanted: Steps) -> str:
    """Return what the trade calls a route.

    Parameters
    ----------
    steps, wanted : tuple of (lo, rf), one a conversion, in signal order.

    Returns
    -------
    str. "wanted", "image", "second image", "IF breakthrough", "second-IF
    breakthrough", "half-IF", "LO-harmonic", "RF-harmonic", "impure injection" or "mixer product".
    """
    if any(code_of(np.array(lo)) for lo, _ in steps):
        return IMPURE
    if steps == wanted:
        return "wanted"
    past = next((i for i, step in enumerate(steps) if step != (0, 1)), len(steps))
    if past and steps[past:] == wanted[past:]:
        return "IF breakthrough" if past == 1 else f"{ORDINALS[past - 1]}-IF breakthrough"
    odd = [i for i, (step, want) in enumerate(zip(steps, wanted, strict=True)) if step != want]
    if len(odd) > 1:
        return PRODUCT
    (lo, rf), (want_lo, want_rf) = steps[odd[0]], wanted[odd[0]]
    if abs(lo) == abs(want_lo) and abs(rf) == abs(want_rf):
        return "image" if odd[0] == 0 else f"{ORDINALS[odd[0]]} image"
    if (lo, rf) == (2 * want_lo, 2 * want_rf):
        return "half-IF"
    if abs(rf) == 1 and lo != 0:
        return "LO-harmonic"
    if abs(rf) > 1 and abs(lo) in (0, abs(want_lo)):
        return "RF-harmonic"
    return PRODUCT


def equation(steps: Steps) -> str:
    """Return a route as it is worked out: ``IF = 2 LO - RF``, ``IF1 = LO1 - RF; IF2 = IF1 - LO2``."""
    return "; ".join(stage_equations(steps))


def stage_equations(steps: Steps) -> list[str]:
    """Return a route as it is worked out, mixer by mixer."""
    if len(steps) == 1:
        return [stage_equation("IF", "", "RF", *steps[0])]
    incoming = ["RF", *(f"IF{i}" for i in range(1, len(steps)))]
    return [
        stage_equation(f"IF{i}", str(i), incoming[i - 1], lo, rf) for i, (lo, rf) in enumerate(steps, start=1)
    ]


def stage_equation(result: str, number: str, signal: str, lo: int, rf: int) -> str:
    """Return what one mixer makes, as ``IF = 2 LO - RF``; of a line beside the injection ``RF - 2 crystal``.

    Of a line beside a premixed one it is ``RF - 2 crystal + VFO``, VFO being the variable oscillator.

    Parameters
    ----------
    number : str. Of its oscillator among several, "" for the only one.
    """
    code = int(code_of(np.array(lo)))
    terms = [(lo, f"LO{number}"), (rf, signal)]
    if code:
        p, q = (int(np.sign(lo)) * int(part) for part in line_of(code))
        terms = [(p, f"crystal{number}"), (q, f"VFO{number}"), (rf, signal)]
    terms.sort(key=lambda term: term[0] < 0)
    text = ""
    for factor, name in terms:
        if factor:
            size = name if abs(factor) == 1 else f"{abs(factor)} {name}"
            sign = "-" if factor < 0 else "+"
            text += f" {sign} {size}" if text else (f"- {size}" if factor < 0 else size)
    return f"{result} = {text}"


def numbered(name: str, count: int) -> tuple[str, ...]:
    """Return "IF" for one conversion, "IF1", "IF2" for two."""
    return (name,) if count == 1 else tuple(f"{name}{i}" for i in range(1, count + 1))


def target_names(conversions: int) -> tuple[str, ...]:
    """Return what a product can land on: the dial frequency, then each IF in signal order."""
    return ("dial", *numbered("IF", conversions))


def steps_of(lines: Lines, line: int) -> Steps:
    """Return the steps of one line as plain tuples."""
    return steps_of_rows(lines.steps[line])


def steps_of_rows(steps: Ints) -> Steps:
    """Return rows of [lo, rf] as plain tuples."""
    return tuple((int(lo), int(rf)) for lo, rf in steps)


def wanted_of(chains: Chains, candidate: int) -> Steps:
    """Return the wanted steps of one candidate as plain tuples."""
    return steps_of_rows(chains.wanted_steps[candidate])


def order_of(lines: Lines, line: Ints) -> Ints:
    """Return the order of each route, sum of |lo| + |rf|, shape of `line`."""
    size = np.abs(lines.steps[line])
    # a line beside the injection mixes once
    size[:, :, 0] = np.where(code_of(size[:, :, 0]) > 0, 1, size[:, :, 0])
    order: Ints = size.sum(axis=(1, 2))
    return order


def pad_db_per_db(lines: Lines, line: Ints) -> Ints:
    """Return how many decibels each falls per decibel of pad at the aerial, shape of `line`."""
    pad: Ints = np.abs(lines.steps[line, :, 1]).prod(axis=1)
    return pad


def inverted(chains: Chains, lines: Lines, line: Ints) -> npt.NDArray[np.bool_]:
    """Whether the sideband comes out inverted against the wanted signal, shape of `line`."""
    own = np.sign(lines.steps[line, :, 1]).prod(axis=1)
    wanted = np.sign(chains.wanted_steps[lines.candidate[line], :, 1]).prod(axis=1)
    turned: npt.NDArray[np.bool_] = own != wanted
    return turned


def moves(chains: Chains, lines: Lines, line: Ints) -> Floats:
    """Return dIF/ddial at a fixed signal over the wanted route's, shape of `line`.

    Notes
    -----
    NaN where the wanted product does not move with the dial: no oscillator tunes.
    """
    candidate = lines.candidate[line]
    own = _slope(chains, candidate, lines.steps[line])
    wanted = _slope(chains, candidate, chains.wanted_steps[candidate])
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio: Floats = np.where(wanted == 0, np.nan, own / wanted)
    return ratio


def _slope(chains: Chains, candidate: Ints, steps: Ints) -> Floats:
    """Return dIF/ddial at a fixed signal, over the common denominator of the oscillators."""
    mixed = [chains.mixed_with(i, candidate, steps[:, i, 0]) for i in range(chains.conversions)]
    common = np.prod([h for _, _, h, _ in mixed], axis=0)
    slope = np.zeros(len(candidate), dtype=np.int64)
    for i, (a, _, h, lo) in enumerate(mixed):
        slope = lo * a * (common // h) + steps[:, i, 1] * slope
    exact: Floats = slope / common
    return exact

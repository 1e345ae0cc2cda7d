"""What one call of the engine says about each of many candidates.

A candidate is a chain and a stretch of dial. What counts here is how much of it
is clear and who is worst, not every stretch of every station: a station that
lies inside a band as loud as itself adds nothing to either, and is left out
before the engine is asked.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from spurplan.columns import NULL_INT, distinct
from spurplan.errors import Refused
from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import Chains
from spurplan.responses.asking import Settings
from spurplan.responses.beyond import Beyond, beyond_tables
from spurplan.responses.birdies.self_whistles import whistles_on
from spurplan.responses.counting import covered_hz, loudest_of
from spurplan.responses.curves import Curve
from spurplan.responses.dead_dial import dead_stretches
from spurplan.responses.division_of_dial import Stretches, divided, heard_stretches
from spurplan.responses.engine import respond, span_hz
from spurplan.responses.grades import Graded
from spurplan.responses.intrusion_table import Response, intruding
from spurplan.responses.join import Hits, join
from spurplan.responses.levels import AirBudget
from spurplan.responses.lines import Lines, enumerate_lines, lines_of_routes, product_steps
from spurplan.responses.outline import at_loudest, outline
from spurplan.rows import Rows, floats, ints

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]
Progress = Callable[[int, int], None]

# Candidates worked through in one call, by number of conversions: what fits in memory.
AT_ONCE = {1: 4_000, 2: 1_000, 3: 400, 4: 60}
PAIRS_AT_ONCE = 1_000_000
NOBODY = -1
# Different levels that are told apart when stations inside bands are looked for.
LEVEL_CLASSES = 64


class Receptions(Rows):
    """What is heard on the stretch of dial of each candidate; V of them.

    Attributes
    ----------
    unheard_share, unknown_share : float64, shape (V,). Parts of the stretch where nothing is heard:
        as far as the tables reach, and where they do not, 0 to 1.
    unknown_margin_db : float64, shape (V,). The greatest margin that a strong station beyond the
        tables could have anywhere on it; NaN where it would not be heard. [dB]
    dead_hz : int64, shape (V,). How much of it lies on an IF of the set. [Hz]
    occupant : int64, shape (V,). The worst intruder, index into the occupants; -1 for none.
    steps : int64, shape (V, N, 2). The way it comes in.
    grade : int64, shape (V,). Its grade; 0 where there is none.
    margin_db : float64, shape (V,). Its margin; NaN where there is none. [dB]
    dial_hz : int64, shape (V,). Where it is loudest; `NULL_INT` where there is none. [Hz]
    whistles : int64, shape (V,). Places where a station on the dial beats with itself,
        those left out that come by stray coupling alone.
    """

    unheard_share: Floats = floats()
    unknown_share: Floats = floats()
    unknown_margin_db: Floats = floats()
    dead_hz: Ints = ints()
    occupant: Ints = ints()
    steps: Ints = ints(ndim=3)
    grade: Ints = ints()
    margin_db: Floats = floats()
    dial_hz: Ints = ints()
    whistles: Ints = ints()


def tally(
    chains: Chains,
    occupants: Occupants,
    settings: Settings,
    unlisted_dbm: float,
    progress: Progress | None = None,
) -> Receptions:
    """Return what the engine hears on each candidate, in parts that fit in memory.

    Parameters
    ----------
    chains : Chains, V candidates.
    occupants : Occupants.
    settings : Settings. What is buried does not count, whatever they say of it.
    unlisted_dbm : float. Level of a station to tune to where none is listed. [dBm]
    progress : called with the number of candidates just done and V, or None.

    Raises
    ------
    Refused  when the orders are too high for the numbers.
    """
    chosen = replace(settings, everything=False)
    telling = np.arange(len(occupants))
    if not chosen.skirts:
        telling = outstanding(occupants, chains)
    heard_of = occupants.take(telling)
    size = max(1, min(AT_ONCE.get(chains.conversions, 1), PAIRS_AT_ONCE // max(len(heard_of), 1)))
    parts = []
    for start in range(0, len(chains), size):
        some = chains.take(np.arange(start, min(start + size, len(chains))))
        if chosen.skirts:
            parts += [
                _of_response(r, telling, chosen, unlisted_dbm) for r in _responses(some, heard_of, chosen)
            ]
        else:
            parts.append(_outlined(some, heard_of, telling, chosen, occupants, unlisted_dbm))
        if progress is not None:
            progress(len(some), len(chains))
    return Receptions.concat(parts)


def _outlined(
    chains: Chains,
    heard_of: Occupants,
    telling: Ints,
    settings: Settings,
    occupants: Occupants,
    unlisted_dbm: float,
) -> Receptions:
    """Return the tally of candidates of which nothing but an outline is wanted."""
    steps = product_steps(settings.lo_order, settings.rf_order)
    budget = AirBudget(chains, heard_of, settings.audible_at, drop=True, steps=steps)
    lines = enumerate_lines(
        chains, settings.lo_order, settings.rf_order, span_hz=span_hz(heard_of), budget=budget
    )
    lines = lines.take(~lines.is_wanted(chains))
    hits = join(lines, heard_of, strong_enough=True)
    outlined = outline(
        chains, lines, heard_of, hits, strong_at_db=settings.strong_at, audible_at_db=settings.audible_at
    )
    whistles = _whistles(chains, lines, occupants, settings, unlisted_dbm)
    stretches = (outlined.candidate, outlined.dial_low_hz, outlined.dial_high_hz)
    beyond = beyond_tables(chains, occupants, settings, unlisted_dbm)
    return _tally(chains, lines, stretches, beyond, outlined.worst, telling, whistles)


def _responses(chains: Chains, occupants: Occupants, settings: Settings) -> Iterator[Response]:
    """Yield the responses of all candidates, in as many parts as their records ask for."""
    try:
        yield respond(chains, occupants, settings)
    except Refused:
        if len(chains) < 2:
            raise
        half = len(chains) // 2
        yield from _responses(chains.take(np.arange(half)), occupants, settings)
        yield from _responses(chains.take(np.arange(half, len(chains))), occupants, settings)


def outstanding(occupants: Occupants, chains: Chains) -> Ints:
    """Return the occupants that do not lie inside another one which is heard as well as they are.

    Parameters
    ----------
    occupants : Occupants.
    chains : Chains. Who listens on them tells from which level on each kind of signal is heard.

    Returns
    -------
    int64, ascending indices. The others change the greatest margin by what half a passband
    changes on a skirt, a tenth of a decibel or so, and what is clear where their margin is no
    more than that: on any route the one around them is as near the line, and as strong.
    """
    kept = np.zeros(len(occupants), dtype=bool)
    for listener in chains.listener:
        need = listener.hearing_dbhz(occupants.sound, occupants.width_hz)
        kept |= ~_covered(occupants, need)
    return np.flatnonzero(kept).astype(np.int64)


def _covered(occupants: Occupants, need_dbhz: Floats) -> npt.NDArray[np.bool_]:
    """Whether an occupant lies inside another that is as strong and heard as well, shape (n,).

    Notes
    -----
    Both are asked for: by a route of the second order a decibel of level is worth two of need.
    """
    level = occupants.level_dbm
    covered = np.zeros(len(occupants), dtype=bool)
    for need in distinct(need_dbhz):
        among = np.flatnonzero(need_dbhz <= need)
        needs_dbm = level[among] + np.maximum(need - need_dbhz[among], 0.0)
        covered[among[_inside_another(occupants.take(among), needs_dbm)]] = True
    return covered


def _inside_another(occupants: Occupants, needs_dbm: Floats) -> npt.NDArray[np.bool_]:
    """Whether an occupant lies inside another one of at least a level, shape (n,)."""
    order = np.lexsort((-occupants.level_dbm, -occupants.high_hz, occupants.low_hz))
    high, level, needs = occupants.high_hz[order], occupants.level_dbm[order], needs_dbm[order]
    # rounded up to a few classes: some that add nothing stay in, none that adds goes
    classes = distinct(needs)
    if len(classes) > LEVEL_CLASSES:
        classes = classes[np.linspace(0, len(classes) - 1, LEVEL_CLASSES).astype(np.int64)]
    inside = np.zeros(len(order), dtype=bool)
    class_of = np.searchsorted(classes, needs)
    for number, need_dbm in enumerate(classes.tolist()):
        reach = np.maximum.accumulate(np.where(level >= need_dbm, high, -1))
        before = np.append(np.int64(-1), reach[:-1])
        inside |= (class_of == number) & (before >= high)
    out = np.empty(len(order), dtype=bool)
    out[order] = inside
    return out


def _of_response(response: Response, telling: Ints, settings: Settings, unlisted_dbm: float) -> Receptions:
    """Return the tally of candidates whose every stretch is known: skirts take more than an outline."""
    shown = intruding(response)
    chains, lines, graded = shown.chains, shown.lines, shown.graded
    worst = loudest_of(lines, graded, len(chains))
    stretches = heard_stretches(lines, graded)
    beyond = beyond_tables(chains, response.occupants, settings, unlisted_dbm)
    whistles = _whistles(chains, lines, response.occupants, settings, unlisted_dbm)
    return _tally(chains, lines, stretches, beyond, graded.take(worst[worst >= 0]), telling, whistles)


def _tally(
    chains: Chains,
    lines: Lines,
    stretches: Stretches,
    beyond: Beyond,
    worst: Graded,
    telling: Ints,
    whistles: Ints,
) -> Receptions:
    """Put together what was found: stretches (candidate, first, last), and one worst a candidate."""
    count = len(chains)
    at = lines.candidate[worst.line]
    occupant = np.full(count, NOBODY, dtype=np.int64)
    steps = np.zeros((count, chains.conversions, 2), dtype=np.int64)
    grade = np.zeros(count, dtype=np.int64)
    margin = np.full(count, np.nan)
    dial = np.full(count, NULL_INT, dtype=np.int64)
    occupant[at], steps[at] = telling[worst.occupant], lines.steps[worst.line]
    grade[at], margin[at], dial[at] = worst.grade, worst.margin_db, worst.loudest_dial_hz
    share, dead_hz = divided(chains, stretches, beyond), covered_hz(*dead_stretches(chains), count)
    return Receptions(
        share.unheard_share, share.unknown_share, beyond.greatest_margin_db(count), dead_hz, occupant, steps,
        grade, margin, dial, whistles,
    )  # fmt: skip


def _whistles(
    chains: Chains, lines: Lines, occupants: Occupants, settings: Settings, unlisted_dbm: float
) -> Ints:
    """Return on how many places a station on the dial beats with itself, shape (V,)."""
    whistles = whistles_on(chains, lines, occupants, unlisted_dbm)
    heard = (whistles.margin_db >= settings.audible_at) & ~whistles.through_ceiling
    crossing = distinct(whistles.line[heard])
    return np.bincount(lines.candidate[crossing], minlength=len(chains)).astype(np.int64)


class Loudest(Rows):
    """The loudest occupant that comes in by one given way; V of them.

    Attributes
    ----------
    occupant : int64, shape (V,). Index into the occupants; -1 where there is nobody.
    heard_dbm : float64, shape (V,). NaN where there is nobody. [dBm]
    grade : int64, shape (V,). Its grade there; 0 where there is nobody.
    """

    occupant: Ints = ints()
    heard_dbm: Floats = floats()
    grade: Ints = ints()


def loudest_by(chains: Chains, steps: Ints, occupants: Occupants, settings: Settings) -> Loudest:
    """Return who is loudest by one way into each candidate, buried or not.

    Parameters
    ----------
    chains : Chains, V candidates.
    steps : int64, shape (V, N, 2). The way.
    occupants : Occupants.
    settings : Settings. The thresholds of the grades.
    """
    lines = lines_of_routes(chains, steps)
    telling = outstanding(occupants, chains)
    known = occupants.take(telling)
    hits = join(lines, known)
    nobody = np.full(len(chains), NOBODY, dtype=np.int64)
    out = Loudest(nobody, np.full(len(chains), np.nan), np.zeros(len(chains), dtype=np.int64))
    if not len(hits):
        return out
    graded = at_loudest(
        chains, lines, known, _likeliest(chains, lines, known, hits),
        strong_at_db=settings.strong_at, audible_at_db=settings.audible_at,
    )  # fmt: skip
    order = np.lexsort((graded.dial_low_hz, -np.round(graded.heard_dbm, 6), graded.line))
    first = order[np.append(True, np.diff(graded.line[order]) != 0)]
    at = graded.line[first]
    out.occupant[at] = telling[graded.occupant[first]]
    out.heard_dbm[at], out.grade[at] = graded.heard_dbm[first], graded.grade[first]
    return out


def _likeliest(chains: Chains, lines: Lines, occupants: Occupants, hits: Hits) -> Hits:
    """Return the hit of each line that is loudest on a few points of its stretch."""
    curve = Curve(chains, lines, occupants)
    span = hits.dial_high_hz - hits.dial_low_hz
    heard = np.stack(
        [curve.heard(hits.line, hits.occupant, hits.dial_low_hz + span * k // 4) for k in range(5)]
    ).max(axis=0)
    order = np.lexsort((-heard, hits.line))
    return hits.take(order[np.append(True, np.diff(hits.line[order]) != 0)])

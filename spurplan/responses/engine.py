"""Chains and occupants in, graded stretches out: lines, join, grades in one call."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from spurplan.columns import distinct
from spurplan.errors import Fault, Refused
from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import Chains
from spurplan.responses.asking import Settings
from spurplan.responses.grades import grade_hits
from spurplan.responses.intrusion_table import Response
from spurplan.responses.join import Hits, join
from spurplan.responses.levels import AirBudget, least_bar_dbm
from spurplan.responses.lines import Lines, enumerate_lines, product_steps

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

MOST_RECORDS = 1_000_000


def respond(chains: Chains, occupants: Occupants, settings: Settings) -> Response:
    """Return what is heard of some occupants by some chains, the wanted route included.

    Parameters
    ----------
    chains : Chains, V candidates, all worked through at once.
    occupants : Occupants.
    settings : Settings.

    Returns
    -------
    Response. Its stretches stand in no particular order; buried ones are among them
        with ``settings.everything`` alone.

    Raises
    ------
    Refused  when the orders are too high for the numbers, or the records too many.
    """
    steps = product_steps(settings.lo_order, settings.rf_order)
    budget = AirBudget(chains, occupants, settings.audible_at, drop=not settings.everything, steps=steps)
    reach = skirt_reach_hz(chains, occupants, settings) if settings.skirts else chains.bandwidth_hz
    lines = enumerate_lines(
        chains,
        settings.lo_order,
        settings.rf_order,
        span_hz=span_hz(occupants),
        reach_hz=reach,
        budget=budget,
        tally=_tally(chains, occupants, settings),
    )
    hits = join(lines, occupants, strong_enough=not settings.everything)
    if settings.skirts:
        hits = _off_the_wanted(chains, lines, occupants, hits)
    refuse_too_many(len(hits))
    graded = grade_hits(
        chains,
        lines,
        occupants,
        hits,
        strong_at_db=settings.strong_at,
        audible_at_db=settings.audible_at,
        keep_buried=settings.everything,
    )
    return Response(chains, lines, occupants, graded)


def span_hz(occupants: Occupants) -> tuple[int, int]:
    """Return the lowest and highest frequency of any occupant. [Hz]"""
    if not len(occupants):
        return 1, 1
    return int(occupants.low_hz.min()), int(occupants.high_hz.max())


def _tally(chains: Chains, occupants: Occupants, settings: Settings) -> Callable[[Lines], None]:
    """Return a function that counts the records of lines given a lot at a time, and refuses too many."""
    count = 0

    def counted(lines: Lines) -> None:
        nonlocal count
        # the wanted route's stretches may yet be cut out of the answer
        others = lines.take(np.flatnonzero(~lines.is_wanted(chains)))
        count += len(join(others, occupants, strong_enough=not settings.everything))
        refuse_too_many(count)

    return counted


def refuse_too_many(count: int, most: int | None = None) -> None:
    """Refuse more records of one set than a bench computer holds, or more of what takes too long."""
    most = MOST_RECORDS if most is None else most
    if count > most:
        raise Refused(
            Fault(
                "answer",
                f"would have more than {most:,} records ({count:,} counted)",
                remedy="narrow it with --range, --region, --lo-order, --rf-order, or leave --everything out",
            )
        )


def skirt_reach_hz(chains: Chains, occupants: Occupants, settings: Settings) -> Ints:
    """Return the width in the final IF out to where the filter buries the strongest, shape (V,). [Hz]

    Notes
    -----
    Found by halving on the filter itself. Where even its ultimate rejection does not
    bury the strongest occupant, out to where that is reached: the skirt ends there.
    """
    point = chains.conversions
    strongest = occupants.level_dbm.max() if len(occupants) else -np.inf
    least = least_bar_dbm(chains, occupants)
    bury_db = strongest - least - settings.audible_at
    centre = chains.if_hz.astype(np.float64)

    def lost(offset: Ints) -> Floats:
        out = np.empty(len(chains))
        for code in distinct(chains.selectivity_code[:, point]):
            rows = np.flatnonzero(chains.selectivity_code[:, point] == code)
            out[rows] = chains.selectivity[point][int(code)].loss_db(
                centre[rows] + offset[rows], centre[rows]
            )
        return out

    low, high = chains.bandwidth_hz // 2, chains.if_hz - 1
    target = np.minimum(bury_db, lost(high) - 1e-6)
    while (open_ := high - low > 1).any():
        middle = (low + high) // 2
        deep = lost(middle) >= target
        low, high = np.where(open_ & ~deep, middle, low), np.where(open_ & deep, middle, high)
    return np.minimum(2 * high, 2 * (chains.if_hz - 1))


def _off_the_wanted(chains: Chains, lines: Lines, occupants: Occupants, hits: Hits) -> Hits:
    """Cut what stands in the passband itself out of the hits of the wanted route.

    An occupant there is what the set is tuned to; beside it, it is a strong neighbour.
    """
    wanted = lines.is_wanted(chains)
    tuned = np.flatnonzero(wanted)
    plain = lines.take(tuned, reach_hz=chains.bandwidth_hz[lines.candidate[tuned]])
    inside = join(plain, occupants)
    if not len(inside):
        return hits
    inside_key = tuned[inside.line] * len(occupants) + inside.occupant
    inside = inside.take(np.argsort(inside_key))
    inside_key.sort()
    key = hits.line * len(occupants) + hits.occupant
    place = np.minimum(np.searchsorted(inside_key, key), len(inside_key) - 1)
    cut = np.flatnonzero(wanted[hits.line] & (inside_key[place] == key))
    before, after = hits.take(cut), hits.take(cut)
    before.dial_high_hz[:] = inside.dial_low_hz[place[cut]] - 1
    after.dial_low_hz[:] = inside.dial_high_hz[place[cut]] + 1
    whole = np.ones(len(hits), dtype=bool)
    whole[cut] = False
    parts = Hits.concat([hits.take(np.flatnonzero(whole)), before, after])
    return parts.take(np.flatnonzero(parts.dial_low_hz <= parts.dial_high_hz))

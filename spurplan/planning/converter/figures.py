"""What can be said for and against each crystal: all figures of a candidate, as arrays."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from spurplan.columns import NULL_INT
from spurplan.occupancy.occupants import Occupants
from spurplan.planning.converter.candidates import NO_CRYSTAL, Candidates, Prototypes, chains_of
from spurplan.planning.converter.crystals import Crystal
from spurplan.planning.outlook import shares_of
from spurplan.planning.tally import NOBODY, Progress, Receptions, loudest_by, tally
from spurplan.receiver.chain import Chains
from spurplan.responses.asking import Settings
from spurplan.responses.birdies.combinations import equation
from spurplan.responses.birdies.harmonics import self_heard
from spurplan.responses.birdies.oscillators import CRYSTAL, MIXING, oscillators_of
from spurplan.responses.image_rejection import image_rejection_db
from spurplan.responses.listening.judged import AirAtHour, unlisted_share
from spurplan.responses.routes import target_names
from spurplan.rows import Rows, bools, column, floats, ints, shared

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

# Harmonics of the crystal by itself, and sums of harmonics with an oscillator of the set,
# up to which a birdie is counted for or against a crystal; `birdies` looks further.
HARMONICS = 10
MIXED_ORDER = 6
# Settings of a cover looked at: the share is within half a point of that on ten times as many.
SETTINGS = 100
# Candidates judged together: what arrives on each at each setting has to fit in memory.
AT_ONCE = 64


class Birdies(Rows):
    """Where the converter's crystal, alone or with the set's oscillators, is heard; G of them.

    Attributes
    ----------
    candidate : int64, shape (G,).
    dial_low_hz, dial_high_hz : int64, shape (G,). First and last dial frequency. [Hz]
    exact_hz : int64, shape (G,). Where it is dead on; `NULL_INT` where it is at no one place. [Hz]
    order : int64, shape (G,). Sum of the harmonics.
    harmonic : int64, shape (G,). Of the crystal, where nothing else takes part; else 0.
    harmonic_hz : int64, shape (G,). That harmonic; `NULL_INT` where something else takes part. [Hz]
    target : int64, shape (G,). What it lands on: 0 the cover, 1 the tunable IF, then the IFs.
    equation : object, shape (G,). Text.
    """

    candidate: Ints = ints()
    dial_low_hz: Ints = ints()
    dial_high_hz: Ints = ints()
    exact_hz: Ints = ints()
    order: Ints = ints()
    harmonic: Ints = ints()
    harmonic_hz: Ints = ints()
    target: Ints = ints()
    equation: npt.NDArray[np.object_] = column(object)

    def of(self, candidate: int) -> Birdies:
        """Return those of one candidate, the simplest first, where they ascend by candidate."""
        start, stop = np.searchsorted(self.candidate, [candidate, candidate + 1]).tolist()
        return self.take(np.arange(start, stop))


class Figures(Rows):
    """Figures of V candidates; of one that reaches no range its shares and levels are NaN.

    Attributes
    ----------
    image_rejection_db, second_image_rejection_db : float64, shape (V,). Worst over the
        cover; NaN where unknown. [dB]
    straight_in : int64, shape (V,). Who comes straight in on the tunable IF, loudest; index
        into the occupants, -1 for nobody.
    straight_in_dbm : float64, shape (V,). Heard level; NaN for nobody. [dBm]
    straight_in_grade : int64, shape (V,).
    unheard_share, unknown_share, unknown_margin_db, worst, worst_grade, worst_margin_db, worst_dial_hz,
    whistles, dead_hz : as in `Receptions`, shape (V,); shares NaN where there is no range.
    worst_steps : object, shape (V,). Tuples: the way the worst comes in.
    usable_share, usable_low, usable_high : float64, shape (V,). Mean chance that a setting can be listened
        to on a busy evening, and between what it lies in eight worlds of ten; NaN where there is no range.
    unlisted_share : float64, shape (V,). Part of which nobody can tell besides, for the tables list hardly
        anybody on its images; NaN where there is no range.
    birdies : int64, shape (V,). Ways in which the crystal is heard.
    heard_birdies : Birdies. What they are, the candidates being those of here.
    everywhere : bool, shape (V,). One of them is heard at every dial setting.
    reading_error_hz : int64, shape (V,). What the tolerance makes of the dial. [Hz]
    """

    image_rejection_db: Floats = floats()
    second_image_rejection_db: Floats = floats()
    straight_in: Ints = ints()
    straight_in_dbm: Floats = floats()
    straight_in_grade: Ints = ints()
    unheard_share: Floats = floats()
    unknown_share: Floats = floats()
    usable_share: Floats = floats()
    usable_low: Floats = floats()
    usable_high: Floats = floats()
    unlisted_share: Floats = floats()
    unknown_margin_db: Floats = floats()
    worst: Ints = ints()
    worst_grade: Ints = ints()
    worst_margin_db: Floats = floats()
    worst_dial_hz: Ints = ints()
    worst_steps: npt.NDArray[np.object_] = column(object)
    whistles: Ints = ints()
    dead_hz: Ints = ints()
    birdies: Ints = ints()
    heard_birdies: Birdies = shared()
    everywhere: Bools = bools()
    reading_error_hz: Ints = ints()

    def in_order(self, order: Ints) -> Figures:
        """Return the figures of all candidates in another order, the birdies with them.

        Parameters
        ----------
        order : int64, shape (V,). The candidate that comes to stand at each place.
        """
        place = np.empty(len(order), dtype=np.int64)
        place[order] = np.arange(len(order))
        birdies = self.heard_birdies.replace(candidate=place[self.heard_birdies.candidate])
        simplest = np.lexsort((birdies.dial_low_hz, birdies.order, birdies.candidate))
        return self.take(order, heard_birdies=birdies.take(simplest))


def figures_of(
    chosen: Candidates,
    crystals: Sequence[Crystal],
    before: Prototypes,
    place: AirAtHour,
    settings: Settings,
    progress: Progress | None = None,
) -> Figures:
    """Return the figures of candidates.

    Parameters
    ----------
    chosen : Candidates.
    crystals, before : the crystals and prototypes they refer to.
    place, settings : where the set stands and who is on the air, and how the question is asked.
    progress : called with (candidates done, candidates in all), or None.
    """
    out = _unknown(chosen, crystals)
    placed = np.flatnonzero(chosen.placed)
    some = chosen.take(placed)
    same, back = _once(some)
    counted = _counting(progress, len(same))
    for which, chains in chains_of(some.take(same), before):
        rows = _rows(back, which)
        _fill_heard(out, placed, rows, tally(chains, place.occupants, settings, place.stranger_dbm))
        _fill_usable(out, placed, rows, chains, place, settings, counted)
        if not some.alone[same[which]].any():
            _fill_straight_in(out, placed, rows, chains, place.occupants, settings)
        for name, conversion in (("image_rejection_db", 0), ("second_image_rejection_db", 1)):
            if conversion < chains.conversions:
                getattr(out, name)[placed[rows[0]]] = image_rejection_db(chains, conversion)[0][rows[1]]
    heard = []
    out.birdies[placed[some.alone]] = 0
    for which, chains in chains_of(some, before):
        if some.alone[which].any():
            # a set's own whistles are there with every crystal
            continue
        birdies = birdies_of(chains, some.multiplier[which])
        at = placed[which]
        out.birdies[at] = np.bincount(birdies.candidate, minlength=len(which))
        whole = (birdies.dial_low_hz == chains.low_hz[birdies.candidate]) & (
            birdies.dial_high_hz == chains.high_hz[birdies.candidate]
        )
        out.everywhere[at] = np.bincount(birdies.candidate[whole], minlength=len(which)) > 0
        heard.append(birdies.replace(candidate=at[birdies.candidate]))
    return out.replace(heard_birdies=Birdies.concat(heard))


def _unknown(chosen: Candidates, crystals: Sequence[Crystal]) -> Figures:
    count = len(chosen)
    ppm = np.array(
        [0.0 if i == NO_CRYSTAL else crystals[i].ppm for i in chosen.crystal.tolist()], dtype=np.float64
    )
    error = np.ceil(chosen.injected_hz * ppm / 1e6 - 1e-9).astype(np.int64)
    steps = np.empty(count, dtype=object)
    steps.fill(())
    columns: dict[str, Any] = {name: np.full(count, np.nan) for name in _FLOATS}
    columns |= {name: np.zeros(count, dtype=np.int64) for name in _INTS}
    columns |= {name: np.full(count, NOBODY, dtype=np.int64) for name in ("straight_in", "worst")}
    columns |= {name: np.full(count, NULL_INT, dtype=np.int64) for name in ("whistles", "birdies")}
    return Figures(
        **columns,
        worst_dial_hz=np.full(count, NULL_INT, dtype=np.int64), worst_steps=steps,
        heard_birdies=Birdies.empty(), everywhere=np.zeros(count, dtype=bool), reading_error_hz=error,
    )  # fmt: skip


_FLOATS = (
    "image_rejection_db", "second_image_rejection_db", "straight_in_dbm", "unheard_share", "unknown_share",
    "unknown_margin_db", "worst_margin_db", "usable_share", "usable_low", "usable_high",
    "unlisted_share",
)  # fmt: skip
_INTS = ("straight_in_grade", "worst_grade", "dead_hz")


def _once(some: Candidates) -> tuple[Ints, Ints]:
    """Return one of each lot that inject the same, and for every candidate which one that is.

    Notes
    -----
    14 MHz from a crystal and from twice 7 MHz are two: the multiplier leaves other harmonics beside it.
    """
    if not len(some):
        none = np.zeros(0, dtype=np.int64)
        return none, none
    key = np.stack([some.cover, some.range, some.side, some.injected_hz, some.multiplier], axis=1)
    _, first, back = np.unique(key, axis=0, return_index=True, return_inverse=True)
    return first.astype(np.int64), back.reshape(-1).astype(np.int64)


def _rows(back: Ints, which: Ints) -> tuple[Ints, Ints]:
    """Return (candidate, row of the chains) of every candidate that some chains stand for."""
    place = np.full(int(back.max(initial=-1)) + 1, NOBODY, dtype=np.int64)
    place[which] = np.arange(len(which))
    rows = np.flatnonzero(place[back] >= 0)
    return rows, place[back[rows]]


def _counting(progress: Progress | None, whole: int) -> Progress | None:
    """Return a progress that counts on from group to group."""
    if progress is None:
        return None
    done = 0

    def count(some: int, _: int) -> None:
        nonlocal done
        done += some
        progress(done, whole)

    return count


def _fill_heard(out: Figures, placed: Ints, rows: tuple[Ints, Ints], heard: Receptions) -> None:
    at, row = placed[rows[0]], rows[1]
    for name, values in (
        ("unheard_share", heard.unheard_share), ("unknown_share", heard.unknown_share),
        ("unknown_margin_db", heard.unknown_margin_db), ("worst", heard.occupant),
        ("worst_grade", heard.grade), ("worst_margin_db", heard.margin_db), ("worst_dial_hz", heard.dial_hz),
        ("whistles", heard.whistles), ("dead_hz", heard.dead_hz),
    ):  # fmt: skip
        getattr(out, name)[at] = values[row]
    steps = [tuple((lo, rf) for lo, rf in route) for route in heard.steps.tolist()]
    for candidate, of in zip(at.tolist(), row.tolist(), strict=True):
        out.worst_steps[candidate] = steps[of]


def _fill_usable(
    out: Figures,
    placed: Ints,
    rows: tuple[Ints, Ints],
    chains: Chains,
    place: AirAtHour,
    settings: Settings,
    counted: Progress | None,
) -> None:
    at, row = placed[rows[0]], rows[1]
    share, low, high = (np.empty(len(chains)) for _ in range(3))
    for start in range(0, len(chains), AT_ONCE):
        which = np.arange(start, min(start + AT_ONCE, len(chains)))
        judged = shares_of(chains.take(which), place, settings, count=SETTINGS)
        share[which], (low[which], high[which]) = judged.usable, judged.interval()
        if counted is not None:
            counted(len(which), len(chains))
    out.unlisted_share[at] = unlisted_share(chains, place, settings)[row]
    out.usable_share[at], out.usable_low[at], out.usable_high[at] = share[row], low[row], high[row]


def _fill_straight_in(
    out: Figures,
    placed: Ints,
    rows: tuple[Ints, Ints],
    chains: Chains,
    occupants: Occupants,
    settings: Settings,
) -> None:
    loudest = loudest_by(chains, straight_in_steps(chains), occupants, settings)
    at, row = placed[rows[0]], rows[1]
    out.straight_in[at], out.straight_in_dbm[at] = loudest.occupant[row], loudest.heard_dbm[row]
    out.straight_in_grade[at] = loudest.grade[row]


def straight_in_steps(chains: Chains) -> Ints:
    """Return the way past the converter's mixer, shape (V, N, 2)."""
    steps = chains.wanted_steps.copy()
    steps[:, 0] = (0, 1)
    return steps


def birdies_of(chains: Chains, multiplier: Ints) -> Birdies:
    """Return where the crystals of converters are heard.

    Parameters
    ----------
    chains : Chains, V candidates.
    multiplier : int64, shape (V,). Times which each crystal is multiplied.

    Notes
    -----
    What the set hears of its own oscillators without the converter is left out: it is
    no argument for or against a crystal.
    """
    return Birdies.concat([_harmonics(chains, multiplier), _mixed(chains, multiplier)])


def _harmonics(chains: Chains, multiplier: Ints) -> Birdies:
    """Return the harmonics of the crystal by itself, in the cover, in the tunable IF and in the IFs.

    Each is named wherever it lands: that one is in the cover on the dial frequency on
    which another is in the tunable IF is the worse for it.
    """
    k = np.arange(1, HARMONICS + 1, dtype=np.int64)
    # k times the crystal; what is injected is a whole multiple of it
    at = k[None] * (chains.osc_b[:, 0] // multiplier)[:, None]
    parts = []
    for target in range(chains.conversions + 1):
        a, b = chains.want_a[:, target, None], chains.want_b[:, target, None]
        half = chains.bandwidth_hz[:, None] // 2
        low, high = chains.low_hz[:, None], chains.high_hz[:, None]
        exact = np.where(a == 0, NULL_INT, a * (at - b))
        low = np.maximum(low, np.where(a == 0, low, exact - half))
        high = np.minimum(high, np.where(a == 0, high, exact + half))
        candidate, row = np.nonzero((low <= high) & ((a != 0) | (np.abs(at - b) <= half)))
        exact, low, high = (np.broadcast_to(x, at.shape)[candidate, row] for x in (exact, low, high))
        name = target_names(chains.conversions)[target]
        words = [f"{'crystal' if n == 1 else f'{n} crystal'} = {name}" for n in k[row].tolist()]
        parts.append(
            Birdies(
                candidate=candidate, dial_low_hz=low, dial_high_hz=high,
                exact_hz=np.where((exact < low) | (exact > high), NULL_INT, exact), order=k[row],
                harmonic=k[row], harmonic_hz=at[candidate, row],
                target=np.full(len(row), target, dtype=np.int64), equation=np.array(words, dtype=object),
            )
        )  # fmt: skip
    return Birdies.concat(parts)


def _mixed(chains: Chains, multiplier: Ints) -> Birdies:
    """Return sums and differences of harmonics of the crystal and of the set's oscillators."""
    oscillators = oscillators_of(chains, multiplier={0: multiplier})
    heard, made = self_heard(chains, oscillators, MIXED_ORDER)
    crystal = (oscillators.conversion == 0) & np.isin(oscillators.role, (MIXING, CRYSTAL))
    factors = made.factors[heard.combination] != 0
    both = factors[:, crystal].any(axis=1) & factors[:, ~crystal].any(axis=1)
    heard = heard.take(np.flatnonzero(both))
    targets = target_names(chains.conversions)
    different, back = np.unique(heard.combination, return_inverse=True)
    words = [
        equation(
            oscillators.names,
            tuple(made.factors[c].tolist()),
            targets[made.target[c]],
            bool(made.meets_bfo[c]),
        )
        for c in different.tolist()
    ]
    exact = heard.exact_dial_hz()
    outside = (exact < heard.dial_low_hz) | (exact > heard.dial_high_hz)
    return Birdies(
        candidate=heard.candidate, dial_low_hz=heard.dial_low_hz, dial_high_hz=heard.dial_high_hz,
        exact_hz=np.where(outside, NULL_INT, exact), order=made.order[heard.combination],
        harmonic=np.zeros(len(heard), dtype=np.int64), harmonic_hz=np.full(len(heard), NULL_INT),
        target=made.target[heard.combination],
        equation=np.array(words, dtype=object)[back.reshape(-1)],
    )  # fmt: skip

"""Conversions as integer lines, for many candidates at once.

A candidate is one range of one set: the present one, one with a crystal in
front, one with another IF. Every oscillator and every wanted frequency is
affine in the dial frequency d, so a chain is a few integers a conversion, and
ten thousand chains are a few arrays.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, TypeVar

import numpy as np
import numpy.typing as npt

from spurplan.columns import distinct
from spurplan.receiver.description import Conversion, Element, Filter, Mixer, Premix, Range, Receiver
from spurplan.receiver.families import single_tone_intercept_dbm
from spurplan.receiver.injection import BESIDE, MOST_OF_VARIABLE, REACH, code_of, line_of
from spurplan.receiver.listener import Listener
from spurplan.receiver.mixers import CompiledMixer, compile_mixer
from spurplan.receiver.noise import Floor, compile_floor
from spurplan.receiver.oscillator_noise import OscillatorNoise, compile_noise
from spurplan.receiver.plan import StagePlan, dial_point
from spurplan.receiver.premixer import Passed, beside_premixed_db, least_followed_db
from spurplan.receiver.selectivity import (
    NO_SELECTIVITY,
    Selectivity,
    Varied,
    compile_elements,
    compile_filter,
    compile_lead,
    known_of,
)
from spurplan.rows import Rows, floats, ints, shared
from spurplan.units import HIGHEST_HZ

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]
T = TypeVar("T")


class Chains(Rows):
    """Candidates with the same number of conversions N; V of them.

    Attributes
    ----------
    osc_a, osc_b, osc_h : int64, shape (V, N). Oscillator of conversion i on
        (osc_a d + osc_b) / osc_h. [osc_b: Hz]
    want_a, want_b : int64, shape (V, N + 1). Wanted frequency at point i is
        want_a d + want_b; point 0 is the antenna, point i follows conversion i. [Hz]
    wanted_steps : int64, shape (V, N, 2). (lo, rf) of the wanted product.
    made_of : int64, shape (V, N, 3). (X, p, q) of an oscillator made of a crystal X and another oscillator V,
        p X + q V, which injects other combinations of them, too; q is 0 for a multiplied crystal, and X for
        one that is made of nothing else. [Hz, -, -]
    if_hz, bandwidth_hz : int64, shape (V,). The last IF and its -6 dB width. [Hz]
    low_hz, high_hz : int64, shape (V,). First and last dial frequency. [Hz]
    dial_point : int64, shape (V,). The point whose frequency the main dial is marked in.
    offset_hz : int64, shape (V,). What the pointer shows above that. [Hz]
    gain_db : float64, shape (V, N + 1). Point 0: aerial to first mixer, where boxes in the lead take
        least off the wanted signal. [dB]
    pickup_db : float64, shape (V, N). What gets past conversion i; inf where nothing does. [dB]
    selectivity, mixer : tuples by point and by conversion; candidates name theirs by code.
    selectivity_code : int64, shape (V, N + 1).  mixer_code : int64, shape (V, N).
    noise, noise_code : the noise of oscillators, by conversion, and which one is a candidate's, shape (V, N).
    floor, floor_code : the noise floors, and which one is a candidate's, shape (V,).
    listener, listener_code : who listens, and who on a candidate, shape (V,).
    names, name_code : names of the ranges, and which one is a candidate's, shape (V,).
    """

    osc_a: Ints = ints(ndim=2)
    osc_b: Ints = ints(ndim=2)
    osc_h: Ints = ints(ndim=2)
    want_a: Ints = ints(ndim=2)
    want_b: Ints = ints(ndim=2)
    wanted_steps: Ints = ints(ndim=3)
    made_of: Ints = ints(ndim=3)
    if_hz: Ints = ints()
    bandwidth_hz: Ints = ints()
    low_hz: Ints = ints()
    high_hz: Ints = ints()
    dial_point: Ints = ints()
    offset_hz: Ints = ints()
    gain_db: Floats = floats(ndim=2)
    pickup_db: Floats = floats(ndim=2)
    selectivity: tuple[tuple[Selectivity, ...], ...] = shared()
    selectivity_code: Ints = ints(ndim=2)
    mixer: tuple[tuple[CompiledMixer, ...], ...] = shared()
    mixer_code: Ints = ints(ndim=2)
    noise: tuple[tuple[OscillatorNoise, ...], ...] = shared()
    noise_code: Ints = ints(ndim=2)
    floor: tuple[Floor, ...] = shared()
    floor_code: Ints = ints()
    listener: tuple[Listener, ...] = shared()
    listener_code: Ints = ints()
    names: tuple[str, ...] = shared()
    name_code: Ints = ints()

    @property
    def conversions(self) -> int:
        """N, the number of conversions."""
        return int(self.osc_a.shape[1])

    def varied(
        self,
        q_factor: float = 1.0,
        ceiling_db: float = 0.0,
        coupling_score: float = 0.0,
        box_q_factor: float = 1.0,
        box_ceiling_db: float = 0.0,
        q_spread: float = 0.0,
        ceiling_spread_db: float = 0.0,
    ) -> Chains:
        """Return the candidates with other figures of circuits and of stray coupling; as `Varied`."""
        figures = Varied(
            q_factor, ceiling_db, coupling_score, box_q_factor, box_ceiling_db, q_spread, ceiling_spread_db
        )
        varied = tuple(
            tuple(selectivity.varied(figures) for selectivity in point) for point in self.selectivity
        )
        return self.replace(selectivity=varied, pickup_db=self.pickup_db + ceiling_db)

    def lead_loss_db(self, candidate: Ints, dial_hz: Ints) -> Floats:
        """Return what boxes in the lead take off the wanted signal over what they take least. [dB]"""
        if not any(lead.takes_wanted for lead in self.selectivity[0]):
            return np.zeros(dial_hz.shape)
        return per_code(
            self.selectivity_code[:, 0][candidate],
            self.selectivity[0],
            dial_hz.astype(np.float64),
            lambda lead, rows: lead.lead_loss_db(dial_hz[rows]),
        )

    def tuned_to(self, dial_low_hz: Ints, dial_high_hz: Ints) -> Chains:
        """Return the candidates with other ends of the dial, shape (V,). [Hz]"""
        return self.replace(
            low_hz=np.broadcast_to(np.asarray(dial_low_hz, dtype=np.int64), self.low_hz.shape).copy(),
            high_hz=np.broadcast_to(np.asarray(dial_high_hz, dtype=np.int64), self.high_hz.shape).copy(),
        )

    def within(self, span_hz: tuple[int, int]) -> Chains:
        """Return the candidates with what of their dial lies in a stretch; each holds some of it. [Hz]"""
        low_hz, high_hz = span_hz
        return self.tuned_to(np.maximum(self.low_hz, low_hz), np.minimum(self.high_hz, high_hz))

    def wanted_hz(self, point: int, candidate: Ints, dial_hz: Ints) -> Ints:
        """Return the wanted frequency at a point, shape of `dial_hz`. [Hz]"""
        wanted: Ints = self.want_a[:, point][candidate] * dial_hz + self.want_b[:, point][candidate]
        return wanted

    def oscillator_hz(self, conversion: int, candidate: Ints, dial_hz: Ints) -> Floats:
        """Return the oscillator (its fundamental), shape of `dial_hz`. [Hz]"""
        numerator = self.osc_a[:, conversion][candidate] * dial_hz + self.osc_b[:, conversion][candidate]
        oscillator: Floats = numerator / self.osc_h[:, conversion][candidate]
        return oscillator

    def mixed_with(self, conversion: int, candidate: Ints, lo: Ints) -> tuple[Ints, Ints, Ints, Ints]:
        """Return what steps of one mixer mix with, as (a, b, h, times): times (a d + b) / h.

        Parameters
        ----------
        candidate, lo : int64, broadcasting together. `lo` as in the steps of a route: the harmonic of the
            oscillator, or `BESIDE` and more for a line beside an injection that is made of others.
        """
        a, b, h = (getattr(self, name)[:, conversion][candidate] for name in ("osc_a", "osc_b", "osc_h"))
        code = code_of(lo)
        if not code.any():
            return a, b, h, lo
        beside = code > 0
        line_a, line_b, line_h = self.line_beside(conversion, candidate, code)
        return (
            np.where(beside, line_a, a),
            np.where(beside, line_b, b),
            np.where(beside, line_h, h),
            np.where(beside, np.sign(lo), lo),
        )

    def line_beside(self, conversion: int, candidate: Ints, code: Ints) -> tuple[Ints, Ints, Ints]:
        """Return (a, b, h) of lines beside an injection, by `injection.line_code`: on (a d + b) / h.

        Notes
        -----
        With V = q (LO - p X) the line m X + n V is n q LO + (m - n q p) X.
        """
        a, b, h = (getattr(self, name)[:, conversion][candidate] for name in ("osc_a", "osc_b", "osc_h"))
        crystal, p, q = (self.made_of[:, conversion, k][candidate] for k in range(3))
        m, n = line_of(code)
        # a harmonic of the crystal alone does not hang on the oscillator
        h = np.where(n == 0, 1, h)
        return n * q * a, n * q * b + (m - n * q * p) * crystal * h, h

    def most_mixed_with(self, conversion: int) -> tuple[int, int]:
        """Return the largest |a| and |b| that `mixed_with` gives of any candidate, in Python integers."""
        a, b, h = (int(np.abs(getattr(self, f"osc_{name}")[:, conversion]).max()) for name in "abh")
        crystal, p, q = (int(np.abs(self.made_of[:, conversion, k]).max()) for k in range(3))
        if not crystal:
            return a, b
        if not q:
            return a, b * REACH
        n = MOST_OF_VARIABLE
        return n * a, n * b + ((REACH + n) * p + 1) * crystal * h

    def injected_hz(self, conversion: int, candidate: Ints, lo: Ints, dial_hz: Ints) -> Floats:
        """Return what steps of one mixer add to the signal, shape of `dial_hz`; as `mixed_with`. [Hz]"""
        a, b, h, times = self.mixed_with(conversion, candidate, lo)
        injected: Floats = times * ((a * dial_hz + b) / h)
        return injected

    def weakened_db(self, conversion: int, candidate: Ints, lo: Ints, dial_hz: Ints) -> Floats | None:
        """Return what the filter behind a premixer takes off lines beside its injection, all of shape (n,).

        Returns
        -------
        float64, shape (n,), above what `CompiledMixer.beside` counts already; None where there are none. [dB]
        """
        mixers, code = self.mixer[conversion], code_of(lo)
        if all(mixer.passed is None for mixer in mixers) or not code.any():
            return None
        out = np.zeros(len(lo))
        mixed = self.mixer_code[:, conversion][candidate]
        for number, mixer in enumerate(mixers):
            here = (
                (mixed == number) & (code > 0) if mixer.passed is not None else np.zeros(len(lo), dtype=bool)
            )
            for line in distinct(code[here]).tolist():
                rows = np.flatnonzero(here & (code == line))
                who, dial = candidate[rows], dial_hz[rows]

                def line_hz(of: int, who: Ints = who, dial: Ints = dial) -> Floats:
                    a, b, h = self.line_beside(conversion, who, np.full(len(who), of))
                    at: Floats = (a * dial + b) / h
                    return at

                assert mixer.passed is not None, "only those are here"
                out[rows] = mixer.passed.more_db(line, line_hz, self.oscillator_hz(conversion, who, dial))
        return out

    def beside_steps(self, conversion: int, steps: Ints) -> Ints:
        """Return steps of one mixer and those of lines beside its injection, where any candidate has some.

        Parameters
        ----------
        steps : int64, shape (S, 2). Lines beside the injection are asked for where these hold lo = 1.
        """
        mixers, codes = self.mixer[conversion], distinct(self.mixer_code[:, conversion])
        lines = {k for code in codes for k, _ in mixers[int(code)].beside}
        single = steps[np.abs(steps[:, 0]) == 1]
        if not lines or not len(single):
            return steps
        sign, lo = single[:, 0], BESIDE + np.array(sorted(lines), dtype=np.int64)
        more = np.stack([(sign[None] * lo[:, None]).ravel(), np.tile(single[:, 1], len(lo))], axis=1)
        return np.concatenate([steps, more])

    def there(self, conversion: int, candidate: Ints, lo: Ints) -> npt.NDArray[np.bool_]:
        """Whether each candidate has the line that a step mixes with; candidate and lo broadcast."""
        line, mixers = code_of(lo), self.mixer[conversion]
        known = np.zeros((len(mixers), int(line.max(initial=0)) + 1), dtype=np.bool_)
        known[:, 0] = True
        for code, mixer in enumerate(mixers):
            known[code, [k for k, _ in mixer.beside if k < known.shape[1]]] = True
        there: npt.NDArray[np.bool_] = known[self.mixer_code[:, conversion][candidate], line]
        return there

    def set_dial_hz(self, candidate: Ints, dial_hz: Ints) -> Ints:
        """Return what the main dial shows, shape of `dial_hz`. [Hz]

        Behind a converter that is the tunable IF, unless the dial is marked otherwise; the
        calibration offset of the range is what the pointer shows above that.
        """
        point = self.dial_point[candidate]
        shown: Ints = (
            self.want_a[candidate, point] * dial_hz
            + self.want_b[candidate, point]
            + self.offset_hz[candidate]
        )
        return shown

    def tuned_hz(self, candidate: Ints, set_dial_hz: Ints) -> Ints:
        """Return what is received while the main dial shows something: `set_dial_hz` turned round. [Hz]"""
        point = self.dial_point[candidate]
        tuned: Ints = self.want_a[candidate, point] * (
            set_dial_hz - self.offset_hz[candidate] - self.want_b[candidate, point]
        )
        return tuned


def per_code(
    codes: Ints, kinds: Sequence[T], shape_like: npt.NDArray[Any], work: Callable[[T, Any], Floats]
) -> Floats:
    """Return ``work(kind, rows)`` gathered over the rows of each kind.

    Parameters
    ----------
    codes : int array, shape (n,). Which kind a row is of.
    kinds : sequence. Most questions have one kind, which costs no gathering.
    shape_like : array of shape (n, ...). Shape of the result.
    work : called with a kind and an index of rows; returns their values.
    """
    if len(kinds) == 1:
        return work(kinds[0], slice(None))
    out = np.empty(shape_like.shape, dtype=np.float64)
    for code, kind in enumerate(kinds):
        rows = np.flatnonzero(codes == code)
        if len(rows):
            out[rows] = work(kind, rows)
    return out


def compile_chains(pairs: Sequence[tuple[Receiver, Range]]) -> tuple[Chains, ...]:
    """Return the chains of some ranges, one `Chains` a number of conversions.

    Parameters
    ----------
    pairs : sequence of (receiver, one of its ranges), in the order wanted.

    Returns
    -------
    tuple of Chains, fewest conversions first; inside each the order of `pairs`.
    """
    by_conversions: dict[int, list[tuple[Receiver, Range]]] = {}
    for receiver, tuning_range in pairs:
        count = len(receiver.conversions_of(tuning_range))
        by_conversions.setdefault(count, []).append((receiver, tuning_range))
    return tuple(_compile_equal(by_conversions[count], count) for count in sorted(by_conversions))


class _Kinds:
    """Things that repeat, kept once: a list of the different ones and their codes."""

    def __init__(self) -> None:
        self.keys: dict[Any, int] = {}
        self.made: list[Any] = []

    def code(self, key: Any, make: Callable[..., Any], *arguments: Any) -> int:
        """Return the code of `key`, made by ``make(*arguments)`` where it is new."""
        if key not in self.keys:
            self.keys[key] = len(self.made)
            self.made.append(make(*arguments))
        return self.keys[key]


def _selectivity(elements: tuple[Element, ...], ceiling_db: float, if_filter: Filter | None) -> Selectivity:
    if if_filter is not None:
        return compile_filter(if_filter)
    return compile_elements(elements, ceiling_db) if elements else NO_SELECTIVITY


def _mixer(
    described: Mixer,
    wanted: tuple[int, int],
    measured: tuple[tuple[int, float], ...],
    multiplied: tuple[int, int, float | None],
    premixed: tuple[StagePlan, Premix, tuple[int, int]] | None,
) -> CompiledMixer:
    mixer = compile_mixer(described, wanted, measured)
    return mixer.multiplied(*multiplied) if premixed is None else _behind_premixer(mixer, *premixed)


def _behind_premixer(
    mixer: CompiledMixer, plan: StagePlan, premix: Premix, dial_hz: tuple[int, int]
) -> CompiledMixer:
    """Return a mixer with the lines that come through the filter of its premixer somewhere on a range."""
    crystal_hz, *used = plan.made_of
    ahead_db = beside_premixed_db((used[0], used[1]), premix.mixer, premix.products)
    selectivity = compile_elements(premix.filter, premix.filter_ceiling_db)
    variable_a, variable_b, h = plan.variable()
    variable = [(variable_a * d + variable_b) / h for d in dial_hz]
    injected = [(plan.osc_a * d + plan.osc_b) / h for d in dial_hz]
    anywhere_db = float(selectivity.least_db(1.0, float(HIGHEST_HZ), min(injected), max(injected)))
    followed, least_db = {}, {}
    for code, below_db in ahead_db.items():
        p, q = (int(part) for part in line_of(code))
        ends = [p * crystal_hz + q * v for v in variable]
        nearest_db = anywhere_db
        if ends[0] * ends[1] > 0:
            # a line that turns round at 0 Hz on the range is followed whatever the filter does to it
            nearest_db = float(selectivity.least_db(abs(ends[0]), abs(ends[1]), *injected))
        if below_db + nearest_db <= least_followed_db():
            followed[code], least_db[code] = below_db, nearest_db
    return mixer.premixed((used[0], used[1]), followed, Passed(selectivity, least_db))


def _compile_equal(pairs: list[tuple[Receiver, Range]], count: int) -> Chains:
    filling = _Filling(len(pairs), count)
    for v, (receiver, tuning_range) in enumerate(pairs):
        filling.add(v, receiver, tuning_range)
    return filling.chains()


def _measured_intercepts(receiver: Receiver, tuning_range: Range) -> tuple[tuple[int, float], ...]:
    """Return (order, single-tone intercept at the first mixer), as measured at the terminals. [dBm]"""
    return tuple(
        (order, single_tone_intercept_dbm(order, measured + tuning_range.rf_gain_db))
        for order, measured in ((2, receiver.iip2_dbm), (3, receiver.iip3_dbm))
        if measured is not None
    )


class _Filling:
    """The arrays of `Chains` with `count` conversions while their rows are filled in."""

    def __init__(self, rows: int, count: int) -> None:
        by_conversion = ("osc_a", "osc_b", "osc_h", "mixer_code", "noise_code")
        by_point = ("want_a", "want_b", "selectivity_code")
        by_candidate = (
            "if_hz", "bandwidth_hz", "low_hz", "high_hz", "dial_point", "offset_hz", "floor_code",
            "listener_code",
            "name_code",
        )  # fmt: skip
        shapes: dict[str, tuple[int, ...]] = {
            **dict.fromkeys(by_conversion, (rows, count)),
            **dict.fromkeys(by_point, (rows, count + 1)),
            **dict.fromkeys(by_candidate, (rows,)),
            "wanted_steps": (rows, count, 2),
            "made_of": (rows, count, 3),
        }
        self.arrays: dict[str, npt.NDArray[Any]] = {
            **{name: np.zeros(shape, dtype=np.int64) for name, shape in shapes.items()},
            "gain_db": np.zeros((rows, count + 1)),
            "pickup_db": np.full((rows, count), np.inf),
        }
        self.selectivities = [_Kinds() for _ in range(count + 1)]
        self.mixers, self.noises = ([_Kinds() for _ in range(count)] for _ in range(2))
        self.floors, self.listeners, self.names = _Kinds(), _Kinds(), _Kinds()

    def add(self, v: int, receiver: Receiver, tuning_range: Range) -> None:
        """Fill in candidate v."""
        arrays, conversions = self.arrays, receiver.conversions_of(tuning_range)
        arrays["want_a"][v, 0] = 1
        lead = (
            receiver.ahead_of(tuning_range), tuning_range.front_end, tuning_range.front_end_ceiling_db,
            receiver.case_pickup_db, known_of(tuning_range),
        )  # fmt: skip
        code = self.selectivities[0].code(lead, compile_lead, *lead)
        arrays["selectivity_code"][v, 0] = code
        arrays["gain_db"][v, 0] = tuning_range.rf_gain_db + self.selectivities[0].made[code].lead_gain_db
        plans = receiver.plans_of(tuning_range)
        for i, (conversion, plan) in enumerate(zip(conversions, plans, strict=True)):
            measured = () if i else _measured_intercepts(receiver, tuning_range)
            self._add_conversion(
                v, i, conversion, plan, measured, (tuning_range.low_hz, tuning_range.high_hz)
            )
        last = conversions[-1].filter
        assert last is not None, "validated: the last IF has a filter"
        arrays["if_hz"][v], arrays["bandwidth_hz"][v] = plans[-1].want_b, last.bandwidth_hz
        arrays["low_hz"][v], arrays["high_hz"][v] = tuning_range.low_hz, tuning_range.high_hz
        arrays["dial_point"][v] = dial_point(tuning_range.dial_shows, plans)
        arrays["offset_hz"][v] = tuning_range.dial_offset_hz
        # measured noise is read in the widest filter of the set, whichever range is asked about
        noise_key = (
            receiver.environment, receiver.noise, receiver.atmospheric,
            receiver.noise_figure_db, receiver.antenna_gain_db,
            receiver.ahead_of(tuning_range), receiver.first_stage, "noise_figure_db" in receiver.given,
            tuning_range.front_end if receiver.first_stage is not None else None,
            (receiver.ranges, receiver.conversions) if receiver.noise is not None else None,
        )  # fmt: skip
        arrays["floor_code"][v] = self.floors.code(noise_key, compile_floor, receiver, tuning_range)
        listens = (
            tuning_range.mode or receiver.mode,
            tuning_range.wanted or receiver.wanted,
            last.bandwidth_hz,
        )
        arrays["listener_code"][v] = self.listeners.code(listens, Listener, *listens)
        arrays["name_code"][v] = self.names.code(tuning_range.name, str, tuning_range.name)

    def _add_conversion(
        self,
        v: int,
        i: int,
        conversion: Conversion,
        plan: StagePlan,
        measured: tuple[tuple[int, float], ...],
        dial_hz: tuple[int, int],
    ) -> None:
        arrays = self.arrays
        for name in ("osc_a", "osc_b", "osc_h"):
            arrays[name][v, i] = getattr(plan, name)
        arrays["want_a"][v, i + 1], arrays["want_b"][v, i + 1] = plan.want_a, plan.want_b
        arrays["wanted_steps"][v, i] = plan.lo, plan.rf
        arrays["gain_db"][v, i + 1] = conversion.gain_db
        if conversion.pickup_db is not None:
            arrays["pickup_db"][v, i] = conversion.pickup_db
        behind = (conversion.selectivity, conversion.selectivity_ceiling_db, conversion.filter)
        arrays["selectivity_code"][v, i + 1] = self.selectivities[i + 1].code(behind, _selectivity, *behind)
        arrays["made_of"][v, i] = plan.made_of
        multiplied = (
            conversion.multiplier, conversion.multiplier_circuits, conversion.multiplier_impurity_db,
        )  # fmt: skip
        premixed = None if conversion.premix is None else (plan, conversion.premix, dial_hz)
        mix = (conversion.mixer, (plan.lo, plan.rf), measured, multiplied, premixed)
        arrays["mixer_code"][v, i] = self.mixers[i].code(mix, _mixer, *mix)
        noise = compile_noise(conversion)
        arrays["noise_code"][v, i] = self.noises[i].code(noise, lambda: noise)

    def chains(self) -> Chains:
        """Return the candidates filled in."""
        return Chains(
            **self.arrays,
            selectivity=tuple(tuple(kinds.made) for kinds in self.selectivities),
            mixer=tuple(tuple(kinds.made) for kinds in self.mixers),
            noise=tuple(tuple(kinds.made) for kinds in self.noises),
            floor=tuple(self.floors.made),
            listener=tuple(self.listeners.made),
            names=tuple(self.names.made),
        )

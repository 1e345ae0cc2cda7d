"""What has to go together in a description: rules between values that are each right.

Every check returns all it finds; nothing here raises.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from spurplan.receiver.gang import capacitance_at_ends_pf
from spurplan.receiver.injection import is_harmonic, line_code
from spurplan.receiver.multiplier import usual_circuits
from spurplan.receiver.plan import DIAL_SHOWS, MAKES, StagePlan, Wanted, stage_plan
from spurplan.schema_faults import Inconsistent, Wrong
from spurplan.units import LOWEST_HZ, hz_text

if TYPE_CHECKING:
    from spurplan.receiver.description import Conversion, Gang, Mixer, Premix, Range, Receiver

# A trap for the tenth harmonic of the highest oscillator still makes sense.
_TRAP_BELOW = 10
_TRAP_ABOVE = 20
_CELLS_NAMED = 5


def low_below_high(key: str, low_hz: int, high_hz: int) -> list[Wrong]:
    """Check a pair of edges."""
    if low_hz < high_hz:
        return []
    rule = f"low edge {hz_text(low_hz)} is not below high edge {hz_text(high_hz)}"
    return [Wrong((key,), rule, remedy="give the low edge first")]


def mixer(checked: Mixer) -> list[Wrong]:
    """Check that the figures of a mixer say one thing, and its table is whole."""
    wrongs = []
    intercepts = [key for key in ("h2", "h3", "h4", "h5") if getattr(checked, key) is not None]
    if checked.v0 is not None and intercepts:
        rule = f"gives every intercept, and {', '.join(intercepts)} is given as well"
        wrongs.append(Wrong(("v0",), rule, f"{checked.v0:g}", "leave one of them out"))
    if checked.table is not None and not checked.table_rows:
        wrongs.append(
            Wrong(("table",), "holds no products", checked.table or None, "give at least lo 1, rf 1")
        )
    if checked.table_rows:
        wrongs += table(checked.table_rows)
    return wrongs


def conversion(checked: Conversion) -> list[Wrong]:
    """Check one conversion by itself."""
    wrongs = _one_oscillator(checked)
    if checked.multiplier > 1:
        return wrongs
    rule, remedy = "is said of a multiplier, and there is none", "give multiplier, or leave it out"
    if checked.multiplier_circuits != usual_circuits():
        wrongs.append(Wrong(("multiplier_circuits",), rule, str(checked.multiplier_circuits), remedy))
    if checked.multiplier_impurity_db is not None:
        value = f"{checked.multiplier_impurity_db:g} dB"
        wrongs.append(Wrong(("multiplier_impurity",), rule, value, remedy))
    return wrongs


def _one_oscillator(checked: Conversion) -> list[Wrong]:
    """Check that a conversion says once what its oscillator is."""
    wrongs = []
    fixed = "crystal" if checked.crystal_hz is not None else "oscillator"
    if checked.crystal_hz is not None and checked.oscillator_hz is not None:
        rule = "stands beside crystal: one mixer has one oscillator"
        remedy = "keep oscillator for one that runs free, crystal for a crystal"
        wrongs.append(Wrong(("oscillator",), rule, hz_text(checked.oscillator_hz), remedy))
    elif checked.oscillator_hz is not None and checked.multiplier > 1:
        rule, remedy = (
            "multiplies a crystal, and this oscillator runs free",
            "give oscillator where it is injected",
        )
        wrongs.append(Wrong(("multiplier",), rule, str(checked.multiplier), remedy))
    if checked.premix is not None and (checked.crystal_hz is not None or checked.oscillator_hz is not None):
        rule = f"stands beside {fixed}: one mixer has one oscillator"
        wrongs.append(Wrong(("premix",), rule, remedy=f"leave {fixed} out, or premix"))
    return wrongs


def premix(checked: Premix) -> list[Wrong]:
    """Check that every measured product of a premixer is one, and there once."""
    wrongs = []
    used = MAKES[checked.makes]
    seen: set[int] = set()
    for number, (p, q, _) in enumerate(checked.products):
        value = f"{p} crystal, {q} variable"
        if (p, q) == (0, 0) or is_harmonic(line_code(p, q), (used[0] * checked.multiplier, used[1])):
            rule = "is no line beside the injection, which the others are measured against"
            wrongs.append(Wrong(("products", number), rule, value, "leave it out"))
        elif line_code(p, q) in seen:
            wrongs.append(Wrong(("products", number), "is given twice", value, "keep one of them"))
        seen.add(line_code(p, q))
    return wrongs


def table(rows: tuple[tuple[int, int, float, float], ...]) -> list[Wrong]:
    """Check measured products: each once, none missing, told against lo 1, rf 1."""
    cells: dict[tuple[int, int], float] = {}
    wrongs = []
    for number, (lo, rf, suppression_db, _) in enumerate(rows):
        if rf == 0:
            rule, remedy = "is no product of the signal", "rf runs from 1"
            wrongs.append(Wrong(("table_rows", number), rule, f"lo {lo}, rf 0", remedy))
        elif (lo, rf) in cells:
            rule, remedy = "is given twice", "keep one of them"
            wrongs.append(Wrong(("table_rows", number), rule, f"lo {lo}, rf {rf}", remedy))
        cells[lo, rf] = suppression_db
    if cells.get((1, 1)) is None:
        rule = "has no row lo 1, rf 1, which the others are measured against"
        return [*wrongs, Wrong(("table",), rule, remedy="add 1,1,0 with the level it was measured at")]
    if cells[1, 1] != 0.0:
        rule = "is the product the others are measured against and has to be 0 dB"
        wrongs.append(Wrong(("table",), rule, f"lo 1, rf 1: {cells[1, 1]:g} dB", "take it off every row"))
    return wrongs + _holes(set(cells))


def _holes(cells: set[tuple[int, int]]) -> list[Wrong]:
    """An order inside the table that is missing would be taken from the family unseen."""
    los = range(min((0, 1), key=lambda lo: (lo, 1) not in cells), max(lo for lo, _ in cells) + 1)
    rfs = range(1, max(rf for _, rf in cells) + 1)
    missing = [(lo, rf) for rf in rfs for lo in los if (lo, rf) not in cells and (lo, rf) != (1, 1)]
    if not missing:
        return []
    named = "; ".join(f"lo {lo}, rf {rf}" for lo, rf in missing[:_CELLS_NAMED])
    more = f" and {len(missing) - _CELLS_NAMED} more" if len(missing) > _CELLS_NAMED else ""
    remedy = (
        "give every product up to the highest orders; where nothing was heard, the limit of the measurement"
    )
    return [Wrong(("table",), f"has holes: {named}{more}", remedy=remedy)]


def gang(checked: Gang) -> list[Wrong]:
    """Check that a gang brings exactly one figure beside its maximum."""
    if (checked.c_min_pf is None) == (checked.coil_uh is None):
        rule = "needs exactly one of c_min and coil"
        remedy = (
            "c_min is all capacitance across the signal coil at the high end, coil the signal coil itself"
        )
        return [Wrong((), rule, remedy=remedy)]
    return []


def coverage(checked: Range) -> list[Wrong]:
    """Check one range by itself."""
    wrongs = low_below_high("coverage", checked.low_hz, checked.high_hz)
    for name, ends in (
        ("q_interval", checked.q_interval),
        ("front_end_ceiling_interval", checked.front_end_ceiling_interval_db),
    ):
        if ends is not None and not ends[0] < ends[1]:
            value = f"{ends[0]:g} to {ends[1]:g}"
            wrongs.append(Wrong((name,), "does not rise", value, "write the lower end first"))
    if not wrongs and checked.gang is not None:
        wrongs += _swing(checked)
    return wrongs


def _swing(checked: Range) -> list[Wrong]:
    """A gang that can not cover the range would give a padder from nowhere."""
    assert checked.gang is not None  # checked by the caller
    c_low, c_high = capacitance_at_ends_pf(
        checked.low_hz, checked.high_hz, checked.gang.c_min_pf, checked.gang.coil_uh
    )
    swing = c_low - c_high
    if swing < checked.gang.c_max_pf:
        return []
    rule = f"is less than the swing of {swing:.0f} pF that the coverage needs"
    value = f"{checked.gang.c_max_pf:g} pF"
    return [Wrong(("gang", "c_max"), rule, value, "check c_max, c_min or coil, and the coverage")]


def receiver(checked: Receiver) -> list[Wrong]:
    """Check the set as a whole: names, and the chain on every range."""
    return [
        *_names(checked),
        *_premix_crystals(checked),
        *_chains(checked),
        *_dials(checked),
        *_traps(checked),
        *_beat(checked),
    ]


def _premix_crystals(checked: Receiver) -> Iterator[Wrong]:
    """The crystal of a range needs a premixer that all ranges share."""
    shared = any(
        conversion.premix is not None and conversion.premix.oscillator_of is None
        for conversion in checked.conversions
    )
    for number, range_ in enumerate(checked.ranges):
        if range_.premix_crystal_hz is None or (shared and range_.conversions is None):
            continue
        rule = "is the crystal of a premixer in the [[conversion]] of the set, and there is none"
        remedy = "give [conversion.premix]; in a chain of the range's own the crystal stands there"
        path = ("range", number, "premix_crystal")
        yield Wrong(path, rule, hz_text(range_.premix_crystal_hz), remedy)


def _beat(checked: Receiver) -> Iterator[Wrong]:
    """A beat oscillator runs on the last IF and its offset: that is a frequency above nothing."""
    if checked.bfo is None:
        return
    offset_hz = checked.bfo.offset_hz
    for range_ in checked.ranges:
        try:
            last_hz = checked.plans_of(range_)[-1].if_hz
        except Inconsistent:
            continue  # told as a fault of the chain
        if last_hz is not None and last_hz + offset_hz < LOWEST_HZ:
            rule = f"puts the BFO at {hz_text(last_hz + offset_hz)}: the last IF is {hz_text(last_hz)}"
            remedy = "give the offset from the last IF, a sideband wide: 1 kHz, not its own frequency"
            yield Wrong(("bfo", "offset"), rule, hz_text(offset_hz), remedy)
            return


def _names(checked: Receiver) -> Iterator[Wrong]:
    seen: dict[str, int] = {}
    for number, range_ in enumerate(checked.ranges):
        first = seen.setdefault(range_.name, number)
        if first != number:
            rule = f"is the name of range[{first + 1}] as well"
            yield Wrong(("range", number, "name"), rule, range_.name, "give every range a name of its own")
    for number, box in enumerate(checked.ahead):
        for place, name in enumerate(box.ranges or ()):
            if name not in seen:
                known = "it has " + ", ".join(f'"{known}"' for known in seen)
                yield Wrong(("ahead", number, "ranges", place), "is no range of this set", name, known)


def _chains(checked: Receiver) -> Iterator[Wrong]:
    """One fault of a conversion that several ranges share is told once, with their names."""
    wrongs: dict[tuple[tuple[str | int, ...], str | None], tuple[Wrong, list[str]]] = {}
    for number, range_ in enumerate(checked.ranges):
        base: tuple[str | int, ...] = () if range_.conversions is None else ("range", number)
        for wrong in _chain(checked.conversions_of(range_), range_):
            path = (*base, *wrong.path)
            wrongs.setdefault((path, wrong.value), (wrong, []))[1].append(range_.name)
    for (path, _), (wrong, names) in wrongs.items():
        where = "" if len(checked.ranges) == 1 else " (range " + ", ".join(f'"{n}"' for n in names) + ")"
        yield Wrong(path, wrong.rule + where, wrong.value, wrong.remedy)


def _chain(conversions: tuple[Conversion, ...], range_: Range) -> Iterator[Wrong]:
    if not conversions:
        remedy = "describe at least one mixer as [[conversion]]"
        yield Wrong(("conversion",), "is missing", remedy=remedy)
        return
    wanted = Wanted(1, 0, range_.low_hz, range_.high_hz)
    plans: list[StagePlan] = []
    for number, conversion in enumerate(conversions):
        at = ("conversion", number)
        try:
            plan = stage_plan(conversion, wanted, plans)
        except Inconsistent as bad:
            yield from (Wrong((*at, *w.path), w.rule, w.value, w.remedy) for w in bad.wrongs)
            return  # what follows would be counted from a frequency that is not there
        plans.append(plan)
        wanted = wanted.behind(plan)
        last = number == len(conversions) - 1
        for wrong in _behind(conversion, plan, wanted, last):
            yield Wrong((*at, *wrong.path), wrong.rule, wrong.value, wrong.remedy)


def _behind(conversion: Conversion, plan: StagePlan, wanted: Wanted, last: bool) -> Iterator[Wrong]:
    """Check what follows the mixer against the IF it gives."""
    if plan.if_hz is None:
        yield from _behind_tunable(conversion, wanted, last)
        return
    if conversion.selectivity:
        remedy = "describe it as [conversion.filter], centred on the IF"
        yield Wrong(("selectivity",), "belongs behind a tunable IF, and this one is fixed", remedy=remedy)
    if conversion.filter is None:
        if last:
            remedy = 'give [conversion.filter] with bandwidth = "6 kHz"'
            yield Wrong(("filter",), "is missing behind the last IF", remedy=remedy)
    elif conversion.filter.bandwidth_hz >= 2 * plan.if_hz:
        rule = f"reaches down to 0 Hz on an IF of {hz_text(plan.if_hz)}"
        remedy = f"give less than {hz_text(2 * plan.if_hz)}"
        yield Wrong(("filter", "bandwidth"), rule, hz_text(conversion.filter.bandwidth_hz), remedy)


def _behind_tunable(conversion: Conversion, wanted: Wanted, last: bool) -> Iterator[Wrong]:
    tunes = f"tunes over {wanted.text()}"
    if last:
        remedy = "add the conversion to a fixed IF that follows it"
        yield Wrong((), f"is the last one and its IF {tunes}; the last IF has to be fixed", remedy=remedy)
    if conversion.filter is not None:
        rule = f"needs a fixed IF, and this one {tunes}"
        yield Wrong(("filter",), rule, remedy="describe it as selectivity = [...], which follows the tuning")


def _dials(checked: Receiver) -> Iterator[Wrong]:
    """A dial can be marked in what is tuned by it: the signal, or an IF that moves with it."""
    for number, range_ in enumerate(checked.ranges):
        if range_.dial_shows is None:
            continue
        try:
            plans = checked.plans_of(range_)
        except Inconsistent:
            continue  # told of already
        tuned = DIAL_SHOWS[: 1 + sum(plan.want_a != 0 for plan in plans)]
        if range_.dial_shows not in tuned:
            rule, remedy = "is not tuned on this range", f"it can be {' or '.join(tuned)}"
            yield Wrong(("range", number, "dial_shows"), rule, range_.dial_shows, remedy)


def _traps(checked: Receiver) -> Iterator[Wrong]:
    for number, range_ in enumerate(checked.ranges):
        for place, element in enumerate(range_.front_end or ()):
            trap_hz = getattr(element, "trap_hz", None)
            if trap_hz is None:
                continue
            low, high = _frequencies(checked, range_)
            if low // _TRAP_BELOW <= trap_hz <= high * _TRAP_ABOVE:
                continue
            rule = f"is far from anything this range deals with ({hz_text(low)} to {hz_text(high)})"
            path = ("range", number, "front_end", place, "trap")
            yield Wrong(path, rule, hz_text(trap_hz), "check its unit")


def _frequencies(checked: Receiver, range_: Range) -> tuple[int, int]:
    """Return the lowest and highest of signal, oscillators and IFs on a range. [Hz]"""
    every_hz = [range_.low_hz, range_.high_hz]
    wanted = Wanted(1, 0, range_.low_hz, range_.high_hz)
    plans: list[StagePlan] = []
    for conversion in checked.conversions_of(range_):
        try:
            plan = stage_plan(conversion, wanted, plans)
        except Inconsistent:
            break
        plans.append(plan)
        ends = (range_.low_hz, range_.high_hz)
        every_hz += [max(1, (plan.osc_a * d + plan.osc_b) // plan.osc_h) for d in ends]
        wanted = wanted.behind(plan)
        every_hz += wanted.span
    return min(every_hz), max(every_hz)

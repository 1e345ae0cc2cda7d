"""Hypothesis strategies for receivers that are consistent by construction.

`receivers()` draws sets of one to three ranges with one conversion, two, or a
crystal converter ahead of one; with every kind of element, and with figures
given or left to default. Nothing here knows how the package checks a set: the
chains are drawn so that they work by plain arithmetic.
"""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

from spurplan.receiver.description import Receiver

LOW_HZ, HIGH_HZ = 20_000, 1_000_000_000
LEAST_Q = 0.01


def figures(low: float, high: float) -> st.SearchStrategy[float]:
    """Floats as people and fits produce them: round ones and any others."""
    return st.one_of(
        st.integers(int(low) + 1, int(high)).map(float),
        st.floats(low, high, exclude_min=True, allow_nan=False, allow_infinity=False),
    )


def names() -> st.SearchStrategy[str]:
    """Names in any script, with the characters that TOML has to escape."""
    letters = st.characters(categories=("L", "N", "P", "S"), include_characters=' "\\#\u007e')
    words = st.text(letters, min_size=1, max_size=20).map(str.strip)
    return words.filter(lambda name: name and name.isprintable())


@st.composite
def q_values(draw: st.DrawFn) -> Any:
    """A loaded Q: a number, or points with their frequencies rising."""
    if draw(st.booleans()):
        return draw(figures(LEAST_Q, 400))
    hertz = sorted(draw(st.sets(st.integers(LOW_HZ, HIGH_HZ), min_size=1, max_size=4)))
    return [(hz, draw(figures(LEAST_Q, 400))) for hz in hertz]


@st.composite
def spans(draw: st.DrawFn, low: int = LOW_HZ, high: int = HIGH_HZ) -> tuple[int, int]:
    """Two different frequencies in rising order."""
    first = draw(st.integers(low, high - 1))
    return first, draw(st.integers(first + 1, high))


@st.composite
def elements(draw: st.DrawFn, near_hz: int) -> dict[str, Any]:
    """One element of a front end; a trap stands near `near_hz`."""
    kind = draw(st.sampled_from(("circuits", "coupled_pair", "passband", "trap", "curve")))
    if kind == "circuits":
        out: dict[str, Any] = {"circuits": draw(st.integers(1, 6))}
        return out | ({"q": draw(q_values())} if draw(st.booleans()) else {})
    if kind == "coupled_pair":
        return {"coupled_pair": draw(figures(0, 4)), "q": draw(q_values())}
    if kind == "passband":
        low, high = draw(spans())
        return {"passband": (low, high), "order": draw(st.integers(1, 9))}
    if kind == "trap":
        return {"trap": near_hz, "depth": draw(figures(0, 60)), "q": draw(figures(LEAST_Q, 400))}
    hertz = sorted(draw(st.sets(st.integers(LOW_HZ, HIGH_HZ), min_size=1, max_size=4)))
    return {"curve": [(hz, draw(st.floats(-20, 90))) for hz in hertz]}


def element_lists(near_hz: int) -> st.SearchStrategy[list[dict[str, Any]]]:
    """Up to three elements."""
    return st.lists(elements(near_hz), max_size=3)


@st.composite
def mixers(draw: st.DrawFn) -> dict[str, Any]:
    """A mixer: a family, figures that override it, measured products."""
    out: dict[str, Any] = {}
    if draw(st.booleans()):
        out["family"] = draw(st.sampled_from(("jfet", "diode_ring", "commutating", "valve_additive")))
    for key in ("e1", "balance_lo", "isolation", "h2", "h3", "lo_dbm", "floor"):
        if draw(st.integers(0, 5)) == 0:
            out[key] = draw(figures(0, 60))
    if draw(st.integers(0, 5)) == 0:
        highest_lo, highest_rf = draw(st.integers(1, 3)), draw(st.integers(1, 3))
        out["table"] = [
            (lo, rf, 0.0 if (lo, rf) == (1, 1) else draw(figures(0, 90)), draw(st.floats(-60, 10)))
            for lo in range(1, highest_lo + 1)
            for rf in range(1, highest_rf + 1)
        ]
    return out


@st.composite
def fixed_ifs(draw: st.DrawFn, low: int, high: int, injection: str | None = None) -> dict[str, Any]:
    """A conversion of low..high to a fixed IF, with its filter."""
    side = injection or draw(st.sampled_from(("high", "low", "sum")))
    if side == "high":
        if_hz = draw(st.integers(2_000, 100_000_000))
    elif side == "low":
        if_hz = draw(st.integers(min(1_000, low // 2), low - 1))
    else:
        if_hz = draw(st.integers(high + 1, 2 * high + 1))
    out: dict[str, Any] = {"injection": side, "if_hz": if_hz}
    out["filter"] = {"bandwidth_hz": draw(st.integers(1, 2 * if_hz - 1))}
    if draw(st.booleans()):
        out["filter"] |= {"shape_factor": draw(figures(1, 20)), "ultimate_db": draw(figures(0, 120))}
    if draw(st.booleans()):
        out |= {"gain_db": draw(st.floats(-30, 60)), "oscillator_harmonic": draw(st.integers(1, 4))}
    if draw(st.booleans()):
        out["mixer"] = draw(mixers())
    return out


@st.composite
def chains(draw: st.DrawFn, low: int, high: int) -> list[dict[str, Any]]:
    """Conversions that work for every signal from low to high."""
    kind = draw(st.sampled_from(("single", "double", "crystal second", "converter")))
    if kind == "converter":
        return draw(converted(low, high))
    first = draw(fixed_ifs(low, high))
    if kind == "single":
        return [first]
    if draw(st.booleans()):
        del first["filter"]
    second = draw(fixed_ifs(first["if_hz"], first["if_hz"]))
    if kind == "crystal second":
        sign = {"high": 1, "low": -1, "sum": -1}[second.pop("injection")]
        crystal_hz = abs(first["if_hz"] + sign * second["if_hz"])
        second |= {"crystal_hz": crystal_hz, "oscillator_harmonic": 1}
    return [first, second]


@st.composite
def converted(draw: st.DrawFn, low: int, high: int) -> list[dict[str, Any]]:
    """A crystal conversion to a tunable IF, and one behind it."""
    side = draw(st.sampled_from(("below", "above", "sum")))
    if side == "below":
        crystal = draw(st.integers(1_000, low - 1))
        ends = (low - crystal, high - crystal)
    elif side == "above":
        crystal = draw(st.integers(high + 1, 2 * high))
        ends = (crystal - high, crystal - low)
    else:
        crystal = draw(st.integers(1_000, high))
        ends = (low + crystal, high + crystal)
    ahead: dict[str, Any] = {"crystal_hz": crystal, "pickup_db": draw(figures(0, 90))}
    if side == "sum":
        ahead["injection"] = "sum"
    if draw(st.booleans()):
        # a trap on the tunable IF; the crystal may have put it almost at 0 Hz
        ahead["selectivity"] = draw(element_lists(ends[1]))
    behind = draw(fixed_ifs(*ends, injection="high"))
    return [ahead, behind]


@st.composite
def ranges(draw: st.DrawFn, number: int, own_chain: bool) -> dict[str, Any]:
    """One range; with conversions of its own or for those of the set."""
    low, high = draw(spans())
    out: dict[str, Any] = {"name": f"{number} {draw(names())}", "low_hz": low, "high_hz": high}
    if draw(st.booleans()):
        out["front_end"] = draw(element_lists(low))
    if draw(st.booleans()):
        out |= {"rf_gain_db": draw(st.floats(-40, 60)), "dial_offset_hz": draw(st.integers(-50_000, 50_000))}
    if draw(st.integers(0, 3)) == 0:
        swing = (high / low) ** 2 - 1
        out["gang"] = {"c_min_pf": 50.0, "c_max_pf": min(1e6, 51.0 + 50.0 * swing)}
        if 50.0 * swing >= out["gang"]["c_max_pf"]:
            del out["gang"]
    if own_chain:
        out["conversions"] = draw(chains(low, high))
    return out


@st.composite
def receivers(draw: st.DrawFn) -> Receiver:
    """A whole set."""
    count = draw(st.integers(1, 3))
    own = [draw(st.booleans()) for _ in range(count)]
    all_ranges = [draw(ranges(number + 1, own[number])) for number in range(count)]
    out: dict[str, Any] = {"name": draw(names()), "ranges": all_ranges}
    shared = [one for one, has_own in zip(all_ranges, own, strict=True) if not has_own]
    if shared:
        low, high = min(one["low_hz"] for one in shared), max(one["high_hz"] for one in shared)
        out["conversions"] = draw(chains(low, high))
    if draw(st.booleans()):
        out |= {"region": draw(st.integers(1, 3)), "antenna_gain_db": draw(st.floats(-60, 20))}
    if draw(st.booleans()):
        chains_in_use = [one["conversions"] for one in (out, *all_ranges) if "conversions" in one]
        lowest_if_hz = min(chain[-1]["if_hz"] for chain in chains_in_use)
        out["bfo"] = {"offset_hz": draw(st.integers(max(-5_000, 1 - lowest_if_hz), 5_000))}
    if draw(st.booleans()):
        hertz = sorted(draw(st.sets(st.integers(LOW_HZ, HIGH_HZ), min_size=1, max_size=3)))
        out["noise"] = [(hz, draw(st.floats(-150, -40))) for hz in hertz]
    if draw(st.booleans()):
        out["internal"] = [{"name": draw(names()), "frequency_hz": draw(st.integers(1, HIGH_HZ))}]
    return Receiver.from_dict(out)

"""The table of all outside checks, in the order in which a reader would want them."""

from __future__ import annotations

import math
from importlib import import_module

from tests.outside import CHECKS, Check
from tests.places import import_name

# heading, and the test files whose checks stand under it
SECTIONS = {
    "In print": (
        "test_frequency_examples",
        "test_against_whistle_examples",
        "test_against_published_converters",
        "test_against_published_image_examples",
        "test_image_rejection_whole_tool",
        "test_against_published_products",
        "test_against_published_strong_signals",
        "test_overload",
        "test_against_if_examples",
        "test_against_bench_examples",
        "test_against_intercept_examples",
        "test_against_tracking_examples",
        "test_against_p372",
        "test_against_s_meter",
        "test_against_published_mixer_tables",
        "test_against_allocations",
        "test_against_citizens_channels",
        "test_against_beacon_schedule",
    ),
    "Measured, or worked out by the program of a Recommendation": ("test_against_measured_fields",),
    "Worked out another way": (
        "test_engine_brute_force",
        "test_engine_levels",
        "test_birdies_brute_force",
        "test_intermodulation",
        "test_against_scipy",
        "test_readings_fitting",
        "test_against_two_dimensional_fft",
    ),
    "Simulated": (
        "test_time_domain_sweep",
        "test_impure_injection",
        "test_premixed_injection",
        "test_birdies_in_time",
        "test_intermodulation_levels",
        "test_pairs_in_time",
        "test_against_ngspice",
    ),
}

# what tells that nothing slipped, and not that the world agrees
APART = "Not independent: a default was chosen on it, or the same formula stands on both sides"

# What sources print and no function of the package answers: what, where it is printed, why not.
UNANSWERED = (
    ("field strength of external noise", "ITU-R P.372", "levels are at the terminals, not in the field"),
    ("least capacitance of the gang, coil of the oscillator", "Scilab companion 1409, ex. 8.19, 8.26",
     "the gang is the set's own; the ratio of the oscillator and the padder are checked above"),
    ("-100 dBm as 0.1 picowatt", "NCVEC Extra pool E4D14 (2024-2028)", "levels are in dBm and S units"),
    ("microvolts of S units", "IARU Region 1 R.1", "levels are in dBm and S units"),
)  # fmt: skip


def checks() -> dict[str, list[Check]]:
    """Return all checks, by heading."""
    out = {}
    for heading, modules in SECTIONS.items():
        names = [import_module(import_name(module)).__name__ for module in modules]
        out[heading] = [check for name in names for check in CHECKS if check.cases_of.__module__ == name]
    return out


def figure(value: float, tolerance: float) -> str:
    """Return a difference to a hundredth of its tolerance: what is finer depends on the machine."""
    if value == 0.0 or math.isinf(value):
        return "0" if value == 0.0 else "not found"
    if tolerance == 0.0:
        return f"{value:g}"
    step = 10.0 ** (math.floor(math.log10(tolerance)) - 2)
    rounded = round(value / step) * step
    return f"under {step:g}" if rounded == 0.0 else f"{rounded:.12g}"


def row(check: Check, long: bool) -> str:
    """Return one line of the table."""
    unit = f" {check.unit}" if check.unit else ""
    if check.missing:
        cases, worst = "", f"{check.needs} is not installed"
    elif check.long and not long:
        cases, worst = "", "in the long profile"
    else:
        cases, worst = f"{check.outcome.cases:,}", figure(check.outcome.worst, check.tolerance) + unit
    source = f"{check.source}: {check.apart}" if check.apart else check.source
    return f"| {source} | {check.compares} | {cases} | {worst} | {check.tolerance:g}{unit} |"


def table(long: bool = False) -> str:
    """Return the whole table in Markdown; what stands apart comes behind all that is independent."""
    by_heading = checks()
    parts = {heading: [one for one in found if not one.apart] for heading, found in by_heading.items()}
    parts[APART] = [one for found in by_heading.values() for one in found if one.apart]
    lines = []
    for heading, found in parts.items():
        lines += [f"**{heading}**", ""]
        lines += [
            "| source | compared | cases | worst difference | tolerance |",
            "| --- | --- | --: | --: | --: |",
        ]
        lines += [row(check, long) for check in found]
        lines.append("")
    lines += ["**In print, and not answered**", "", "| what | source | why not |", "| --- | --- | --- |"]
    lines += [f"| {what} | {source} | {why} |" for what, source, why in UNANSWERED]
    return "\n".join(lines)

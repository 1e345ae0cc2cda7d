"""A receiver file to start from: commented, and it runs as it is."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from spurplan import units
from spurplan.errors import Fault, Refused
from spurplan.receiver.file.reading import parse_receiver
from spurplan.receiver.file.writing import inline
from spurplan.units import hz_text

_SOURCE = "starter file"

_HEAD = """\
# A superheterodyne receiver. Every quantity is text with its unit, as "465 kHz".
# What is left out takes its default, and every answer says so.
name = {name}
{region}# ITU region: which rows of the band tables apply; all where it is left out
# place = "52N,5E"              # or a locator: with --month and --utc, who can be heard there and then
environment = "rural"           # man-made noise: city, residential, rural, quiet_rural
# noise = [["3.5 MHz", "S6"], ["28 MHz", "S2"]]      # or as measured on the set itself
noise_figure = "12 dB"
# first_stage = "pentagrid"     # where nobody measured it: what stands first behind the aerial coil:
                                # sharp_pentode, remote_pentode, triode_heptode, pentagrid, cascode, bipolar,
                                # jfet, mosfet, ring
case_pickup = "100 dB"          # how far down signals get past everything; open set 80, screened 110
antenna_gain = "0 dB"           # negative for a short aerial
# iip2 = "40 dBm"               # intercepts of two tones, measured at the set's own aerial terminals:
# iip3 = "0 dBm"                # in place of those of the first mixer's family
# mode = "am"                   # what is listened to: am, ssb, cw, fm; a range may have its own
# wanted = "fair"               # how strong that is: weak, fair, good, or a level, as "S5" or "-102 dBm"

# Boxes in the aerial lead, outermost first; levels are told ahead of them.
# [[ahead]]
# name = "IF trap"
# elements = [ {{ trap = {if_text}, depth = "40 dB", q = 60 }} ]      # as in front_end below
# gain = "0 dB"                 # where the elements take nothing; "-10 dB" for a pad
# noise_figure = "6 dB"         # of a box that amplifies; a passive one adds what it loses
# ceiling = "70 dB"             # how far down signals get round its elements inside
# pickup = "60 dB"              # how far down they get past it into the lead behind
# ranges = ["1"]                # where it is switched in on some ranges alone
"""

_FIRST = """
# One [[conversion]] a mixer, in the order the signal meets them.
[[conversion]]
injection = "{injection}"{pad}# oscillator above the signal ("high"), below it ("low"), or "sum"
if = {if_text}
gain = "0 dB"                   # of mixer and IF amplifier, up to the next mixer or the detector
# oscillator_harmonic = 2       # where the mixer works with a harmonic of the oscillator
# oscillator_noise = "lc"       # beside it, in 1 Hz: lc, crystal, synthesiser, or as measured:
#                               # [["5 kHz", "-123 dB"], ["20 kHz", "-142 dB"]]
[conversion.mixer]
family = "{family}"{family_pad}# or {family_other}, valve_additive, jfet, dual_gate_mosfet,
                                # single_balanced_lo, single_balanced_rf, diode_ring, commutating
#   Any figure of the family may be given in place of its usual one:
#   balance_lo, balance_rf, cross_lo, isolation, floor     as "20 dB"
#   v0 as "300 mV", or h2, h3, h4, h5 as "10 dBm"; lo_dbm as "7 dBm"; e1, c   slopes, as 1.5
#   or table = "mine.csv": products as measured, in columns lo,rf,suppression_db,signal_dbm
[conversion.filter]             # centred on the IF
bandwidth = {bandwidth}             # at -6 dB
shape_factor = 2.5              # width at -60 dB over width at -6 dB
ultimate = "70 dB"
"""

_SECOND = """
# Between two fixed IFs injection and if say it: a fixed oscillator on {crystal}.
# Or give crystal = "{crystal}" in place of injection, and the file is checked against it.
[[conversion]]
injection = {side}
if = {if_text}
gain = "0 dB"
[conversion.mixer]
family = "{family}"
[conversion.filter]
bandwidth = {bandwidth}
shape_factor = 2.5
ultimate = "70 dB"
"""

_MIDDLE = """
{bfo}

# [[internal]]                  # other oscillators in the box
# name = "calibrator"
# frequency = "100 kHz"

# [[local]]                     # a station nearby, on the air in its hours whatever the tables say
# frequency = "1278 kHz"
# level = "-13 dBm"             # at the aerial terminals; or "S9+60"
# label = "Local mast"
# service = "broadcast"         # as in the band tables: amateur, broadcast, citizens, ...
# mode = "am"
# hours = "0500-2300"           # UTC; always where it is left out

# One [[range]] a position of the wave-change switch. Elements of front_end:
#   {{ circuits = 2, q = 55 }}                 tuned circuits; q is the loaded Q, if you know it
#        Count the sections of the tuning gang without the oscillator's: the aerial coil is one circuit, each
#        tuned RF stage adds one. That circuit is worth much more than its gain: every one takes the image
#        down once more, and most on the top range, where the image is nearest to the signal.
#   {{ coupled_pair = 1.0, q = 55 }}           two circuits, coupled: 1.0 is critical;
#        coupling = "capacitive" or "inductive", if you know it
#   {{ passband = ["3 MHz", "4 MHz"], order = 3 }}
#   {{ trap = {if_text}, depth = "25 dB", q = 60 }}
#   {{ curve = "measured.csv" }}               freq_khz,attenuation_db
"""

_RANGE = """
[[range]]
name = "{name}"
coverage = [{low}, {high}]
rf_gain = "{gain_db} dB"{pad}# from the aerial terminals to the first mixer's input
front_end = [ {{ circuits = {circuits} }} ]  # {counted}
front_end_ceiling = "70 dB"     # stray coupling: how far down signals get round the circuits
"""

_LAST = """
# What a range may say besides:
# dial_offset = "-3 kHz"        # what the pointer shows too much; spurplan readings fills it in
# q_interval = [52, 61]         # 95 % interval of the loaded Q in mid-range, as measured: spurplan readings
# front_end_ceiling_interval = ["64 dB", "67 dB"]    # fills in both; margins and shares rest on them
# gang = { c_max = "365 pF", c_min = "40 pF" }       # tuning capacitor; or coil = "1.2 uH" for c_min

# A range with a chain of its own: here a crystal that brings it down to a tunable IF of 3.5 to 4 MHz.
# [[range]]
# name = "crystal"
# coverage = ["21 MHz", "21.5 MHz"]
# front_end = [ { circuits = 2 } ]
# dial_shows = "signal"         # what its dial is marked in, or first_if (the default here), second_if
# [[range.conversion]]
# crystal = "8.75 MHz"          # in place of injection; no if: it is tunable
# multiplier = 2                # 17.5 MHz, below the range; above it the dial runs backwards
# multiplier_circuits = 2       # tuned circuits behind it; what they leave of other harmonics mixes, too
# multiplier_impurity = "40 dB" # how far the worst of those is below the injection, where measured
# pickup = "60 dB"              # how far down a signal gets past it, by lead and chassis
# selectivity = [ { circuits = 1 } ]               # tuned circuits ahead of the next mixer, as in front_end
# selectivity_ceiling = "70 dB"
# [[range.conversion]]
# injection = "high"
# if = "455 kHz"
# [range.conversion.filter]
# bandwidth = "6 kHz"

# A range with an oscillator that is premixed, of a crystal on 18 MHz and a variable one. That is on 5 to
# 5.5 MHz here: it follows from injection, if and crystal.
# [[range]]
# name = "premixed"
# coverage = ["14 MHz", "14.5 MHz"]
# front_end = [ { circuits = 2 } ]
# [[range.conversion]]
# injection = "high"
# if = "9 MHz"
# [range.conversion.premix]     # or [conversion.premix], with premix_crystal = "18 MHz" at each range
# makes = "crystal + variable"  # or crystal - variable, variable - crystal
# crystal = "18 MHz"            # and multiplier = 2 where it is multiplied
# mixer = "balanced"            # what it leaves beside its product: single or balanced; or as measured ahead
# products = [[2, -1, "40 dB"]] # of the filter: 2 crystal - 1 variable, 40 dB below the product
# filter = [ { passband = ["22.8 MHz", "23.7 MHz"], order = 3 } ]      # behind it, as front_end
# filter_ceiling = "70 dB"      # how far down what is beside it gets round that
# [range.conversion.filter]
# bandwidth = "2.4 kHz"
#   In a drift-cancelling loop the oscillator of one conversion is mixed with a crystal for a later one:
#   there premix has oscillator_of = 1, the number of that conversion, in place of a variable oscillator of
#   its own, and injection and if follow. oscillator = "54.5 MHz" in place of crystal is one that runs free
#   and stands still while the range is tuned.
"""

Coverage = tuple[str | int, str | int]
USUAL_COVERAGE: tuple[Coverage, ...] = (("530 kHz", "1.6 MHz"), ("1.6 MHz", "5 MHz"), ("5 MHz", "15 MHz"))


MOST_RF_STAGES = 3
# what converts in most sets of each: a pentagrid or triode-heptode, one transistor [common practice]
MIXERS = {"valves": "valve_multiplicative", "transistors": "bipolar"}
TUBES = {"valves": "tube"}
# An aerial coil steps up by some 6 dB, a tuned RF stage under AGC gives some 14 dB [est]. [dB]
COIL_GAIN_DB, STAGE_GAIN_DB = 6, 14
_BFO = """\
[bfo]                           # beat oscillator, from the last IF
offset = "1 kHz"\
"""
_NO_BFO = "\n".join(f"# {line}" for line in _BFO.replace("]  ", "]", 1).splitlines())


def starter_text(
    coverage: Coverage | Sequence[Coverage] = USUAL_COVERAGE,
    if_hz: str | int | Sequence[str | int] = "455 kHz",
    name: str = "My receiver",
    rf_stages: int | None = None,
    bfo: bool = False,
    region: int | None = None,
    injection: str = "high",
    devices: str = "valves",
) -> str:
    """Return a commented receiver file to start from, which runs as it is.

    Parameters
    ----------
    coverage : (low, high), or a sequence of them, one a range. [int Hz, or text with its unit]
    if_hz : the IF, or two of them for a double-conversion set. [int Hz, or text]
    name : str. Name of the set.
    rf_stages : int or None. Tuned stages ahead of the first mixer, 0 to 3; None where nobody said.
    bfo : bool. Whether it has a beat oscillator.
    region : int or None. ITU region.
    injection : str. Where the oscillator stands to the signal: "high", "low" or "sum".
    devices : str. What it is made with: "valves" (or "tubes") or "transistors", with the usual mixers.

    Returns
    -------
    str. TOML.

    Raises
    ------
    Refused  when the figures make no receiver: no range or one upside down, no IF
        or more than two, more RF stages than any set has, a value that is no frequency, or
        neither valves nor transistors.
    """
    ifs = [units.hz(value, _SOURCE) for value in _listed(if_hz)]
    if not 1 <= len(ifs) <= 2:
        rule = "is not one or two conversions"
        raise Refused(Fault(_SOURCE, rule, f"{len(ifs)} IFs", "write further [[conversion]] tables by hand"))
    if rf_stages is not None and not 0 <= rf_stages <= MOST_RF_STAGES:
        rule = "is no number of RF stages"
        raise Refused(Fault("--rf-stages", rule, str(rf_stages), f"give 0 to {MOST_RF_STAGES}"))
    family = mixer_with(devices)
    region_line = "# region = 1" if region is None else f"region = {region}"
    text = (
        _HEAD.format(name=inline(name), if_text=_quoted(ifs[0]), region=f"{region_line:32}")
        + _conversions(ifs, injection, family)
        + _MIDDLE.format(if_text=_quoted(ifs[0]), bfo=_BFO if bfo else _NO_BFO)
    )
    for number, (low, high) in enumerate(_pairs(coverage), 1):
        text += _range(number, units.hz(low, _SOURCE), units.hz(high, _SOURCE), rf_stages)
    text += _LAST
    parse_receiver(text, _SOURCE)
    return text


def mixer_with(devices: str) -> str:
    """Return the usual family of mixer in a set with valves (or tubes) or with transistors.

    Raises
    ------
    Refused  for any other word.
    """
    kind = str(devices).lower().rstrip("s")
    for known, family in MIXERS.items():
        if kind in (known.rstrip("s"), TUBES.get(known)):
            return family
    rule = "is neither valves nor transistors"
    raise Refused(Fault("--devices", rule, str(devices), "say what its mixer is made with"))


def _conversions(ifs: list[int], injection: str, family: str) -> str:
    """Return the [[conversion]] tables for one IF or two."""
    text = _FIRST.format(
        if_text=_quoted(ifs[0]),
        bandwidth=_bandwidth(ifs[0], last=len(ifs) == 1),
        injection=injection,
        pad=" " * (18 - len(injection)),
        family=family,
        family_pad=" " * (21 - len(family)),
        family_other=next(other for other in MIXERS.values() if other != family),
    )
    if len(ifs) == 1:
        return text
    side = "high" if ifs[1] >= ifs[0] else "low"
    crystal = hz_text(ifs[0] + ifs[1] if side == "high" else ifs[0] - ifs[1])
    bandwidth = _bandwidth(ifs[1], last=True)
    return text + _SECOND.format(
        side=f'"{side}"', crystal=crystal, if_text=_quoted(ifs[1]), bandwidth=bandwidth, family=family
    )


def _range(number: int, low_hz: int, high_hz: int, rf_stages: int | None) -> str:
    """Return a [[range]]; where nobody said, one of medium wave has one circuit, others an RF stage too."""
    stages = (0 if high_hz <= 2_000_000 else 1) if rf_stages is None else rf_stages
    gain_db = 20 if rf_stages is None else COIL_GAIN_DB + STAGE_GAIN_DB * rf_stages
    several = "s" if stages > 1 else ""
    counted = "the aerial coil" + (f" and {stages} tuned RF stage{several}" if stages else "")
    return _RANGE.format(
        name=number,
        low=_quoted(low_hz),
        high=_quoted(high_hz),
        circuits=1 + stages,
        gain_db=gain_db,
        pad=" " * (17 - len(str(gain_db))),
        counted=f"{counted}: taken, as no --rf-stages was given" if rf_stages is None else counted,
    )


def _bandwidth(if_hz: int, last: bool) -> str:
    """Return a usual bandwidth: speech at the last IF, wider ahead of it."""
    return _quoted(min(6_000 if last else 20_000, if_hz))


def _quoted(hz: int) -> str:
    return f'"{hz_text(hz)}"'


def _listed(value: str | int | Sequence[str | int]) -> list[str | int]:
    return [value] if isinstance(value, str | int) else list(value)


def _pairs(coverage: Coverage | Sequence[Coverage]) -> list[Coverage]:
    alone = len(coverage) == 2 and all(isinstance(edge, str | int) for edge in coverage)
    coverages: list[Any] = [coverage] if alone else list(coverage)
    if not coverages:
        raise Refused(Fault(_SOURCE, "has no range", remedy="give at least one, as its low and high edge"))
    for pair in coverages:
        if isinstance(pair, str) or len(pair) != 2:
            rule = "is not a low and a high edge"
            raise Refused(Fault(_SOURCE, rule, str(pair), "give pairs of frequencies"))
    return coverages

"""One damage to a receiver file gives one fault, with the way out."""

# ruff: noqa: E501  one damage a line, so that they read as the table they are

from __future__ import annotations

import pytest

from spurplan.receiver.file.reading import parse_receiver
from tests.receiver_sound import SOUND, refused


def test_the_sound_file_is_sound() -> None:
    """Every damage below is done to a file that reads well."""
    assert parse_receiver(SOUND).ranges[0].high_hz == 30_000_000


# One damage each: what is replaced, by what, the one fault it must give.
DAMAGES = [
    # numbers and units
    ('if = "465 kHz"', "if = 465", 'conversion[1].if: "465" has no unit; write "465 kHz" or "465 MHz"'),
    ('if = "465 kHz"', 'if = "465"', 'conversion[1].if: "465" has no unit; write 465 kHz or 465 MHz'),
    ('if = "465 kHz"', 'if = "465 kc"', 'conversion[1].if: "465 kc" has an unknown unit kc'),
    ('if = "465 kHz"', 'if = "0,465 MHz"', "write decimals with a point, as 0.465 MHz"),
    ('if = "465 kHz"', 'if = "-465 kHz"', "leave the sign out"),
    ('if = "465 kHz"', 'if = "465e3 Hz"', "is not a frequency"),
    ('if = "465 kHz"', 'if = "nan"', "is not a frequency"),
    ('if = "465 kHz"', 'if = "0.1 Hz"', "is finer than 1 Hz"),
    ('if = "465 kHz"', 'if = "99 GHz"', "is above 30 GHz"),
    ('if = "465 kHz"', "if = nan", 'conversion[1].if: "nan" is not a frequency'),
    ('if = "465 kHz"', "if = inf", 'conversion[1].if: "inf" is not a frequency'),
    ('if = "465 kHz"', "if = true", 'conversion[1].if: "true" is not a frequency'),
    ('if = "465 kHz"', "if = 1979-05-27", "is not a frequency"),
    (
        'noise_figure = "12 dB"',
        "noise_figure = 12",
        'noise_figure: "12" has no unit; write "12 dB" in quotes',
    ),
    ('noise_figure = "12 dB"', 'noise_figure = "12"', "is not a number of decibels"),
    ('noise_figure = "12 dB"', 'noise_figure = "-1 dB"', "is outside any sense; give 0 to 60 dB"),
    ('noise_figure = "12 dB"', "noise_figure = inf", 'noise_figure: "inf" is not a number'),
    ('noise_figure = "12 dB"', "noise_figure = true", 'noise_figure: "true" is not a number'),
    ('noise_figure = "12 dB"', "region = 4", 'region: "4" is outside any sense; give 1 to 3'),
    ('noise_figure = "12 dB"', "region = 1.5", 'region: "1.5" is not a whole number'),
    ('noise_figure = "12 dB"', "region = true", 'region: "true" is not a whole number'),
    ('noise_figure = "12 dB"', 'region = "1"', "write 1 without quotes"),
    # words
    ('name = "Test bench"', "name = 5", 'name: "5" is not text; write it in quotes'),
    ('name = "Test bench"', 'name = " "', "is empty"),
    ('name = "Test bench"', 'name = "a\\nb"', "holds control characters"),
    ('name = "Test bench"', 'name = "Test bench "', 'begins or ends with a blank; write "Test bench"'),
    ('name = "Test bench"', "", 'set.toml, name: is missing; write name = "Boathouse valve set"'),
    (
        'injection = "high"',
        'injection = "hihg"',
        'conversion[1].injection: "hihg" is not known here; did you mean',
    ),
    ('injection = "high"', "injection = 1", 'conversion[1].injection: "1" is not text'),
    (
        'family = "jfet"',
        'family = "jfett"',
        'conversion[1].mixer.family: "jfett" is not known here; did you mean "jfet"',
    ),
    (
        'noise_figure = "12 dB"',
        'environment = "rual"',
        'environment: "rual" is not known here; did you mean "rural"',
    ),
    # keys
    (
        'injection = "high"',
        'injektion = "high"\ninjection = "high"',
        'conversion[1].injektion: unknown key; did you mean "injection"?',
    ),
    ('if = "465 kHz"', 'if = "465 kHz"\nif_hz = 465000', "conversion[1].if_hz: unknown key"),
    ('name = "4"', 'name = "4"\nlow_hz = 3', "range[1].low_hz: unknown key"),
    (
        "circuits = 2, q = 55",
        "circuits = 2, qq = 55",
        'range[1].front_end[1].qq: unknown key; did you mean "q"?',
    ),
    ('family = "jfet"', "balance = 3", 'conversion[1].mixer.balance: unknown key; did you mean "balance_'),
    # tables in the wrong shape
    ("[[internal]]", "[internal]", "internal: "),
    ("[[range]]", "[range]", "range: "),
    ('[bfo]\noffset = "1 kHz"', "", None),
    ('[bfo]\noffset = "1 kHz"', "[bfo]", 'bfo.offset: is missing; write offset = "1 kHz"'),
    ('noise_figure = "12 dB"', "region = [1]", 'region: "[1]" is not a whole number'),
    (
        "[conversion.mixer]\nfamily",
        "mixer",
        'conversion[1].mixer: "jfet" is not a table; write it as [conversion.mixer]',
    ),
    # ranges
    (
        '["11 MHz", "30 MHz"]',
        '["30 MHz", "11 MHz"]',
        "range[1].coverage: low edge 30 MHz is not below high edge 11 MHz",
    ),
    ('["11 MHz", "30 MHz"]', '["11 MHz", "11 MHz"]', "low edge 11 MHz is not below high edge 11 MHz"),
    ('["11 MHz", "30 MHz"]', '"11-30 MHz"', 'range[1].coverage: "11-30 MHz" is not a pair of frequencies'),
    ('["11 MHz", "30 MHz"]', '["11 MHz"]', "is not a pair of frequencies"),
    ('["11 MHz", "30 MHz"]', '["11", "30 MHz"]', 'range[1].coverage[1]: "11" has no unit'),
    ('["11 MHz", "30 MHz"]', '["11 MHz", 30]', 'range[1].coverage[2]: "30" has no unit'),
    (
        'coverage = ["11 MHz", "30 MHz"]',
        "",
        'range[1].coverage: is missing; write coverage = ["11 MHz", "30 MHz"]',
    ),
    # elements
    ("circuits = 2, q = 55", "circuits = 0, q = 55", "range[1].front_end[1].circuits"),
    ("circuits = 2, q = 55", "circuits = 2.0, q = 55", '"2.0" is not a whole number'),
    ("circuits = 2, q = 55", "circuits = true, q = 55", '"true" is not a whole number'),
    ("circuits = 2, q = 55", "circuits = 2, q = 0", "range[1].front_end[1].q"),
    ("circuits = 2, q = 55", "circuits = 2, q = nan", "range[1].front_end[1].q"),
    ("circuits = 2, q = 55", 'circuits = 2, q = "55"', "write 55 without quotes"),
    ("circuits = 2, q = 55", "circuits = 2, q = []", "range[1].front_end[1].q: "),
    ("circuits = 2, q = 55", 'circuits = 2, q = [["20 MHz", 40], ["3 MHz", 80]]', "is not in rising order"),
    ("circuits = 2, q = 55", 'circuits = 2, q = [["3 MHz", 40], ["3 MHz", 80]]', "is not in rising order"),
    ("circuits = 2, q = 55", 'circuits = 2, q = [["20 MHz", 40, 3]]', "range[1].front_end[1].q[1]: "),
    ("circuits = 2, q = 55", 'circuits = 2, q = [["20 MHz", "40"]]', "range[1].front_end[1].q[1][2]: "),
    (
        "circuits = 2, q = 55",
        "circuit = 2",
        'range[1].front_end[1].circuit: unknown key; did you mean "circuits"?',
    ),
    ("circuits = 2, q = 55", "q = 55", "needs one of circuits, coupled_pair, passband, trap, curve"),
    (
        "circuits = 2, q = 55",
        'circuits = 2, trap = "1 MHz"',
        "is several elements at once: circuits and trap",
    ),
    ("circuits = 2, q = 55", "coupled_pair = 0, q = 5", "range[1].front_end[1].coupled_pair"),
    (
        "circuits = 2, q = 55",
        'passband = ["4 MHz", "3 MHz"], order = 3',
        "range[1].front_end[1].passband: low edge 4 MHz",
    ),
    ("circuits = 2, q = 55", 'passband = ["3 MHz", "4 MHz"], order = 0', "range[1].front_end[1].order"),
    (
        "circuits = 2, q = 55",
        'passband = ["3 MHz", "4 MHz"]',
        "range[1].front_end[1].order: is missing; write order = 3",
    ),
    ("circuits = 2, q = 55", 'trap = "465 MHz", depth = "0 dB", q = 60', "takes nothing out"),
    ("circuits = 2, q = 55", 'trap = "465 GHz", depth = "20 dB", q = 60', "is above 30 GHz"),
    (
        "circuits = 2, q = 55",
        'trap = "4 GHz", depth = "20 dB", q = 60',
        "is far from anything this range deals with",
    ),
    (
        "circuits = 2, q = 55",
        'trap = "465 Hz", depth = "20 dB", q = 60',
        "is far from anything this range deals with",
    ),
    ("circuits = 2, q = 55", 'curve = [["3 MHz", "2 dB"], ["2 MHz", "2 dB"]]', "is not in rising order"),
    ("circuits = 2, q = 55", "curve = 5", "is neither the name of a CSV file nor a list of points"),
    ("[ { circuits = 2, q = 55 } ]", "{ circuits = 2, q = 55 }", "range[1].front_end: "),
    ("[ { circuits = 2, q = 55 } ]", "[ 5 ]", 'range[1].front_end[1]: "5" is not an element'),
    ("front_end = [", 'front_end_ceiling = "-1 dB"\nfront_end = [', "range[1].front_end_ceiling"),
    # filters and mixers
    ('bandwidth = "6 kHz"', 'bandwidth = "930 kHz"', "conversion[1].filter.bandwidth: "),
    ('bandwidth = "6 kHz"', 'bandwidth = "6 kHz"\nshape_factor = 1', "conversion[1].filter.shape_factor: "),
    ('bandwidth = "6 kHz"', 'bandwidth = "6 kHz"\nshape_factor = nan', "conversion[1].filter.shape_factor: "),
    ('[conversion.filter]\nbandwidth = "6 kHz"', "", "conversion[1].filter: is missing behind the last IF"),
    ('family = "jfet"', 'v0 = "3 V"\nh3 = 30', "conversion[1].mixer.v0: "),
    ('family = "jfet"', 'v0 = "3 A"', "has an unknown unit A"),
    ('family = "jfet"', 'h3 = "S9"', "is in S units, which need a frequency"),
    ('family = "jfet"', "table = []", "conversion[1].mixer.table: holds no products"),
    ('family = "jfet"', "table = [[2, 1, 30, -20]]", "has no row lo 1, rf 1"),
    ('family = "jfet"', "table = [[1, 1, 0, -20], [3, 1, 9, -20]]", "has holes: lo 2, rf 1"),
    ('family = "jfet"', "table = [[1, 1, 3, -20]]", "has to be 0 dB"),
    ('family = "jfet"', "table = [[1, 1, 0, -20], [1, 1, 0, -20]]", "conversion[1].mixer.table[2]: "),
    ('family = "jfet"', "table = [[1, 1, 0, -20], [1, 0, 0, -20]]", "is no product of the signal"),
    # noise as measured
    ('noise_figure = "12 dB"', 'noise = [["3 MHz", 5]]', 'noise[1][2]: "5" has no unit; write "5 dBm"'),
    ('noise_figure = "12 dB"', 'noise = [["3 MHz", "S5+3"]]', "adds decibels to less than S9"),
    ('noise_figure = "12 dB"', 'noise = "S5"', 'noise: "S5" is not a list'),
    ('noise_figure = "12 dB"', 'noise = [["3 MHz", "S5"], ["2 MHz", "S3"]]', "is not in rising order"),
]


@pytest.mark.parametrize(("old", "new", "said"), DAMAGES, ids=[f"{d[1]}"[:40] for d in DAMAGES])
def test_one_damage_gives_one_fault_that_names_it(old: str, new: str, said: str | None) -> None:
    """Place, value and remedy are told once, and nothing else is blamed for it."""
    assert SOUND.count(old) == 1, "the damage is done in one place"
    text = SOUND.replace(old, new)
    if said is None:
        parse_receiver(text)
        return
    fault = refused(text)
    assert said in fault.text()
    assert fault.total == 1, fault.text()
    assert fault.text().startswith("set.toml, ")


CHAINS = [
    # (conversions, coverage, what is said)
    ("", '["1 MHz", "2 MHz"]', "conversion: is missing; describe at least one mixer as [[conversion]]"),
    ('injection = "high"', '["1 MHz", "2 MHz"]', "conversion[1].if: is missing"),
    ('if = "465 kHz"', '["1 MHz", "2 MHz"]', "conversion[1].injection: is missing"),
    # low side needs d above the IF everywhere, the equal case included
    ('injection = "low"\nif = "465 kHz"', '["465 kHz", "2 MHz"]', "needs a signal above the IF of 465 kHz"),
    ('injection = "low"\nif = "465 kHz"', '["200 kHz", "2 MHz"]', "use injection = \"high\", or an IF below 200 kHz"),
    # sum needs an IF above d everywhere
    ('injection = "sum"\nif = "2 MHz"', '["1 MHz", "2 MHz"]', "is not above the signal, 1000 kHz to 2 MHz"),
    # a crystal inside the range, edges included, leaves no IF there
    ('crystal = "1.5 MHz"', '["1 MHz", "2 MHz"]', "take one below 1000 kHz or above 2 MHz, or injection = \"sum\""),
    ('crystal = "1 MHz"', '["1 MHz", "2 MHz"]', "lies inside the signal's range"),
    ('crystal = "2 MHz"', '["1 MHz", "2 MHz"]', "lies inside the signal's range"),
    ('crystal = "0.5 MHz"\nmultiplier = 3', '["1 MHz", "2 MHz"]', '"500 kHz times 3" lies inside the signal\'s range'),
    ('crystal = "3 MHz"', '["1 MHz", "2 MHz"]', "is the last one and its IF tunes over 1000 kHz to 2 MHz"),
    ('crystal = "3 MHz"\ninjection = "low"', '["1 MHz", "2 MHz"]', "contradicts the crystal: 3 MHz is above the signal"),
    ('crystal = "3 MHz"\nif = "1 MHz"', '["1 MHz", "2 MHz"]', "leave if out for a tunable IF of 1000 kHz to 2 MHz (difference) or 4 MHz to 5 MHz (sum)"),
    ('injection = "high"\nif = "465 kHz"\nmultiplier = 2', '["1 MHz", "2 MHz"]', "multiplies a crystal, and there is none"),
    ('crystal = "29.9 GHz"\ninjection = "sum"', '["200 MHz", "300 MHz"]', "adds up to more than 30 GHz"),
    # behind a fixed IF a crystal gives exactly two
    (
        'injection = "high"\nif = "1.6 MHz"\n[[conversion]]\ncrystal = "2 MHz"\nif = "455 kHz"',
        '["3 MHz", "4 MHz"]',
        'conversion[2].if: "455 kHz" is neither the difference nor the sum of 2 MHz and 1600 kHz; '
        "they give 400 kHz (difference) or 3.6 MHz (sum)",
    ),
    (
        'injection = "high"\nif = "1.6 MHz"\n[[conversion]]\ncrystal = "2 MHz"\nif = "400 kHz"\ninjection = "low"',
        '["3 MHz", "4 MHz"]',
        "conversion[2].injection: \"low\" contradicts the crystal",
    ),
    (
        'injection = "high"\nif = "1.6 MHz"\n[[conversion]]\ncrystal = "2 MHz"\nif = "3.6 MHz"\ninjection = "high"',
        '["3 MHz", "4 MHz"]',
        "conversion[2].injection: \"high\" contradicts the IF: 3.6 MHz is the sum",
    ),
    # what follows the mixer has to fit the IF
    ('crystal = "3 MHz"\n[conversion.filter]\nbandwidth = "6 kHz"\n[[conversion]]\ninjection = "high"\nif = "455 kHz"\n[conversion.filter]\nbandwidth = "6 kHz"', '["1 MHz", "2 MHz"]', "conversion[1].filter: needs a fixed IF"),
    ('injection = "high"\nif = "455 kHz"\nselectivity = [ { circuits = 1 } ]\n[conversion.filter]\nbandwidth = "6 kHz"', '["1 MHz", "2 MHz"]', "conversion[1].selectivity: belongs behind a tunable IF"),
]  # fmt: skip


@pytest.mark.parametrize(("chain", "coverage", "said"), CHAINS, ids=[c[2][:45] for c in CHAINS])
def test_a_chain_that_can_not_work_is_refused_with_the_way_out(chain: str, coverage: str, said: str) -> None:
    """Rules between crystal, IF, side and coverage, told with what would do."""
    head = f"[[conversion]]\n{chain}\n" if chain else ""
    text = f'name = "a"\n{head}[[range]]\nname = "1"\ncoverage = {coverage}\n'
    assert said in refused(text).text()

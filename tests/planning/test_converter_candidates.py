"""Converters as arrays against converters one by one, and the order in which they are offered."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

import spurplan
from spurplan.errors import Refused
from spurplan.occupancy.bands import read_bands
from spurplan.planning.converter.candidates import SIDES, SUM, Candidates, candidates, chains_of, prototypes
from spurplan.planning.converter.crystals import Crystal, shipped_stock, single
from spurplan.planning.converter.ranking import dial_rule
from spurplan.planning.tally import outstanding, tally
from spurplan.receiver.chain import compile_chains
from spurplan.receiver.changes import converter_conversion, with_converter
from spurplan.receiver.description import Front, Receiver
from spurplan.receiver.file.reading import parse_receiver, read_receiver
from spurplan.receiver.file.starter import starter_text
from spurplan.responses.asking import Settings, occupants_of
from spurplan.responses.division_of_dial import heard_hz, heard_stretches
from spurplan.responses.engine import respond
from spurplan.responses.intrusion_table import intruding

RECEIVERS = Path(__file__).parents[1] / "receivers"
COVERS = [(21_000_000, 21_450_000), (3_500_000, 4_000_000), (144_000_000, 146_000_000)]
FRONT = Front.from_dict({"elements": [{"circuits": 2, "q": 40.0}], "gain": "26 dB", "pickup": "55 dB"})


@pytest.mark.long
@pytest.mark.parametrize("name", ["boathouse", "lockkeeper"])
def test_a_candidate_is_the_chain_of_the_receiver_behind_that_converter(name: str) -> None:
    """Every number of a chain on the axis is that of `with_converter`, described, checked and compiled."""
    receiver = read_receiver(RECEIVERS / f"{name}.toml")
    chosen = candidates(COVERS, shipped_stock(), receiver.ranges)
    chosen = chosen.take(chosen.placed)
    compared = 0
    for which, chains in chains_of(chosen, prototypes(receiver, receiver.ranges, FRONT)):
        for row in range(0, len(which), 11):
            one = chains.take(np.array([row]))
            for field in one.field_names:
                got, expected = (getattr(c, field) for c in (one, _by_itself(receiver, chosen, which[row])))
                if isinstance(got, np.ndarray) and not field.endswith("_code"):
                    np.testing.assert_array_equal(got, expected, err_msg=field)
            compared += 1
    assert compared > 50


def _by_itself(receiver: Receiver, chosen: Candidates, number: int) -> Any:
    crystal_hz = int(chosen.injected_hz[number] // chosen.multiplier[number])
    side = "sum" if chosen.side[number] == SUM else None
    conversion = converter_conversion(
        crystal_hz, front=FRONT, multiplier=int(chosen.multiplier[number]), injection=side
    )
    behind = with_converter(
        receiver,
        conversion=conversion,
        cover=(int(chosen.low_hz[number]), int(chosen.high_hz[number])),
        front=FRONT,
    )
    (one,) = [r for r in behind.ranges if r.name == receiver.ranges[int(chosen.range[number])].name]
    return compile_chains([(behind, one)])[0]


def test_candidates_tune_their_cover_and_nothing_else() -> None:
    """The tunable IF stays in the range; lost and tuned make up the cover; no difference with Y inside it."""
    receiver = read_receiver(RECEIVERS / "boathouse.toml")
    chosen = candidates(COVERS, shipped_stock(), receiver.ranges)
    some = chosen.take(chosen.placed)
    low, high = some.set_hz
    ranges = [receiver.ranges[i] for i in some.range.tolist()]
    assert (low >= [r.low_hz for r in ranges]).all()
    assert (high <= [r.high_hz for r in ranges]).all()
    width = np.array([COVERS[i][1] - COVERS[i][0] for i in some.cover.tolist()])
    np.testing.assert_array_equal(some.high_hz - some.low_hz + some.lost_hz, width)
    np.testing.assert_array_equal(some.signal_hz(some.tunable_hz(some.low_hz)), some.low_hz)
    inside = (some.injected_hz >= some.low_hz) & (some.injected_hz <= some.high_hz)
    assert (some.side[inside] == SUM).all()
    assert inside.any(), "the sum with a crystal inside the cover is there"
    # a crystal that has a whole place is not listed with losses
    for cover in range(len(COVERS)):
        here = some.take(some.cover == cover)
        whole = set(here.crystal[here.lost_hz == 0].tolist())
        assert not whole & set(here.crystal[here.lost_hz > 0].tolist())


def test_of_a_crystal_that_was_asked_about_the_parts_are_listed_too() -> None:
    """24.5 MHz doubled brings 28 to 30 MHz whole into 18 to 30 MHz, as it is half of it into 4 to 5 MHz."""
    text = starter_text((("4 MHz", "5 MHz"), ("18 MHz", "30 MHz")), "465 kHz")
    ranges = parse_receiver(text).ranges
    one = single(24_500_000)
    plain = candidates([(28_000_000, 30_000_000)], [one], ranges)
    assert set(plain.lost_hz.tolist()) == {0}
    asked = candidates([(28_000_000, 30_000_000)], [one], ranges, [one])
    part = asked.take(asked.lost_hz > 0)
    at = [*zip(part.multiplier.tolist(), part.low_hz.tolist(), part.high_hz.tolist(), strict=True)]
    assert (1, 28_500_000, 29_500_000) in at
    assert part.lost_hz[at.index((1, 28_500_000, 29_500_000))] == 1_000_000
    assert len(asked) == len(plain) + len(part)


def test_every_way_that_serves_is_listed() -> None:
    """A plain search over crystals, multiples, sides and ranges finds the same whole places."""
    receiver = read_receiver(RECEIVERS / "boathouse.toml")
    chosen = candidates(COVERS, shipped_stock(), receiver.ranges)
    whole = chosen.take(chosen.placed & (chosen.lost_hz == 0))
    found = set(
        zip(
            *(a.tolist() for a in (whole.cover, whole.crystal, whole.multiplier, whole.side, whole.range)),
            strict=True,
        )
    )
    expected = set()
    for cover, (low, high) in enumerate(COVERS):
        for number, crystal in enumerate(shipped_stock()):
            for times in range(1, crystal.most_times + 1):
                y = crystal.frequency_hz * times
                places = {
                    "below": (low - y, high - y),
                    "above": (y - high, y - low),
                    "sum": (low + y, high + y),
                }
                for side, (t_low, t_high) in places.items():
                    for position, one in enumerate(receiver.ranges):
                        if one.low_hz <= t_low and t_high <= one.high_hz:
                            expected.add((cover, number, times, SIDES.index(side), position))
    assert found == expected


def test_stations_inside_a_band_as_loud_as_they_are_change_no_share() -> None:
    """With every row nothing more is heard than with the outstanding ones, but what is just at the line.

    A station beside the middle of the passband may be nearer to resonance by half of it: with two circuits
    of Q 80 a 3 kHz step at 4.5 MHz far down the skirt is 0.1 dB.
    """
    skirt_db = 0.15
    receiver = read_receiver(RECEIVERS / "boathouse.toml")
    settings = Settings()
    occupants = occupants_of(receiver, read_bands(None), settings)
    (chains,) = compile_chains([(receiver, receiver.ranges[0])])
    telling = outstanding(occupants, chains)
    assert len(telling) < len(occupants) // 3
    chosen = candidates(COVERS[:2], shipped_stock(), receiver.ranges)
    chosen = chosen.take(np.flatnonzero(chosen.placed)[::13])
    for _, chains in chains_of(chosen, prototypes(receiver, receiver.ranges, FRONT)):
        heard = tally(chains, occupants, settings, -36.0)
        every = intruding(respond(chains, occupants, settings))
        beyond_doubt = every.graded.take(np.flatnonzero(every.graded.margin_db >= skirt_db))
        least, most = (
            heard_hz(chains, heard_stretches(every.lines, some)) for some in (beyond_doubt, every.graded)
        )
        width = chains.high_hz - chains.low_hz + 1
        found = width * (1.0 - heard.unheard_share - heard.unknown_share)
        open_ = heard.dead_hz == 0
        assert (found[open_] >= least[open_] - 0.5).all()
        assert (found[open_] <= most[open_] + 0.5).all()
        some = np.flatnonzero(heard.occupant >= 0)
        margins = np.full(len(chains), np.nan)
        candidate = every.lines.candidate[every.graded.line]
        for v in some.tolist():
            margins[v] = every.graded.margin_db[candidate == v].max()
        np.testing.assert_allclose(heard.margin_db[some], margins[some], atol=skirt_db)


# --- the order -------------------------------------------------------------------------------


def _answer(folder: Path, *stations: str, crystal: list[str], cover: str = "21MHz:21.45MHz") -> Any:
    path = folder / "stations.csv"
    path.write_text("\n".join(["freq_khz,service,label,level", *stations]) + "\n", encoding="utf-8")
    receiver = Receiver.from_dict(
        {
            "name": "ranked",
            "conversion": [{"injection": "high", "if": "455 kHz", "filter": {"bandwidth": "6 kHz"}}],
            "range": [
                {"name": "1", "coverage": ["6.6 MHz", "7.6 MHz"], "front_end": [{"circuits": 3, "q": 80.0}]}
            ],
        }
    )
    return spurplan.converter(receiver, bands=path, cover=cover, crystal=crystal)


def test_the_order_is_that_of_the_questions(tmp_path: Path) -> None:
    """What brings the whole cover first, then by points; a lost place has its reason in words."""
    answer = _answer(
        tmp_path,
        "7200,broadcast,Loud,-10 dBm",
        crystal=["14.3MHz", "28MHz", "27.9MHz", "27.95MHz", "28.45MHz"],
    )
    records = [r for r in answer.candidates.records() if r["multiplier"] == 1]
    alone = [r for r in answer.candidates.records() if r["side"] == "alone"]
    assert [(r["possible"], r["range"], r["reasons"]) for r in alone] == [
        (False, None, ["no range of the set tunes any of it"])
    ]
    # 14.3 below tunes 6.7-7.15 (forwards); above: 28 tunes 6.55-7.0 and loses; 27.95 loses; 28.45
    # tunes 7.0-7.45 with the loud one in it
    order = [(r["crystal_hz"] // 1000, r["possible"]) for r in records]
    assert order[0] == (14_300, True)
    assert order[1] == (28_450, True)
    assert not any(possible for _, possible in order[2:])
    assert records[0]["reasons"][0].startswith("first; number 2 is behind it: ")
    losers = [r for r in records if not r["possible"]]
    assert [r["lost_hz"] for r in losers] == sorted(r["lost_hz"] for r in losers)
    assert all(r["reasons"][0] == "behind the rest: does not do all that is asked" for r in losers)
    assert all(any("kHz of the cover" in text for text in r["reasons"]) for r in losers)


def test_ranks_run_from_one_and_the_keys_never_fall(tmp_path: Path) -> None:
    """With the shipped tables and crystals: possible before not; points fall among them."""
    answer = spurplan.converter(RECEIVERS / "boathouse.toml", cover="28MHz:29.7MHz")
    table = answer.candidates
    np.testing.assert_array_equal(table["rank"], np.arange(1, len(table) + 1))
    # what injects the same as one before it comes behind all others, in the same order among themselves
    repeats = np.array([reasons[0].startswith("injects the same") for reasons in table["reasons"]])
    assert not (repeats[:-1] & ~repeats[1:]).any()
    table = table.take(np.flatnonzero(~repeats))
    possible = table["possible"]
    assert not (~possible[:-1] & possible[1:]).any()
    assert (np.diff(table["points"][possible]) <= 0.1).all(), "to a tenth of a point"
    assert (table["lost_hz"][possible] == 0).all()
    reasons = [record["reasons"] for record in table.records()]
    assert all(reasons), "every one says why"
    behind = [r[0] for r, ok in zip(reasons, possible.tolist(), strict=True) if ok][1:]
    assert all(text.startswith(f"behind number {place}: ") for place, text in enumerate(behind, start=1))


def test_several_covers_are_ranked_each_by_itself() -> None:
    """Each cover has its own number one, and the set alone stands among those for each."""
    answer = spurplan.converter(
        RECEIVERS / "boathouse.toml", cover=["21MHz:21.45MHz", "28MHz:29.7MHz"], crystal=["14.7MHz", "21MHz"]
    )
    firsts = [r for r in answer.candidates.records() if r["rank"] == 1]
    assert [(r["cover_low_hz"], r["cover_high_hz"]) for r in firsts] == [
        (21_000_000, 21_450_000), (28_000_000, 29_700_000),
    ]  # fmt: skip
    alone = [r for r in answer.candidates.records() if r["side"] == "alone"]
    assert [r["cover_low_hz"] for r in alone] == [21_000_000, 28_000_000]
    assert {(r["crystal_hz"], r["multiplier"], r["injected_hz"], r["set_low_hz"]) for r in alone} == {
        (None, None, None, None)
    }


@pytest.mark.parametrize(
    ("side", "hz", "rule"),
    [
        ("below", 14_000_000, "signal = 14.000 MHz + dial"),
        ("above", 28_450_000, "signal = 28.450 MHz \N{MINUS SIGN} dial: runs backwards"),
        ("sum", 3_579_545, "signal = dial \N{MINUS SIGN} 3.579545 MHz"),
        ("alone", 0, "the set alone: signal = dial"),
    ],
)
def test_a_dial_rule_says_what_to_reckon_and_which_way_it_runs(side: str, hz: int, rule: str) -> None:
    """Signal from dial, as it is written on a card beside the set."""
    assert dial_rule(SIDES.index(side), hz) == rule


# --- nonsense --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ({"cover": "21.45MHz:21MHz"}, r'--cover: "21.45MHz:21MHz" has its low edge 21.45 MHz not below'),
        ({"cover": (21_450_000, 21_000_000)}, r"has its low edge 21.45 MHz not below its high edge 21 MHz"),
        ({"cover": "21MHz:21MHz"}, r"not below its high edge"),
        ({"cover": "21MHz"}, r'--cover: "21MHz" is not two edges; write it as 21MHz:21.45MHz'),
        ({"cover": ()}, r"--cover: is missing"),
        ({"cover": (21e6, 21.45e6)}, r'--cover: "21000000.0" is a float'),
        ({"cover": "21:21,45MHz"}, r"write decimals with a point"),
        ({"crystal": "21.2MHz"}, r'--crystal: "21.2 MHz" stands inside the cover, 21 MHz to 21.45 MHz'),
        ({"explain": "21.2MHz"}, r'--explain: "21.2 MHz" stands inside the cover'),
        ({"crystal": "1.5 MHz", "range": "1"}, r'--crystal: "1500 kHz" is of no use'),
        ({"crystal": "999999"}, r'--crystal: "999999" has no unit'),
        ({"crystal": [14e6]}, r"--crystal: .* is a float"),
        ({"stock": ()}, r"--stock: holds no crystal"),
        ({"step": "0Hz"}, r"--step: .*below 1 Hz"),
        ({"step": "40MHz", "range": "1"}, r"--step: .*gives no crystal"),
        ({"range": "9"}, r'--range: "9" is no range of this set'),
        ({"stock": (Crystal(60_000_000, "3rd", 50.0),)}, r"crystals: hold none that brings 21 MHz to 21.45"),
    ],
)  # fmt: skip
def test_nonsense_is_refused_with_a_message_of_its_own(options: dict[str, Any], said: str) -> None:
    """Each wrong thing is named by its option, with its value and what to do instead."""
    asked = {"cover": "21MHz:21.45MHz"} | options
    with pytest.raises(Refused, match=said):
        spurplan.converter(RECEIVERS / "boathouse.toml", **asked)


def test_an_unknown_option_is_an_error_of_the_caller() -> None:
    """As everywhere: TypeError with the nearest name."""
    with pytest.raises(TypeError, match="lo_order"):
        spurplan.converter(RECEIVERS / "boathouse.toml", cover="21MHz:21.45MHz", lo_ordr=3)


def test_crystals_that_serve_for_nothing_are_listed_last_with_the_reason() -> None:
    """A crystal somebody has does not vanish: no range, no figures, and why."""
    answer = spurplan.converter(
        RECEIVERS / "boathouse.toml", cover="21MHz:21.45MHz",
        stock=(Crystal(14_000_000, "fundamental"), Crystal(60_000_000, "3rd")),
    )  # fmt: skip
    last = answer.candidates.records()[-1]
    assert (last["crystal_hz"], last["possible"], last["range"]) == (60_000_000, False, None)
    unknown = ("set_low_hz", "unheard_share", "image_rejection_db", "worst_label", "straight_in_dbm")
    assert [last[name] for name in unknown] == [None] * len(unknown)
    assert last["reasons"][0].startswith("no range holds any of its tunable IF (38.55-39 MHz above")

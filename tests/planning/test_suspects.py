"""suspects: every way in is one, evidence moves them the right way, and nothing is sure without any."""

from __future__ import annotations

import math
import pickle
import re
from collections.abc import Sequence
from dataclasses import replace
from importlib.resources import files
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import spurplan
from spurplan.cli import main
from spurplan.errors import Fault, Refused
from spurplan.planning.suspects.evidence import (
    THIS_SET,
    Evidence,
    Traits,
    Weights,
    contradicted,
    fits_of,
    made_tests,
    proposed_tests,
)
from spurplan.planning.suspects.suspects import Findings, weighed
from spurplan.planning.suspects.ways import Way, Who
from spurplan.planning.suspects.weights import HEARD_WORDS, mixed, suspicion
from spurplan.receiver.description import Receiver
from spurplan.reporting.views import suspects as page
from tests.suspects.cases import receiver_of

BOATHOUSE = Path(__file__).parents[2] / "demos" / "boathouse" / "set.toml"
STATION = Traits(moves=1.0, pad_db_per_db=1.0, inverted=False, off=0.0)
IMAGE = Traits(moves=-1.0, pad_db_per_db=1.0, inverted=True, off=0.07)
HALF_IF = Traits(moves=2.0, pad_db_per_db=2.0, inverted=False, off=0.03)
ON_BIRDIE = Traits(moves=-1.0, pad_db_per_db=0.0, off=0.0)


def after(evidence: Evidence, everybody: Sequence[Traits], prior: Sequence[float]) -> np.ndarray[Any, Any]:
    """Return the weight of each, a way in by itself, after the evidence; shape (n,)."""
    ways = [
        Way("1", str(i), None, None, share, one.moves, one.pad_db_per_db, one.inverted, None, 14_000_000,
            (Who(1.0, one),))
        for i, (one, share) in enumerate(zip(everybody, prior, strict=True))
    ]  # fmt: skip
    weights = {one.way.cause: one.weight for one in weighed([ways], evidence).ranked}
    return np.array([weights[way.cause] for way in ways])


def first(findings: Findings) -> tuple[str, str | None, int | None]:
    top = findings.ranked[0]
    return top.way.cause, top.way.response, top.listen_hz


def findings_at(frequency: str, **observed: Any) -> Findings:
    findings: Findings = spurplan.suspects(BOATHOUSE, frequency=frequency, **observed).findings
    return findings


def test_morse_that_runs_against_the_dial_is_an_image_in_no_table() -> None:
    """Worked by hand: 14.060 + 2 x 0.465 = 14.990 MHz, though no table has Morse there."""
    findings = findings_at("14.06 MHz", heard="cw", moves="against")
    assert first(findings) == ("intrusion", "image", 14_990_000)
    assert findings.ranked[0].weight > 0.5


def test_what_stays_put_and_peaks_far_down_is_the_if() -> None:
    """An IF of 465 kHz passes a station on 465 kHz wherever the dial stands: motion, pad and peak say so."""
    findings = findings_at("14.06 MHz", moves="not", pad_drop=10.0, trimmer="down")
    assert first(findings) == ("intrusion", "IF breakthrough", 465_000)
    assert findings.ranked[0].weight > 0.8


@pytest.mark.parametrize("frequency", ["14.06 MHz", "7.1 MHz", "1 MHz", "28.3 MHz", "9.8 MHz"])
def test_nothing_is_certain_without_an_observation(frequency: str) -> None:
    """Nobody has said a thing: no cause of any range is sure, and nothing that is asked is told."""
    for some in findings_at(frequency).by_range().values():
        assert some[0].weight < 0.9


def test_a_broadcaster_on_an_amateur_frequency_in_the_evening_is_found() -> None:
    """7.1 MHz: with the dial he is there in no table; twice as fast he is in 41 m, 7.1 + 0.465 / 2 MHz."""
    evening = findings_at("7.1 MHz", utc="1900", heard="am")
    there = [one for one in evening.ranked[:12] if one.way.cause == "the station itself"]
    assert [(one.listen_hz, one.who.label) for one in there] == [(7_100_000, None)]
    own = evening.with_evidence(moves="with", also_on=(7_100_000,))
    assert first(own) == ("the station itself", "wanted", 7_100_000)
    half = evening.with_evidence(moves="twice", pad_drop_db=20.0)
    assert first(half) == ("intrusion", "half-IF", 7_332_500)
    assert half.ranked[0].who.label == "41 m broadcasting"


def test_every_way_in_is_a_suspect_though_no_table_has_anybody() -> None:
    """The ways of one set by hand, a single station far from all of them in the tables."""
    findings = with_table("24000,24000,fixed,Elsewhere,\n", "Gatehouse", 14_000_000)
    ways = {(one.way.cause, one.way.response, one.way.entry_hz) for one in findings.ranked}
    oscillator = 14_000_000 + 465_000
    assert {
        ("the station itself", "wanted", 14_000_000),
        ("intrusion", "image", 14_930_000),
        ("intrusion", "half-IF", oscillator - 465_000 // 2),
        ("intrusion", "IF breakthrough", 465_000),
        ("intrusion", "LO-harmonic", 2 * oscillator - 465_000),
        ("intrusion", "LO-harmonic", 2 * oscillator + 465_000),
        ("intrusion", "LO-harmonic", 3 * oscillator - 465_000),
        ("transmitter harmonic", "transmitter harmonic", 7_000_000),
        ("birdie", "internal", None),
        ("cross-modulation", "cross-modulation", None),
        ("overload", "overload", None),
        ("none of these", None, None),
    } <= ways
    assert {"neighbour", "intermodulation"} <= {cause for cause, _, _ in ways}
    assert all(one.who.label is None for one in findings.ranked if one.way.cause == "intrusion")


def with_table(rows: str, name: str, dial_hz: int, **observed: Any) -> Findings:
    """Ask a drawn set with a table of some rows."""
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "air.csv"
        path.write_text("low_khz,high_khz,service,label,level\n" + rows, "utf-8")
        receiver: Receiver = receiver_of(name)
        findings: Findings = spurplan.suspects(receiver, bands=path, frequency=dial_hz, **observed).findings
    return findings


def test_a_level_lowers_a_weight_and_deletes_nobody() -> None:
    """The image of a station 60 dB weaker is less likely, and still there with its frequency."""
    loud, weak = (
        with_table(f"14930,14930,fixed,Tower,{level} dBm\n", "Gatehouse", 14_000_000) for level in (-20, -130)
    )
    images = [
        next(one for one in findings.ranked if one.way.response == "image") for findings in (loud, weak)
    ]
    assert images[0].weight > images[1].weight > 0.0
    assert images[1].who.fields.get("label", "Tower") == "Tower"


# A case that an observation decides, in the order: what was told before, the observation, the true way. Lost
# before means that another is ahead by a clear margin; won, that the true one is.
AHEAD = 1.5


def decides(before: Findings, true: tuple[str, int], **observation: object) -> None:
    def weights(findings: Findings) -> tuple[float, float]:
        own = next(one for one in findings.ranked if (one.way.response, one.way.entry_hz) == true)
        return own.weight, max(one.weight for one in findings.ranked if one is not own)

    own, other = weights(before)
    assert other > AHEAD * own, "the case was not lost before"
    own, other = weights(before.with_evidence(**observation))
    assert own > AHEAD * other, "the observation does not decide it"


def test_a_sideband_decides() -> None:
    """Speech on 14.2 MHz, where somebody is listed: turned round it comes from the image, 930 kHz above."""
    rows = "14200,14200,fixed,Here,-73 dBm\n15130,15130,fixed,There,\n"
    before = with_table(rows, "Gatehouse", 14_200_000, heard="ssb", aerial_off="goes")
    decides(before, ("image", 15_130_000), inverted=True)


def test_a_trimmer_decides() -> None:
    """Two IFs of 1620 and 455 kHz: both images run against the dial, one is above it, the other below."""
    below = 6_000_000 - 2 * 455_000
    rows = f"{below // 1000},{below // 1000},fixed,Below,\n"
    before = with_table(rows, "Belfry", 6_000_000, moves="against", heard="ssb")
    assert first(before) == ("intrusion", "second image", below)
    decides(before, ("image", 6_000_000 + 2 * 1_620_000), trimmer="up")


def test_a_pad_decides() -> None:
    """Twice as fast and tuned up: the half-IF falls 20 dB with the pad, the oscillator's harmonic 10."""
    rows = "57000,59000,fixed,Above,\n"
    before = with_table(rows, "Gatehouse", 28_300_000, moves="2", heard="am", trimmer="up")
    decides(before, ("half-IF", 28_532_500), pad_drop_db=20.0)


def test_weights_add_to_one_and_ranks_follow_them() -> None:
    """Weights are shares; rank 1 is the heaviest; another table row is no other way in."""
    for name in ("Gatehouse", "Belfry"):
        rows = spurplan.suspects(receiver_of(name), frequency="14.2 MHz").suspects
        assert rows["weight"].sum() == pytest.approx(1.0, abs=1e-12)
        assert (np.diff(rows["weight"]) <= 0).all()
        assert rows["rank"].tolist() == list(range(1, len(rows) + 1))


@pytest.mark.parametrize(
    ("evidence", "favoured"),
    [
        (Evidence(moves="with"), STATION),
        (Evidence(moves="1"), STATION),
        (Evidence(moves="twice"), HALF_IF),
        (Evidence(moves="2"), HALF_IF),
        (Evidence(pad_drop_db=20.0), HALF_IF),
        (Evidence(pad_drop_db=0.0), ON_BIRDIE),
        (Evidence(moves="against", inverted=True), IMAGE),
        (Evidence(moves="against", trimmer="up"), IMAGE),
        (Evidence(moves="against", pad_drop_db=0.0), ON_BIRDIE),
    ],
)
def test_evidence_favours_whom_it_fits(evidence: Evidence, favoured: Traits) -> None:
    """From even odds, the one that predicts what was seen is the heaviest."""
    everybody = [STATION, IMAGE, HALF_IF, ON_BIRDIE]
    weight = after(evidence, everybody, (1.0,) * 4)
    assert everybody[int(np.argmax(weight))] == favoured
    assert np.sort(weight)[-1] > np.sort(weight)[-2]
    assert (weight > 0).all(), "no observation rules anybody out altogether"


# what is observed, how a suspect that predicts it differs from one that predicts something else
MOTIONS = {"with": 1.0, "against": -1.0, "not": 0.0, "3": 3.0, "-2": -2.0}
MAINLY = {word: {word: 1.0} for word in HEARD_WORDS}


KINDS = (
    "moves", "pad", "sideband", "trimmer", "heard", "strength", "pitch", "fading", "aerial", "elsewhere",
    "on dial", "loudest", "whistle",
)  # fmt: skip


@st.composite
def observations(draw: st.DrawFn) -> tuple[Evidence, dict[str, object], dict[str, object]]:
    """Draw an observation, what predicts just it, and what predicts clearly something else: by the bench."""
    kind = draw(st.sampled_from(KINDS))
    if kind == "moves":
        word, other = draw(st.permutations(sorted(MOTIONS)))[:2]
        return Evidence(moves=word), {"moves": MOTIONS[word]}, {"moves": MOTIONS[other]}
    if kind == "pad":
        falls, differently = draw(st.permutations([0.0, 1.0, 2.0, 3.0]))[:2]
        drop = 10.0 * falls + draw(st.floats(-3.0, 3.0))
        return Evidence(pad_drop_db=drop), {"pad_db_per_db": falls}, {"pad_db_per_db": differently}
    if kind == "sideband":
        turned = draw(st.booleans())
        return Evidence(inverted=turned), {"inverted": turned}, {"inverted": not turned}
    if kind == "trimmer":
        places = {"up": 0.06, "down": -0.06, "same": 0.0}
        word, other = draw(st.permutations(sorted(places)))[:2]
        return Evidence(trimmer=word), {"off": places[word]}, {"off": places[other]}
    if kind == "heard":
        word, other = draw(st.permutations(["am", "ssb", "cw", "digital", "carrier"]))[:2]
        return Evidence(heard=word), {"heard": mixed({word: 1.0})}, {"heard": mixed({other: 1.0})}
    if kind == "strength":
        dbm = draw(st.integers(-110, -40))
        away = draw(st.sampled_from([-45.0, 45.0]))
        spread = draw(st.floats(3.0, 12.0))
        wide = draw(st.floats(3.0, 12.0))
        return (
            Evidence(strength=f"{dbm} dBm"),
            {"level_dbm": dbm + draw(st.floats(-3.0, 3.0)), "level_spread_db": spread},
            {"level_dbm": dbm + away, "level_spread_db": wide},
        )
    if kind == "pitch":
        hz = draw(st.integers(400, 3000))
        return Evidence(pitch_hz=hz), {"pitch_hz": float(hz)}, {"pitch_hz": 2.5 * hz}
    if kind == "fading":
        return (
            Evidence(fading="yes"),
            {"fading": draw(st.floats(0.6, 0.95))},
            {"fading": draw(st.floats(0.02, 0.2))},
        )
    if kind == "aerial":
        word = draw(st.sampled_from(["stays", "goes"]))
        stays = 0.95 if word == "stays" else 0.05
        return Evidence(aerial_off=word), {"stays": stays}, {"stays": 1.0 - stays}
    if kind == "elsewhere":
        hz = draw(st.integers(1_000_000, 30_000_000))
        return Evidence(also_on=(hz,)), {"elsewhere_hz": (hz,)}, {"elsewhere_hz": (hz + 50_000,)}
    if kind == "on dial":
        hz = draw(st.integers(1_000_000, 30_000_000))
        also = draw(st.sampled_from([(), (hz + 200_000,)]))
        return (
            Evidence(found_at=(hz,), not_at=also),
            {"on_dial_hz": (hz,)},
            {"on_dial_hz": (hz + 50_000,)},
        )
    if kind == "loudest":
        places: dict[str, dict[str, object]] = {
            "here": {"moves": 1.0, "beside": ()}, "up": {"moves": 1.0, "beside": ("up",)},
            "everywhere": {"moves": 0.0, "beside": ()},
        }  # fmt: skip
        word, other = draw(st.permutations(sorted(places)))[:2]
        return Evidence(loudest=word), places[word], places[other]
    # a whistle beats with the carrier tuned in, which moves with the dial
    return Evidence(heard="whistle", pitch_moves=True), {"moves": -1.0}, {"moves": 1.0}


@given(seen=observations(), prior=st.tuples(st.floats(1e-6, 1.0), st.floats(1e-6, 1.0)), base=st.sampled_from(
    [STATION, IMAGE, HALF_IF, ON_BIRDIE, Traits()]))  # fmt: skip
def test_an_observation_that_fits_never_lowers_a_suspect_against_one_that_it_does_not(
    seen: tuple[Evidence, dict[str, object], dict[str, object]], prior: tuple[float, float], base: Traits
) -> None:
    """Whatever else they predict alike, and however likely they were before: the odds rise."""
    evidence, fitting, other = seen
    suspects = [replace(base, **fitting), replace(base, **other)]  # type: ignore[arg-type]
    weight = after(evidence, suspects, prior)
    assert weight[0] / weight[1] > prior[0] / prior[1]


# two questions of a whole set each time
@settings(deadline=None)
@given(
    seen=st.sampled_from(
        [
            {"moves": "against"}, {"moves": "not"}, {"pad_drop_db": 20.0}, {"trimmer": "up"},
            {"inverted": True}, {"heard": "am"}, {"fading": "yes"}, {"aerial_off": "stays"},
            {"strength": "S3"},
            {"also_on": (14_990_000,)},
            {"found_at": (14_990_000,)},
            {"loudest": "up"},
        ]
    )
)  # fmt: skip
def test_the_same_holds_of_the_ways_of_a_whole_set(seen: dict[str, Any]) -> None:
    """Of a real answer: every way that says "fits" gains on every way that says "against it"."""
    before = WHOLE.with_evidence()
    after = before.with_evidence(**seen)
    was = {id(one.way): one.weight for one in before.ranked}
    gain: dict[str, list[float]] = {"fits": [], "against it": []}
    for one in after.ranked:
        # ways with one who may come by them: of several it is not said of which the words are
        if len(one.way.who) == 1 or one.way.who[0] is one.who:
            sits = one.fits[0].partition(":")[0]
            if sits in gain and len(one.way.who) == 1:
                gain[sits].append(one.weight / was[id(one.way)])
    if gain["fits"] and gain["against it"]:
        assert min(gain["fits"]) > max(gain["against it"])


WHOLE = findings_at("14.06 MHz")


def stand(*traits: Traits, weight: tuple[float, ...] = (0.5, 0.5)) -> list[Weights]:
    return [Weights(np.array(weight), traits, np.arange(len(traits)))]


def test_the_next_test_is_one_that_tells_them_apart() -> None:
    """A pad tells a birdie from an image that moves alike; nothing tells twins apart."""
    alike = replace(ON_BIRDIE, off=IMAGE.off)
    apart = proposed_tests(stand(replace(IMAGE, inverted=None), alike), Evidence())[0]
    assert apart.test.name == "put a 10 dB pad at the aerial"
    assert proposed_tests(stand(IMAGE, IMAGE), Evidence()) == []
    made = Evidence(moves="with", pad_drop_db=10.0, inverted=False, trimmer="same")
    assert proposed_tests(stand(STATION, IMAGE), made) == []


def test_what_a_test_tells_is_worked_out() -> None:
    """Of two as likely, a test right nine times in ten tells 1 - H(0.9) bits and settles nine in ten."""
    right = float(suspicion()["evidence"]["inverted_right"]["value"])
    entropy = -(right * np.log2(right) + (1 - right) * np.log2(1 - right))
    twins = Traits(inverted=True), Traits(inverted=False)
    [told] = proposed_tests(stand(*twins), Evidence())
    assert told.test.option == "--inverted or --not-inverted"
    assert told.tells_bits == pytest.approx(1.0 - entropy)
    assert told.right_after == pytest.approx(right)


def test_the_next_test_stands_in_the_answer() -> None:
    """In a table of its own, and on the page above the suspects, not among the assumptions."""
    answer = spurplan.suspects(BOATHOUSE, frequency="14.06 MHz", moves="against")
    rows = answer.tables["tests"].records()
    assert rows[0]["test"] == answer.findings.next_test.test.name
    worth = [row["right_after"] + 0.1 * (row["tells_bits"] - row["cost_bits"]) for row in rows]
    assert worth == sorted(worth, reverse=True)
    assert not any("tell most" in line for line in answer.assumptions)
    assert "--moves" not in {row["option"] for row in rows}


def test_nobody_is_sent_to_listen_for_what_can_not_be_heard() -> None:
    """Morse has no sideband to tell; without a whistle there is no pitch that moves."""
    options = {one.test.option for one in findings_at("14.06 MHz", heard="cw").tests}
    assert not options & {"--inverted or --not-inverted", "--pitch-moves or --pitch-stays", "--heard"}


NEAR = Traits(moves=1.0, pad_db_per_db=1.0, off=0.0, beside=("up", "down"))
THIRD = Traits(moves=1.0, pad_db_per_db=1.0, off=0.0, on_dial_hz=(7_000_000,), elsewhere_hz=(7_000_000,))


def test_a_neighbour_is_told_by_tuning_to_him() -> None:
    """All that a station shows a neighbour shows too, but for where it is loudest."""
    together = [STATION, NEAR]
    for word, share in (("up", 0.9), ("down", 0.9), ("here", 0.06)):
        weight = after(Evidence(moves="with", pad_drop_db=10.0, loudest=word), together, (1.0, 1.0))
        assert weight[1] > share if share > 0.5 else weight[1] < share


def test_the_harmonic_of_a_transmitter_is_told_at_a_third_of_it() -> None:
    """It moves, falls and peaks like a station: only that it is found there as well tells it, and where."""
    fourth = replace(THIRD, on_dial_hz=(5_250_000,))
    together = [STATION, THIRD, fourth]
    weight = after(Evidence(found_at=(7_000_000,), not_at=(5_250_000,)), together, (1.0,) * 3)
    assert weight[1] > 0.9
    weight = after(Evidence(not_at=(7_000_000, 5_250_000)), together, (1.0,) * 3)
    assert weight[0] > 2 / 3


def test_what_may_fall_anyhow_gains_nothing_by_it() -> None:
    """As densities: 20 dB is what two signals show, and one reading of many of what is overloaded."""
    twice = Traits(moves=1.0, pad_db_per_db=2.0)
    drowned = Traits(moves=1.0, pad_db_per_db=3.0, saturates=True)
    drops = np.linspace(-20.0, 80.0, 2001)
    areas = [
        np.trapezoid([after_one(Evidence(pad_drop_db=float(d)), t) for d in drops], dx=0.05)
        for t in (twice, drowned)
    ]
    assert areas[0] == pytest.approx(areas[1], rel=0.05)
    assert after_one(Evidence(pad_drop_db=20.0), twice) > 2.0 * after_one(Evidence(pad_drop_db=20.0), drowned)
    assert after_one(Evidence(pad_drop_db=32.0), drowned) > 5.0 * after_one(Evidence(pad_drop_db=32.0), twice)


def test_overload_that_moves_is_loudest_where_it_is_tuned_in() -> None:
    """Motion and place show one thing: what moved with the dial is no less likely for being loudest here.

    Cross-modulation does both as well, so the second observation tells nothing between the two. Of what
    moved and is there all over the dial, one was misread.
    """
    moved = findings_at("14.06 MHz", heard="am", moves="with", pad_drop=26.0)
    here, everywhere = (moved.with_evidence(loudest=word) for word in ("here", "everywhere"))
    before, then = (
        weight_of(some, "overload") / weight_of(some, "cross-modulation") for some in (moved, here)
    )
    assert then == pytest.approx(before, rel=0.02)
    stayed = findings_at("14.06 MHz", heard="am", moves="not", pad_drop=26.0, loudest="everywhere")
    assert first(stayed)[0] == "overload"
    assert weight_of(stayed, "overload") > weight_of(everywhere, "overload")


def weight_of(findings: Findings, cause: str) -> float:
    """Return the weight of the ways of a cause."""
    return sum(one.weight for one in findings.ranked if one.way.cause == cause)


def after_one(evidence: Evidence, traits: Traits) -> float:
    """Return the chance of what was observed, of one suspect."""
    return math.prod(test.chance(traits, shown) for test, shown in made_tests(evidence, 14_000_000))


def test_on_a_round_a_station_is_gone_from_all_places_at_once() -> None:
    """One that closed down is missed everywhere; that both places miss it by chance is rarer by far."""
    two = replace(THIRD, on_dial_hz=(7_000_000, 10_500_000))
    none = after_one(Evidence(not_at=(7_000_000, 10_500_000)), two)
    single = after_one(Evidence(not_at=(7_000_000,)), THIRD)
    assert 3.0 * single**2 < none < single


def test_with_the_dial_in_hand_all_that_is_seen_there_is_one_test(tmp_path: Path) -> None:
    """Motion, where it is loudest, and last places that the set can be tuned to, each once."""
    set_, bands = quiet(tmp_path)
    findings = spurplan.suspects(set_, bands=bands, frequency="21.2 MHz").findings
    at_dial = next(one.test for one in findings.tests if one.test.parts)
    *near, last = at_dial.parts
    seen = [part.option for part in near if part.option not in ("--heard", "--behind-others")]
    assert seen == ["--moves", "--loudest"]
    assert len({part.option for part in near}) == len(near)
    assert last.listen_hz
    assert all(20_000_000 <= hz <= 31_000_000 for hz in last.listen_hz)
    assert "--moves" not in [one.test.option for one in findings.tests]
    told = findings.with_evidence(moves="with", loudest="here", found_at=(last.listen_hz[0],))
    again = {hz for one in told.tests for hz in one.test.listen_hz if one.test.listening is THIS_SET}
    assert not again & set(told.seen.found_at)
    assert pickle.loads(pickle.dumps(at_dial)).name == at_dial.name


def test_other_stations_near_by_have_a_strong_one_behind_them() -> None:
    """To third order every carrier of a stage takes it up alike (textbook); an image has one place."""
    strong = Traits(moves=1.0, pad_db_per_db=2.0, off=0.0, rides=True)
    on_the_if = Traits(moves=0.0, pad_db_per_db=1.0, off=-0.9)
    everybody = (STATION, IMAGE, strong, on_the_if, Traits())
    before = after(Evidence(), everybody, [1.0] * 5)
    with_it, without = (after(Evidence(behind_others=word), everybody, [1.0] * 5) for word in ("yes", "no"))
    assert (with_it > before).tolist() == [False, False, True, True, True]
    assert (without > before).tolist() == [True, True, False, False, False]
    # who predicts nothing is moved by what the others predict alone
    assert with_it[2] > with_it[4] > with_it[0]
    assert not contradicted(Traits(), Evidence(behind_others="yes"))
    with pytest.raises(Refused, match='--behind-others: "maybe" is neither yes nor no'):
        Evidence(behind_others="maybe")


def test_the_aerial_lead_once_in_the_hand_shows_both() -> None:
    """To put a pad in the lead is pulled out: both are one test where both tell, the lead alone another."""
    inside, over = replace(ON_BIRDIE, moves=1.0, stays=0.95), replace(STATION, pad_db_per_db=2.0, stays=0.05)
    on_its_own = replace(STATION, stays=0.05)
    three = stand(inside, over, on_its_own, weight=(0.4, 0.3, 0.3))
    tests = [one.test for one in proposed_tests(three, Evidence())]
    [both] = [test for test in tests if "--pad-drop" in test.option]
    assert [part.option for part in both.parts] == ["--aerial-off", "--pad-drop"]
    assert any(test.option == "--aerial-off" for test in tests)
    assert pickle.loads(pickle.dumps(both)).name == both.name
    told = proposed_tests(stand(inside, over), Evidence(aerial_off="goes"))
    assert all("--aerial-off" not in one.test.option for one in told)


def test_a_station_near_by_is_named_for_what_a_strong_one_does(tmp_path: Path) -> None:
    """A broadcaster at -13 dBm by its own row, far below the dial: the one to look for; no distant one."""
    air = tmp_path / "air.csv"
    air.write_text(
        "freq_khz,service,label,level\n711,broadcast,Hill,-13 dBm\n900,broadcast,Far,-70 dBm\n", "utf-8"
    )
    found: Findings = spurplan.suspects(receiver_of("Gatehouse"), bands=air, frequency="14.2 MHz").findings
    for cause in ("cross-modulation", "overload"):
        [one] = [one for one in found.ranked if one.way.cause == cause]
        named = {who.label: who.traits.elsewhere_hz for who in one.way.who if who.label is not None}
        assert named == {"Hill": (711_000,)}
    more = found.with_evidence(also_on=(711_000,))
    weight = {
        cause: [sum(one.weight for one in some.ranked if one.way.cause == cause) for some in (found, more)]
        for cause in ("cross-modulation", "overload")
    }
    assert all(later > 2.0 * earlier for earlier, later in weight.values())


def test_a_place_that_is_on_no_range_was_not_tuned_to(tmp_path: Path) -> None:
    """The set cannot have been there; it is said which place, and what to do."""
    set_, bands = quiet(tmp_path)
    with pytest.raises(Refused, match=r'--found-at: "3\.5 MHz" is on no range of this set'):
        spurplan.suspects(set_, bands=bands, frequency="21.2 MHz", found_at=["3.5 MHz"], not_at=["22 MHz"])


def test_cross_modulation_rides_on_somebody(tmp_path: Path) -> None:
    """Where a station of the tables is tuned in it is likelier than where there is nobody."""
    empty, there = tmp_path / "empty.csv", tmp_path / "there.csv"
    head = "freq_khz,service,label,level\n900000,amateur,far,-120 dBm\n"
    empty.write_text(head, encoding="utf-8")
    there.write_text(head + "14000,amateur,beside,-53 dBm\n", encoding="utf-8")

    def prior(bands: Path) -> float:
        findings = spurplan.suspects(receiver_of("Gatehouse"), bands=bands, frequency="14 MHz").findings
        return next(
            way.prior * way.who[-1].chance for way in findings.ways[0] if way.cause == "cross-modulation"
        )

    assert prior(there) > 2.0 * prior(empty) > 0.0


def test_evidence_that_means_nothing_is_refused_whole() -> None:
    """Every fault at once, with the words that are taken."""
    with pytest.raises(Refused) as refusal:
        Evidence(
            moves="sideways", pad_drop_db=300.0, trimmer="left", heard="music", strength="loud",
            fading="maybe", aerial_off="1", also_on=(7_000_000,), not_on=(7_000_000,), loudest="left",
            found_at=(7_100_000,), not_at=(7_100_000,),
        )  # fmt: skip
    assert [fault.place for fault in refusal.value.faults] == [
        "--moves", "--pad-drop", "--trimmer", "--loudest", "--heard", "--fading", "--aerial-off",
        "--strength", "--also-on", "--found-at",
    ]  # fmt: skip
    assert "with, against, twice, not" in str(refusal.value)
    assert "say am, ssb, cw, digital, carrier, noise or whistle" in str(refusal.value)


def test_each_observation_is_asked_under_its_own_name(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """What another set has not is not what this one has not elsewhere: no option goes on as another."""
    options = {
        "moves": "with", "trimmer": "up", "loudest": "here", "heard": "am", "strength": "S7",
        "pitch": "800Hz", "fading": "yes", "aerial_off": "stays", "dial_error": "5kHz",
        "behind_others": "yes",
    }  # fmt: skip
    places = {"also_on": "14.99MHz", "not_on": "7.1MHz", "found_at": "21.3MHz", "not_at": "21.4MHz"}
    asked: dict[str, Any] = {}

    def suspects(_: Any, **given: Any) -> None:
        asked.update(given)
        raise Refused(Fault("here", "is as far as it goes"))

    monkeypatch.setattr(spurplan, "suspects", suspects)
    words = [
        word for name, text in (options | places).items() for word in (f"--{name}".replace("_", "-"), text)
    ]
    set_ = str(Path(__file__).parents[2] / "demos" / "boathouse" / "set.toml")
    flags = ["--pad-drop", "10 dB", "--inverted", "--pitch-stays"]
    assert main(["suspects", set_, "21.2 MHz", *words, *flags]) == 1
    assert "is as far as it goes" in capsys.readouterr().err
    told = {"frequency": "21.2 MHz", "pad_drop": 10.0, "inverted": True, "pitch_moves": False, "bands": None}
    assert asked == options | told | {name: [text] for name, text in places.items()}


def test_a_dial_error_widens_the_search(tmp_path: Path) -> None:
    """A station 20 kHz beside the setting belongs there once the pointer may be that far off."""
    beside = tmp_path / "beside.csv"
    beside.write_text("freq_khz,service,label,level\n14020,amateur,beside,-53 dBm\n", encoding="utf-8")

    def own(**options: Any) -> list[object]:
        found = spurplan.suspects(
            receiver_of("Gatehouse"), bands=beside, frequency="14 MHz", **options
        ).suspects
        return [row["label"] for row in found if row["cause"] == "the station itself"]

    assert own() == [None]
    assert own(dial_error="25 kHz") == ["beside"]


def test_a_product_of_two_strong_stations_is_a_suspect(tmp_path: Path) -> None:
    """6.0 and 8.2 MHz add to 14.2 MHz in a mixer with a bare front end; a pad takes twice its decibels."""
    receiver = Receiver.from_dict(
        {
            "name": "open window",
            "conversions": [
                {"injection": "high", "if_hz": 455_000, "filter": {"bandwidth_hz": 6_000},
                 "mixer": {"family": "bipolar"}}
            ],
            "ranges": [
                {"name": "1", "low_hz": 11_000_000, "high_hz": 30_000_000,
                 "front_end": [{"circuits": 1, "q": 10.0}]}
            ],
        }
    )  # fmt: skip
    air = tmp_path / "air.csv"
    air.write_text(
        "freq_khz,service,label,level\n6000,broadcast,Northmoor,-10 dBm\n8200,broadcast,Southmoor,-10 dBm\n",
        encoding="utf-8",
    )
    found = [
        r
        for r in spurplan.suspects(receiver, bands=air, frequency="14.2 MHz").suspects
        if r["cause"] == "intermodulation" and r["label"]
    ]
    assert found
    assert {"Northmoor", "Southmoor"} == set(found[0]["label"].split(" with "))
    assert found[0]["pad_db_per_db"] == 2.0
    plain = spurplan.suspects(receiver, bands=air, frequency="14.2 MHz").findings
    gain = {
        one.way.equation: after.weight / one.weight
        for one in plain.ranked
        for after in plain.with_evidence(pad_drop_db=20.0).ranked
        if after.way is one.way
    }
    assert gain[found[0]["equation"]] > 5.0 * gain["IF = LO - RF"]


def test_a_transmitters_harmonic_is_graded_by_the_thresholds_asked_for(tmp_path: Path) -> None:
    """A 7.1 MHz station at +5 dBm, its harmonic 50 dB down: graded by its margin, and never left out."""
    air = tmp_path / "air.csv"
    air.write_text("freq_khz,service,label,level\n7100,amateur,Hilltop,5 dBm\n", encoding="utf-8")

    def harmonic(**thresholds: Any) -> dict[str, object]:
        rows = spurplan.suspects(
            receiver_of("Gatehouse"), bands=air, frequency="14.2 MHz", **thresholds
        ).suspects.records()
        [one] = [row for row in rows if row["cause"] == "transmitter harmonic" and row["label"]]
        return one

    usual = harmonic()
    margin = float(str(usual["margin_db"]))
    assert (usual["grade"], usual["heard_dbm"], usual["rf_hz"]) == ("strong", -45.0, 7_100_000)
    assert harmonic(strong_at=margin + 1)["grade"] == "audible"
    assert harmonic(strong_at=margin + 2, audible_at=margin + 1)["grade"] == "buried"


QUIET = """\
name = "Quiet set"
noise = [["20 MHz", "-110 dBm"]]
[[conversion]]
injection = "high"
if = "1600 kHz"
[conversion.filter]
bandwidth = "6 kHz"
[[range]]
name = "E"
coverage = ["20 MHz", "31 MHz"]
front_end = [{ circuits = 3, q = 60 }]
"""


def quiet(folder: Path) -> tuple[Path, Path]:
    """A set that buries its image, a station on 21.2 MHz and one on its image, 24.4 MHz."""
    set_, bands = folder / "set.toml", folder / "bands.csv"
    set_.write_text(QUIET, "utf-8")
    bands.write_text(
        "freq_khz,service,label,level\n21200,amateur,Wanted,S9\n24400,fixed,On the image,-60 dBm\n", "utf-8"
    )
    return set_, bands


def test_what_should_be_buried_is_named_where_it_fits(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A station on its own frequency can not run backwards: the image can, weak as it should be."""
    set_, bands = quiet(tmp_path)
    image = spurplan.suspects(set_, bands=bands, frequency="21.2 MHz", moves="against").suspects.records(1)[0]
    assert (image["label"], image["response"], image["grade"], image["fits"]) == (
        "On the image", "image", "buried", ["fits: moves against the dial"],
    )  # fmt: skip
    assert main(["suspects", str(set_), "21.2MHz", "--bands", str(bands), "--moves", "against"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert said.startswith("It moves against the dial: an image")
    assert "Then it is really on 24.4 MHz (On the image)." in said
    assert "then tune this set to 24.4 MHz" in said


def test_where_the_set_explains_nothing_that_is_said(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Noise that stays without the aerial and falls by no fixed amount is none of the set's ways in."""
    set_, bands = quiet(tmp_path)
    words = [
        "--heard",
        "noise",
        "--aerial-off",
        "goes",
        "--moves",
        "7",
        "--trimmer",
        "down",
        "--pad-drop",
        "4dB",
    ]
    assert main(["suspects", str(set_), "21.2MHz", "--bands", str(bands), *words]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "fits what was observed: look for a source in the house" in said


def test_a_page_has_twelve_suspects_at_most(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The likeliest, of all ranges together; what is left out is counted, and --top 0 has it."""
    set_, bands = quiet(tmp_path)
    words = ["suspects", str(set_), "21.2MHz", "--bands", str(bands)]
    every = spurplan.suspects(set_, bands=bands, frequency="21.2 MHz").suspects.records()

    def rows() -> int:
        page = capsys.readouterr().out
        table = page[page.index("----") :].split("\n\n", 1)[0]
        # a row begins with its weight, and goes on below it
        return sum(re.match(r" {0,9}[<>]?\d+  ", line) is not None for line in table.splitlines()[1:])

    assert main(words) == 0
    assert rows() == 12
    assert main([*words, "--top", "0"]) == 0
    assert rows() == len(every)


def test_four_times_as_fast_is_not_against() -> None:
    """What a suspect predicts must be what was seen; it is not enough that no word would fit better."""
    fast = Traits(moves=4.0, pad_db_per_db=1.0, inverted=False, off=0.2)
    assert contradicted(fast, Evidence(moves="against"))
    assert not contradicted(fast, Evidence(moves="4"))
    assert fits_of(fast, Evidence(moves="against")) == ["against it: moves 4 times as fast"]
    assert not contradicted(Traits(), Evidence("against", 20.0, True, "up", "cw", "S7", fading="yes"))


def test_a_band_inside_a_band_is_no_second_cause(tmp_path: Path) -> None:
    """Ten segments of one band come by one way, which they make no likelier than the band does."""
    set_, bands = quiet(tmp_path)
    head = "low_khz,high_khz,service,label,level\n"
    segments = [f"242{n}0,24600,amateur,segment {n},\n" for n in range(1, 9)]
    weights = {}
    for count in (1, 8):
        bands.write_text(head + "".join(segments[:count]), "utf-8")
        rows = spurplan.suspects(set_, bands=bands, frequency="21.2 MHz").suspects.records()
        [image] = [row for row in rows if row["response"] == "image"]
        weights[count] = image["weight"]
        assert len(image["others"]) == count - 1
    assert weights[8] == pytest.approx(weights[1], rel=0.02)


@pytest.mark.parametrize(
    ("mode", "told"), [("am", False), ("fm", False), ("cw", False), ("ssb", True), ("", True)]
)
def test_nobody_is_sent_to_listen_for_a_sideband_that_can_not_be_told(
    mode: str, told: bool, tmp_path: Path
) -> None:
    """AM has both sidebands, a keyed carrier none: turned round they sound as before. Common practice."""
    set_, bands = quiet(tmp_path)
    set_.write_text(QUIET.replace("circuits = 3, q = 60", "circuits = 1, q = 3"), "utf-8")
    bands.write_text(f"freq_khz,service,label,level,mode\n24400,broadcast,Tower,0 dBm,{mode}\n", "utf-8")
    found: Findings = spurplan.suspects(set_, bands=bands, frequency="21.2 MHz", inverted=True).findings
    [image] = [one for one in found.ranked if one.way.response == "image"]
    [tower] = [who for who in image.way.who if who.label == "Tower"]
    assert (tower.traits.inverted is None) != told
    assert fits_of(tower.traits, found.seen) == [
        "fits: sideband inverted" if told else "open: has no sideband of its own to tell by"
    ]


def test_a_station_of_two_regions_is_one_line(tmp_path: Path) -> None:
    """Rows of one station are one way in, and its name stands once."""
    set_, bands = quiet(tmp_path)
    head, tower = "freq_khz,service,label,level,region\n", "10600,broadcast,Tower,0 dBm,"
    bands.write_text(f"{head}{tower}1\n{tower}2\n", "utf-8")
    rows = spurplan.suspects(set_, bands=bands, frequency="21.2 MHz").suspects.records()
    [row] = [row for row in rows if row["cause"] == "transmitter harmonic" and row["label"] == "Tower"]
    assert row["others"] == []


OVERLAPPING = """\
name = "Two ranges"
[[conversion]]
injection = "high"
if = "1625 kHz"
[conversion.filter]
bandwidth = "6 kHz"
[[internal]]
name = "calibrator"
frequency = "100 kHz"
[[range]]
name = "low"
coverage = ["1.6 MHz", "4 MHz"]
[[range]]
name = "high"
coverage = ["3 MHz", "8 MHz"]
"""


def test_weights_add_to_one_on_each_range(tmp_path: Path) -> None:
    """Where ranges overlap the switch stands on one of them: each has its own first suspect."""
    set_, air = tmp_path / "set.toml", tmp_path / "air.csv"
    set_.write_text(OVERLAPPING, "utf-8")
    air.write_text("freq_khz,service,label,level\n3500,fixed,Wanted,S9\n6750,fixed,Image,S9+20\n", "utf-8")
    both = spurplan.suspects(set_, bands=air, frequency="3500 kHz").suspects.records()
    assert [row["rank"] for row in both if row["rank"] == 1] == [1, 1]
    for name in ("low", "high"):
        rows = [row for row in both if row["range"] == name]
        assert sum(row["weight"] for row in rows) == pytest.approx(1.0, abs=1e-12)
        alone = spurplan.suspects(set_, bands=air, frequency="3500 kHz", range=name).suspects.records()
        assert [row["weight"] for row in alone] == pytest.approx([row["weight"] for row in rows], abs=1e-12)


def test_a_calibrator_is_suspected_on_every_harmonic_the_dial_needs(tmp_path: Path) -> None:
    """The 35th harmonic of 100 kHz is on 3.5 MHz: what stays there without an aerial is that."""
    set_, air = tmp_path / "set.toml", tmp_path / "air.csv"
    set_.write_text(OVERLAPPING, "utf-8")
    air.write_text("freq_khz,service,label,level\n9000,fixed,Elsewhere,S1\n", "utf-8")
    asked_ = spurplan.suspects(set_, bands=air, frequency="3500 kHz", range="low", aerial_off="stays")
    found = asked_.suspects.records(1)[0]
    assert (found["cause"], found["equation"]) == ("birdie", "35 calibrator = dial")
    answer = spurplan.birdies(set_, bands=air)
    comb = {
        (row["range"], row["harmonic"])
        for row in answer.birdies
        if row["kind"] == "internal" and row["equation"].endswith("calibrator = dial")
    }
    assert comb == {("low", k) for k in range(16, 41)} | {("high", k) for k in range(30, 81)}


def test_every_weight_has_its_mark_and_its_reason() -> None:
    """One file to edit, and nothing in it without a word why; chances add to 1."""
    for table, rows in suspicion().items():
        for name, row in rows.items():
            assert row["mark"] in ("[est]", "model", "source"), (table, name)
            assert len(row["reason"]) >= 5, (table, name)
            if table in ("sounds", "emission"):
                shares = [value for key, value in row.items() if key not in ("mark", "reason")]
                assert sum(shares) == pytest.approx(1.0), (table, name)
    named = {word for row in suspicion()["sounds"].values() for word in row} - {"mark", "reason"}
    assert named == set(HEARD_WORDS)
    assert (files("spurplan") / "data" / "suspicion.toml").is_file()


def test_findings_travel() -> None:
    """An answer that was sent away says what it said, and takes more evidence there."""
    answer = spurplan.suspects(BOATHOUSE, frequency="14.06 MHz", moves="against")
    sent: Findings = pickle.loads(pickle.dumps(answer.findings))
    assert first(sent) == first(answer.findings)
    more = [one.with_evidence(trimmer="up").ranked[0].weight for one in (sent, answer.findings)]
    assert more[0] == more[1] > answer.findings.ranked[0].weight


@pytest.mark.parametrize(
    ("told", "word"),
    [
        ((1, 1.0, "1", "1.0", "+1", np.float64(1.0)), "with"),
        ((-1, -1.0, "-1", "-1.0"), "against"),
        ((0, 0.0, -0.0, "0", "-0", "0.0"), "not"),
    ],
)
def test_a_motion_is_the_same_however_it_is_told(
    told: tuple[Any, ...], word: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """1, 1.0, "1" and "with" are one observation: the same evidence, chances, settings and sentence."""
    all_over = Traits(moves=0.0, saturates=True)
    by_word = Evidence(moves=word)
    [(test, seen)] = made_tests(by_word, 0)
    right = float(suspicion()["evidence"]["moves_right"]["value"])
    assert (test.chance(all_over, seen) == right) == (word == "not")
    for value in told:
        assert Evidence(moves=value) == by_word, value
        [(_, shown)] = made_tests(Evidence(moves=value), 0)
        assert test.chance(all_over, shown) == test.chance(all_over, seen)
    set_, bands = quiet(tmp_path)
    answers = [
        spurplan.suspects(set_, bands=bands, frequency="21.2 MHz", moves=value)
        for value in (word, told[0], told[1])
    ]
    assert {answer.settings["moves"] for answer in answers} == {word}
    assert len({tuple(answer.suspects["weight"]) for answer in answers}) == 1
    pages = []
    for value in (word, str(told[0]), str(told[1])):
        assert main(["suspects", str(set_), "21.2MHz", "--bands", str(bands), "--moves", value]) == 0
        pages.append(capsys.readouterr().out)
    assert pages[0] == pages[1] == pages[2]


def test_twice_leaves_open_which_way_and_a_number_does_not() -> None:
    """A product at -2 fits "twice" and "-2", not "2"; its words say that it runs backwards."""
    backwards = replace(HALF_IF, moves=-2.0)
    fits = {told: not contradicted(backwards, Evidence(moves=told)) for told in ("twice", "-2", "2")}
    assert fits == {"twice": True, "-2": True, "2": False}
    assert fits_of(backwards, Evidence(moves=-2)) == ["fits: moves twice as fast, backwards"]


@pytest.mark.parametrize("told", ["1e3", "nan", "1001", 1001, 10**400, float("inf"), True, ["with"]])
def test_what_is_no_motion_is_refused(told: Any) -> None:
    """A number in plain digits within what any product does, or a word."""
    with pytest.raises(Refused) as refusal:
        Evidence(moves=told)
    [fault] = refusal.value.faults
    assert (fault.place, fault.rule) == ("--moves", "is no motion")


@pytest.mark.parametrize(
    ("region", "edge", "off", "error"),
    [(1, "7.2 MHz", "100 kHz", "125kHz"), (2, "7.3 MHz", "200 kHz", "250kHz")],
)
def test_it_says_first_that_no_broadcaster_belongs_there(
    region: int, edge: str, off: str, error: str
) -> None:
    """ITU Radio Regulations, article 5: broadcasting 7200-7450 kHz in Region 1, 7300-7400 in Region 2 (from
    memory). A pointer that may be that far off takes the sentence away."""
    asked = {"frequency": "7.1 MHz", "heard": "am", "region": region}
    first, *_ = page.view(spurplan.suspects(BOATHOUSE, **asked)).heading
    assert first == (
        f"No broadcaster belongs on 7.1 MHz in Region {region}; 41 m broadcasting begins at {edge}. Is the "
        f"pointer {off} off? Try --dial-error {error}."
    )
    for more in ({"dial_error": error}, {"heard": "ssb"}, {"frequency": "7.35 MHz"}):
        assert spurplan.suspects(BOATHOUSE, **{**asked, **more}).findings.nobody_belongs is None


def test_somebody_in_no_table_is_called_that_and_sounds_like_anything() -> None:
    """Told with Morse, a stranger on the image has no programme for evidence; one place after the other."""
    answer = spurplan.suspects(BOATHOUSE, frequency="14.03 MHz", moves="against", heard="cw")
    shown = page.view(answer)
    row = shown.tables["suspects"].records()[0]
    assert (row["response"], row["label"]) == ("image", "somebody in no table")
    assert row["fits"] == ["fits: moves against the dial", "open: may sound like anything"]
    assert answer.first.records()[0]["label"] is None
    assert shown.heading[0].endswith("really on 14.96 MHz (somebody in no table).")
    assert "then tune this set to 14.96 MHz" in shown.heading[1]

"""Ways in: round the circuits, past the boxes, by the image; each a power beside the others."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import spurplan
from spurplan.receiver.chain import Chains, compile_chains
from spurplan.receiver.changes import with_ahead, with_only, with_pad
from spurplan.receiver.description import Box, Circuits, CoupledPair, Curve, Element, Passband, Receiver, Trap
from spurplan.receiver.first_stages import first_stages
from spurplan.receiver.noise import KT0_DBM_PER_HZ, compile_floor
from spurplan.receiver.selectivity import Varied, compile_elements, compile_lead
from spurplan.responses.levels import AirBudget, heard_dbm, image_hz_and_passed, total_dbm_per_hz
from spurplan.responses.lines import enumerate_lines, product_steps
from tests.oracle import connect, sets

MHZ = 1_000_000
W_HZ, IF_HZ = 28_300_000, 465_000


def set_of(**more: Any) -> Receiver:
    """A set of two circuits, Q 55, on 28 to 29 MHz, IF 465 kHz."""
    one: dict[str, Any] = {
        "name": "1", "coverage": ["28 MHz", "29 MHz"], "front_end": [{"circuits": 2, "q": 55.0}],
        "front_end_ceiling": "70 dB", **more.pop("range", {}),
    }  # fmt: skip
    conversion = {"injection": "high", "if": "465 kHz", "filter": {"bandwidth": "6 kHz"}}
    return Receiver.from_dict({"name": "two circuits", "conversion": [conversion], "range": [one], **more})


def chains_of(receiver: Receiver) -> Chains:
    (chains,) = compile_chains([(receiver, one) for one in receiver.ranges])
    return chains


def rejection_db(receiver: Receiver, x_hz: int, wanted_hz: int = W_HZ) -> float:
    """How far a signal is held back ahead of the first mixer, against the wanted one."""
    return float(chains_of(receiver).selectivity[0][0].loss_db(float(x_hz), float(wanted_hz)))


PRESELECTOR = Box(name="preselector", elements=(Circuits(circuits=2, q=80.0),))
IF_TRAP = Box(name="IF trap", elements=(Trap(trap_hz=IF_HZ, depth_db=40.0, q=50.0),))
LOW_PASS = Box(name="low-pass", elements=(Curve(points=((30 * MHZ, 0.0), (80 * MHZ, 60.0))),))


@pytest.mark.parametrize(
    ("boxes", "x_hz", "db"),
    [
        # two circuits and 70 dB round them, 100 dB past everything, worked out by hand from
        # (a + c)/(1 + c): a trap behind a stray path of 10^-7 takes 40 dB of that and no more
        ((), W_HZ + 2 * IF_HZ, 22.7),
        ((PRESELECTOR,), W_HZ + 2 * IF_HZ, 51.6),
        ((), IF_HZ, 70.0),
        ((IF_TRAP,), IF_HZ, 99.6),
        ((), 95 * MHZ, 69.9),
        ((LOW_PASS,), 95 * MHZ, 100.0),
    ],
)
def test_a_box_in_the_lead_helps_where_stray_coupling_in_the_set_ends_all_else(
    boxes: tuple[Box, ...], x_hz: int, db: float
) -> None:
    assert rejection_db(with_ahead(set_of(), boxes=boxes), x_hz) == pytest.approx(db, abs=0.05)


@pytest.mark.parametrize("x_hz", [IF_HZ, W_HZ + 2 * IF_HZ, 95 * MHZ, 3 * MHZ])
def test_a_pad_moves_no_ratio_as_long_as_pickup_does_not_count(x_hz: int) -> None:
    padded = with_pad(set_of(case_pickup="150 dB"), pad_db=10.0)
    assert rejection_db(padded, x_hz) == pytest.approx(
        rejection_db(set_of(case_pickup="150 dB"), x_hz), abs=1e-3
    )


def test_what_gets_past_everything_is_not_amplified() -> None:
    """A box with 20 dB of gain puts the wanted signal 20 dB further above what comes by the chassis."""
    quiet = set_of(range={"front_end_ceiling": "200 dB", "front_end": [{"circuits": 9, "q": 55.0}]})
    assert rejection_db(quiet, IF_HZ) == pytest.approx(100.0, abs=0.01)
    amplifier = Box(elements=(Circuits(circuits=3, q=80.0),), gain_db=20.0)
    assert rejection_db(with_ahead(quiet, boxes=[amplifier]), IF_HZ) == pytest.approx(120.0, abs=0.01)


# --- what has to hold for any box ------------------------------------------------------------

frequencies = st.integers(100_000, 60 * MHZ)
passive = st.one_of(
    st.builds(lambda n, q: Circuits(circuits=n, q=q), st.integers(1, 3), st.floats(5, 200)),
    st.builds(
        lambda f, d, q: Trap(trap_hz=f, depth_db=d, q=q), frequencies, st.floats(1, 60), st.floats(5, 200)
    ),
    st.builds(
        lambda f, width, n: Passband(low_hz=f, high_hz=f + width, order=n),
        frequencies, st.integers(10_000, 10 * MHZ), st.integers(1, 4),
    ),
)  # fmt: skip
lists = st.lists(passive, max_size=3).map(tuple)
ceilings = st.floats(20, 120)
boxes = st.builds(
    lambda elements, gain, ceiling, pickup: Box(
        elements=elements, gain_db=gain, ceiling_db=ceiling, pickup_db=pickup
    ),
    lists, st.floats(-40, 40), ceilings, ceilings,
)  # fmt: skip
places = st.floats(1e5, 6e7)


def gain_db(box: Box, wanted: float) -> float:
    """What a box gives the wanted signal."""
    lead = compile_lead([box], (), 70.0, 100.0)
    return lead.lead_gain_db - float(lead.lead_loss_db(wanted))


@settings(max_examples=200, deadline=None)
@given(boxes, lists, ceilings, ceilings, places, places)
def test_a_box_never_raises_a_way_in_by_more_than_its_gain(
    box: Box, own: tuple[Element, ...], ceiling: float, case: float, x: float, wanted: float
) -> None:
    """At the mixer, in absolute decibels, whatever its elements take off the wanted signal."""
    bare, behind = (compile_lead(ahead, own, ceiling, case) for ahead in ((), (box,)))
    raised = gain_db(box, wanted) - float(behind.loss_db(x, wanted) - bare.loss_db(x, wanted))
    # the wanted signal comes by the stray paths as well, and everything is told against it
    past = 10 * math.log10(1 + sum(10 ** (-db / 10) for db in (box.ceiling_db, box.pickup_db, case)))
    assert raised <= max(box.gain_db, 0.0) + past + 1e-6


@settings(max_examples=150, deadline=None)
@given(boxes, lists, ceilings, ceilings, places, places, st.floats(0, 30))
def test_more_of_anything_that_holds_back_never_lets_more_in(
    box: Box, own: tuple[Element, ...], ceiling: float, case: float, x: float, wanted: float, more: float
) -> None:
    """Of each ceiling, each pickup, and of circuits, wherever the way in is weaker than the wanted one."""
    before = float(compile_lead([box], own, ceiling, case).loss_db(x, wanted))
    element = Circuits(circuits=1, q=50.0)
    further = [
        compile_lead([box], own, ceiling + more, case),
        compile_lead([box], own, ceiling, case + more),
        compile_lead([box.unchecked(ceiling_db=box.ceiling_db + more)], own, ceiling, case),
        compile_lead([box.unchecked(pickup_db=box.pickup_db + more)], own, ceiling, case),
    ]
    weaker = compile_elements(own, ceiling).loss_db(x, wanted) >= 0
    inside = compile_elements(box.elements, box.ceiling_db).loss_db(x, wanted) >= 0
    if weaker and inside:
        assert all(float(lead.loss_db(x, wanted)) >= before - 1e-9 for lead in further)
    circuits = [
        compile_lead([box.unchecked(elements=(*box.elements, element))], own, ceiling, case),
        compile_lead([box], (*own, element), ceiling, case),
    ]
    assert all(float(lead.loss_db(x, wanted)) >= before - 1e-9 for lead in circuits if own)


@pytest.mark.parametrize("seed", range(12))
def test_nothing_weaker_than_the_need_is_heard(seed: int) -> None:
    """With boxes ahead and a way past each mixer, the bounds stay bounds, anywhere on the dial."""
    rng = np.random.default_rng(seed)
    kind = ("single", "double", "converter", "converter double")[seed % 4]
    made = sets.dressed(rng, sets.receiver(rng, kind, dials=2_000_000, scale=20_000_000))
    made["range"] = made["range"][:1]
    made["ahead"] = [sets._box(rng, 1_000_000, 9_000_000) for _ in range(2)]
    chains = chains_of(Receiver.from_dict(made))
    occupants = connect.occupants_of([(1, 3 * 10**10)], 60.0)
    orders = (10, 3) if chains.conversions == 1 else (3, 2)
    budget = AirBudget(chains, occupants, 0.0, drop=False, steps=product_steps(*orders))
    lines = enumerate_lines(chains, *orders, budget=budget)
    least = budget.at_detector(lines.candidate) - chains.gain_db.sum(axis=1)[lines.candidate]
    count = 0
    for part in (0.0, 1.0, *rng.random(4)):
        dial = lines.dial_low_hz + ((lines.dial_high_hz - lines.dial_low_hz) * part).astype(np.int64)
        off = rng.uniform(-1, 1, len(lines)) * lines.slack_hz()
        positive = lines.at_hz(dial) + off > 0
        for i in range(1, chains.conversions):
            slope = lines.r[i] * lines.d[0] / (lines.d[i] * lines.r[0])
            positive &= lines.at_hz(dial, i) + slope * off > 0
        rf = np.maximum(lines.at_hz(dial) + off, 1e-3)
        heard = heard_dbm(chains, lines, np.arange(len(lines)), rf, lines.need_dbm, dial)
        assert (heard - least)[positive].max() <= 2e-3
        count += int(positive.sum())
    assert count > 100


# --- what is not known exactly ---------------------------------------------------------------


def test_what_varies_varies_inside_the_sum_and_boxes_apart_from_the_set() -> None:
    """Every stray path of the set 6 dB stronger: 99.6 dB behind the trap become 93.6. Those of the box 6 dB
    stronger: hardly less, since what is left there comes by the chassis."""
    lead = chains_of(with_ahead(set_of(), boxes=[IF_TRAP])).selectivity[0][0]

    def loss(**figures: float) -> float:
        return float(lead.varied(Varied(**figures)).loss_db(float(IF_HZ), float(W_HZ)))

    assert loss() == pytest.approx(99.58, abs=0.01)
    assert loss(ceiling_db=-6.0) == pytest.approx(99.58 - 6.0, abs=0.05)
    # trap 10^-4 and stray 4 (10^-7 + 10^-6) of 10^-7, beside 10^-10
    boxed = -10 * math.log10((1e-4 + 4 * 1.1e-6) * 1e-7 + 1e-10)
    assert loss(box_ceiling_db=-6.0) == pytest.approx(boxed, abs=0.01)


def test_q_of_box_and_set_vary_apart() -> None:
    lead = chains_of(with_ahead(set_of(case_pickup="300 dB"), boxes=[PRESELECTOR])).selectivity[0][0]
    image = float(W_HZ + 2 * IF_HZ)

    def two(q: float) -> float:
        v = image / W_HZ - W_HZ / image
        return 20 * math.log10(1 + (q * v) ** 2)

    for figures, q_set, q_box in (({}, 55, 80), ({"q_factor": 1.2}, 66, 80), ({"box_q_factor": 1.2}, 55, 96)):
        loss = float(lead.varied(Varied(**figures)).loss_db(image, float(W_HZ)))
        assert loss == pytest.approx(two(q_set) + two(q_box), abs=0.01)


def test_an_unknown_coupling_spreads_from_one_kind_to_the_other() -> None:
    """Half the difference is one standard deviation, and a coupling that was described has none."""
    x, wanted = 1_460_000.0, 550_000.0
    loss = {
        by: compile_elements((CoupledPair(coupled_pair=1.0, q=60.0, coupling=by),), 300.0)
        for by in ("capacitive", "inductive", None)
    }
    at = {by: float(one.loss_db(x, wanted)) for by, one in loss.items()}
    # 40 log10(1460/550)
    assert at["inductive"] - at["capacitive"] == pytest.approx(40 * math.log10(1460 / 550), abs=0.01)
    assert at[None] == pytest.approx((at["inductive"] + at["capacitive"]) / 2, abs=1e-9)
    for score, by in ((-1.0, "capacitive"), (1.0, "inductive")):
        assert float(loss[None].varied(Varied(coupling_score=score)).loss_db(x, wanted)) == pytest.approx(
            at[by]
        )
        assert float(loss[by].varied(Varied(coupling_score=-score)).loss_db(x, wanted)) == at[by]


# --- noise -----------------------------------------------------------------------------------


@pytest.mark.parametrize(("environment", "db"), [("rural", 0.9), ("quiet_rural", 3.8)])
def test_a_pad_of_10_db_costs_a_set_of_12_db_some_sensitivity(environment: str, db: float) -> None:
    """At 28.3 MHz: F = F_ext + 10^2.2 - 1 in place of F_ext + 10^1.2 - 1, F_ext from P.372 by hand."""
    receiver = set_of(environment=environment, noise_figure="12 dB")
    before, after = (
        float(compile_floor(one).total_dbm_per_hz(W_HZ))
        for one in (receiver, with_pad(receiver, pad_db=10.0))
    )
    assert after - before == pytest.approx(db, abs=0.05)


def test_noise_figures_go_in_cascade_inwards() -> None:
    """F = F1 + (F2 - 1)/g1 + (F3 - 1)/(g1 g2): a 3 dB pad, 20 dB of gain at 6 dB, a set of 12 dB."""
    receiver = set_of(antenna_gain="-150 dB", noise_figure="12 dB")
    boxes = [Box(gain_db=-3.0), Box(gain_db=20.0, noise_figure_db=6.0)]
    f1, f2, f3 = 10**0.3, 10**0.6, 10**1.2
    own = f1 + (f2 - 1) / 10**-0.3 + (f3 - 1) / 10**1.7
    found = float(compile_floor(with_ahead(receiver, boxes=boxes)).total_dbm_per_hz(W_HZ))
    assert found == pytest.approx(KT0_DBM_PER_HZ + 10 * math.log10(own - 1), abs=1e-4)


def test_what_a_fixed_filter_takes_off_the_wanted_signal_counts_as_loss() -> None:
    """A trap of 6 dB on the wanted frequency itself is a 6 dB pad there, and raises all else by 6 dB."""
    trap = Box(elements=(Trap(trap_hz=W_HZ, depth_db=6.0, q=30.0),), ceiling_db=300.0, pickup_db=300.0)
    receiver = set_of(noise_figure="12 dB", antenna_gain="-150 dB")
    trapped, padded = (
        float(compile_floor(one).total_dbm_per_hz(W_HZ))
        for one in (with_ahead(receiver, boxes=[trap]), with_pad(receiver, pad_db=6.0))
    )
    assert trapped == pytest.approx(padded, abs=1e-6)
    # 3 MHz passes the trap whole, so it stands 6 dB higher against the wanted signal than behind a pad
    bare = set_of(range={"front_end": []}, case_pickup="300 dB")
    assert rejection_db(with_ahead(bare, boxes=[trap]), 3 * MHZ) == pytest.approx(-6.0, abs=0.01)


@pytest.mark.parametrize(("held_back_db", "rise_db"), [(0, 3.0), (3, 1.8), (6, 1.0), (10, 0.4), (15, 0.1)])
def test_noise_of_the_image_comes_in_as_far_as_the_circuits_let_it(
    held_back_db: float, rise_db: float
) -> None:
    """10 log10(1 + 10^(-A/10)), where the noise outside is all there is and the same on both."""
    v = (W_HZ + 2 * IF_HZ) / W_HZ - W_HZ / (W_HZ + 2 * IF_HZ)
    q = math.sqrt(10 ** (held_back_db / 10) - 1) / v
    front_end = [{"circuits": 1, "q": q}] if q else []
    noise = [["28 MHz", "-80 dBm"]]
    chains = chains_of(set_of(noise=noise, noise_figure="0 dB", range={"front_end": front_end}))
    candidate, dial = np.zeros(1, dtype=np.int64), np.array([W_HZ])
    total = float(total_dbm_per_hz(chains, candidate, dial)[0])
    bare = float(chains.floor[0].total_dbm_per_hz(W_HZ))
    assert total - bare == pytest.approx(rise_db, abs=0.05)
    image, _ = image_hz_and_passed(chains, 0, candidate, dial)
    assert image.tolist() == [W_HZ + 2 * IF_HZ]


def test_the_table_of_first_stages_follows_from_its_resistors() -> None:
    """10 log10(2 + 4 R_eq/R_p) of a matched aerial coil and a valve, rounded to a tenth."""
    import tomllib
    from importlib.resources import files

    read = tomllib.loads((files("spurplan") / "data" / "first_stages.toml").read_text("utf-8"))
    valves = {name: stage for name, stage in read["stage"].items() if "req_ohm" in stage}
    assert len(valves) == 5
    for stage in valves.values():
        expected = [
            10 * math.log10(2 + 4 * stage["req_ohm"] / coil) for coil in read["aerial_coil"]["coil_ohm"]
        ]
        assert stage["noise_figure_db"] == pytest.approx(expected, abs=0.051)
    assert set(read["stage"]) == set(first_stages())


def test_a_pentagrid_without_an_amplifier_is_not_as_good_as_a_pentode() -> None:
    """Where no noise figure is given, the first stage tells it; a figure that is given stands."""

    def own_db(**more: Any) -> float:
        chains = chains_of(set_of(antenna_gain="-150 dB", **more))
        floor = total_dbm_per_hz(chains, np.zeros(1, dtype=np.int64), np.array([28 * MHZ]))[0]
        return float(10 * math.log10(10 ** ((floor - KT0_DBM_PER_HZ) / 10) + 1))

    assert own_db(first_stage="pentagrid") == pytest.approx(22.7, abs=0.01)
    # one circuit of Q 55 behind the pentode holds its image noise back by 11.4 dB
    behind = 1 + (55 * ((28 * MHZ + 2 * IF_HZ) / (28 * MHZ) - 28 * MHZ / (28 * MHZ + 2 * IF_HZ))) ** 2
    pentode = 10 * math.log10(1 + (10**0.46 - 1) * (1 + 1 / behind))
    assert own_db(first_stage="sharp_pentode") == pytest.approx(pentode, abs=0.01)
    assert own_db(first_stage="pentagrid", noise_figure="8 dB") == pytest.approx(8.0, abs=0.01)
    assert own_db() == pytest.approx(12.0, abs=0.01)


# --- some ranges alone -----------------------------------------------------------------------


def test_a_box_is_in_the_lead_on_its_ranges_alone() -> None:
    """Gain, noise and rejection of the others are those of the bare set; a set cut to them needs no box."""
    two = {
        "name": "two ranges", "antenna_gain": "-150 dB", "conversion": [
            {"injection": "high", "if": "465 kHz", "filter": {"bandwidth": "6 kHz"}}
        ],
        "range": [
            {"name": name, "coverage": [low, high], "front_end": [{"circuits": 2, "q": 55.0}]}
            for name, low, high in (("low", "7 MHz", "8 MHz"), ("high", "28 MHz", "29 MHz"))
        ],
    }  # fmt: skip
    bare = Receiver.from_dict(two)
    boxed = Receiver.from_dict({**two, "ahead": [{"name": "pad", "gain": "-10 dB", "ranges": ["high"]}]})
    before, after = chains_of(bare), chains_of(boxed)
    assert (after.gain_db[:, 0] - before.gain_db[:, 0]).tolist() == [0.0, -10.0]
    dial = np.array([7_500_000, 28_500_000])
    noise = [total_dbm_per_hz(one, np.arange(2), dial) for one in (before, after)]
    assert (noise[1] - noise[0]) == pytest.approx([0.0, 10 * math.log10((10**2.2 - 1) / (10**1.2 - 1))])
    assert with_only(boxed, range_names=["low"]) == with_only(bare, range_names=["low"])
    with pytest.raises(spurplan.Refused, match=r'ahead\[1\]\.ranges\[1\]: "hgih" is no range of this set'):
        Receiver.from_dict({**two, "ahead": [{"gain": "-10 dB", "ranges": ["hgih"]}]})


# --- asked for -------------------------------------------------------------------------------


def test_a_box_of_a_file_stands_ahead_like_one_of_the_receiver_file(tmp_path: Path) -> None:
    """On every question that takes it: the same answer, but for the settings that name it."""
    (tmp_path / "trap.toml").write_text(
        'name = "IF trap"\nelements = [ { trap = "465 kHz", depth = "40 dB", q = 50 } ]\n'
    )
    bands = tmp_path / "bands.csv"
    bands.write_text("freq_khz,service,label,level\n465,broadcast,On the IF,-10 dBm\n")
    inside = with_ahead(set_of(), boxes=[IF_TRAP])
    for question in (spurplan.dial, spurplan.ranges, spurplan.birdies):
        where = {"frequency": "28.3 MHz"} if question is spurplan.dial else {}
        asked = question(
            set_of(), bands=bands, **where, everything=True, ahead=[tmp_path / "trap.toml"]
        ).to_dict()
        held = question(inside, bands=bands, **where, everything=True).to_dict()
        assert asked["settings"].pop("ahead") == [str(tmp_path / "trap.toml")]
        assert held["settings"].pop("ahead") == []
        assert asked == held
    bare, trapped = (
        spurplan.ranges(one, bands=bands, everything=True).intrusions.records() for one in (set_of(), inside)
    )
    worst = [
        max(r["heard_dbm"] for r in rows if r["response"] == "IF breakthrough") for rows in (bare, trapped)
    ]
    # 70.0 and 99.6 dB at 28.3 MHz, the same to a tenth over the range
    assert worst[0] - worst[1] == pytest.approx(29.6, abs=0.1)

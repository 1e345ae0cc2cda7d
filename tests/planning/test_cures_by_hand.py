"""How cures are tried: what is carried out in which order, on which ranges, for whom; nobody is judged."""

from __future__ import annotations

from collections.abc import Sequence
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from spurplan.columns import Answer
from spurplan.errors import Refused
from spurplan.planning.cures import trials
from spurplan.planning.cures.changes import bandwidth_of, carried_out, fitted_q, trap_if_hz, with_one_circuit
from spurplan.planning.cures.cure_list import Cure, Fitted, shipped_cures
from spurplan.planning.cures.cures import with_efforts
from spurplan.planning.cures.trials import CureTrials, Trial, Tried
from spurplan.planning.cures.worst_station import Station, deciding_station
from spurplan.planning.outlook import Outlook, Together
from spurplan.receiver.changes import front_end_of
from spurplan.receiver.description import Circuits, CoupledPair, Receiver
from spurplan.reporting.views import cures as page
from spurplan.responses.listening.findings import Loss
from tests.planning.test_cure_findings import CURES, becomes, found, tried
from tests.planning.test_decision import finding

SET = Receiver.from_dict(
    {
        "name": "Cure bench",
        "antenna_gain": "-20 dB",
        "conversion": [{"injection": "high", "if": "465 kHz", "filter": {"bandwidth": "6 kHz"}}],
        "range": [
            {"name": "1", "coverage": ["3 MHz", "6 MHz"], "front_end": [{"circuits": 1, "q": 70}]},
            {
                "name": "2",
                "coverage": ["26 MHz", "30 MHz"],
                "front_end": [{"circuits": 2, "q": 55}],
                "mode": "cw",
            },
        ],
    }
)
BOTH = ("1", "2")


def of_trials(cures: Sequence[Cure], cover: tuple[int, int] | None = None, **more: Any) -> CureTrials:
    """Return trials of some cures, on a set that nobody judges."""
    some: Any = {cure.name: cure for cure in cures}
    nobody: Any = None
    return CureTrials(SET, BOTH, cover, nobody, nobody, nobody, some, **more)


# --- one change ------------------------------------------------------------------------------


def test_one_circuit_is_raised_and_the_others_stay() -> None:
    """The first that is worse; one that is as good stays; where there is none one is added."""
    raised = Circuits(circuits=1, q=300.0)
    two, one = Circuits(circuits=2, q=55.0), Circuits(circuits=1, q=55.0)
    good = Circuits(circuits=1, q=300.0)
    pair = CoupledPair(coupled_pair=1.0, q=50.0)
    assert with_one_circuit([two], 300.0, "x") == (raised, one)
    assert with_one_circuit([one, two], 300.0, "x") == (raised, two)
    assert with_one_circuit([good, two], 300.0, "x") == (good, raised, one)
    assert with_one_circuit([good], 300.0, "x") == (good,)
    assert with_one_circuit([pair], 300.0, "x") == (raised, pair)
    assert with_one_circuit([], 300.0, "x") == (raised,)


def test_a_filter_is_put_in_only_where_it_is_narrower_and_the_mode_is_its_own() -> None:
    """4.5 kHz in place of 6 for AM; on the range on which Morse is read that filter is not meant."""
    made = carried_out(SET, CURES["AM filter of 4.5 kHz"], BOTH)
    assert made is not None
    assert [bandwidth_of(made, one) for one in made.ranges] == [4_500, 6_000]
    morse = carried_out(SET, CURES["CW filter of 500 Hz"], BOTH)
    assert morse is not None
    assert [bandwidth_of(morse, one) for one in morse.ranges] == [6_000, 500]
    assert carried_out(made, CURES["AM filter of 4.5 kHz"], ("1",)) is None
    assert carried_out(SET, CURES["AM filter of 4.5 kHz"], ("2",)) is None


def test_a_circuit_is_raised_on_the_ranges_asked_about_alone() -> None:
    """The other range keeps its own."""
    made = carried_out(SET, CURES["Q multiplied circuit"], ("1",))
    assert made is not None
    assert [fitted_q(one) for one in made.ranges] == [CURES["Q multiplied circuit"].one_circuit_q, 55.0]
    more = carried_out(SET, CURES["one more tuned circuit"], ("2",))
    assert more is not None
    circuits = [sum(e.circuits for e in front_end_of(one) if isinstance(e, Circuits)) for one in more.ranges]
    assert circuits == [1, 3]


def test_a_box_in_the_lead_is_on_the_ranges_it_is_meant_for() -> None:
    """One box for all that want the same; a station's trap nowhere while none is known."""
    trap = carried_out(SET, CURES["IF trap"], BOTH)
    assert trap is not None
    (box,) = trap.ahead
    assert box.ranges is None
    one = carried_out(SET, CURES["IF trap"], ("2",))
    assert one is not None
    assert one.ahead[0].ranges == ("2",)
    assert carried_out(SET, CURES["trap for a station"], BOTH) is None
    known = carried_out(SET, CURES["trap for a station"], BOTH, None, 4_000_000)
    assert known is not None
    assert known.ahead[0].elements[0].trap_hz == 4_000_000  # type: ignore[union-attr]
    # the lead has boxes already: this one stands inside of them
    second = carried_out(trap, CURES["10 dB pad"], BOTH)
    assert second is not None
    assert [one.gain_db for one in second.ahead] in ([0.0, -10.0], [-10.0, 0.0])


def test_a_tuner_regains_what_a_short_aerial_loses_up_to_its_own() -> None:
    """20 dB short: as much as the tuner gives, and none of it where the aerial is not short."""
    tuner = CURES["aerial tuner"]
    assert tuner.regains_db is not None
    gains = [tuner.box(Fitted(465_000, None), short_db).gain_db for short_db in (-3.0, 0.0, 5.0, 99.0)]
    assert gains == [tuner.gain_db, tuner.gain_db, tuner.gain_db + 5.0, tuner.gain_db + tuner.regains_db]


def test_another_if_is_that_of_the_ranges_asked_about() -> None:
    """The trap then stands on the new one."""
    made = carried_out(SET, CURES["another IF"], BOTH, 1_600_000)
    assert made is not None
    assert [trap_if_hz(made, name) for name in BOTH] == [1_600_000, 1_600_000]
    assert [trap_if_hz(SET, name) for name in BOTH] == [465_000, 465_000]
    assert [fitted_q(one) for one in SET.ranges] == [70.0, 55.0]


# --- which of them, and in which order -------------------------------------------------------


def test_a_design_is_made_converter_first_then_if_then_inside_then_lead() -> None:
    """Whatever order its parts are listed in: a trap on the IF has to know which IF."""
    every = of_trials(list(CURES.values()))
    (one, *_) = every.ways_of((CURES["another IF with its trap and a low-pass"],))
    assert one.if_hz is not None
    traps = [
        element.trap_hz
        for box in one.receiver.ahead
        for element in box.elements
        if hasattr(element, "trap_hz")
    ]
    assert traps == [one.if_hz]
    assert one.details[0].endswith("Hz")
    backwards = CURES["another IF"].unchecked(name="backwards", if_hz=(), parts=("IF trap", "another IF"))
    (turned, *_) = of_trials([*CURES.values(), backwards]).ways_of((backwards,))
    assert turned.receiver.ahead[0].elements[0].trap_hz == turned.if_hz  # type: ignore[union-attr]
    assert one.phrase.startswith(f"an IF of {one.details[0]} with its trap")


def test_each_if_that_stands_clear_is_a_way_of_its_own() -> None:
    """None inside a range that would have it; none at all is refused with the reason."""
    other = CURES["another IF"]
    ways = list(of_trials([other]).ways_of((other,)))
    ifs = [way.if_hz for way in ways]
    assert ifs == [hz for hz in other.if_hz if not 3_000_000 <= hz <= 6_000_000]
    assert len(ifs) < len(other.if_hz)
    inside = other.unchecked(if_hz=(4_000_000, 5_000_000))
    with pytest.raises(Refused, match="lies inside a range"):
        list(of_trials([inside]).ways_of((inside,)))
    # the one that was taken already stays, whatever is done besides
    assert [way.if_hz for way in of_trials([other]).ways_of((other,), 1_600_000)] == [1_600_000]


def test_why_a_cure_was_not_tried_is_said() -> None:
    """No stretch, no station, a filter as narrow, not meant for these ranges; nothing of another mode."""
    narrow = CURES["AM filter of 4.5 kHz"].unchecked(name="wide filter", bandwidth_hz=9_000)
    low = CURES["high-pass"].unchecked(name="for low ranges", to_hz=2_000_000)
    fm = CURES["high-pass"].unchecked(name="for FM", modes=("fm",))
    names = ("crystal converter in front", "trap for a station", "IF trap")
    some = of_trials([*(CURES[name] for name in names), narrow, low, fm])
    ways = some.singles()
    assert [len(one) for one in ways] == [0, 0, 1, 0, 0, 0]
    assert [one.text for one in some.not_tried] == [
        "crystal converter in front: needs --cover LOW:HIGH",
        "trap for a station: no single station off the IF spoils enough of it",
        "wide filter: the filter is as narrow",
        "for low ranges: not meant for these ranges",
    ]


def test_on_top_of_a_cure_comes_nothing_of_its_group_and_nothing_twice() -> None:
    """No second preselector on a preselector, no design, and not the same again."""
    listed = [
        CURES[name]
        for name in (
            "one more tuned circuit", "preselector of two circuits", "IF trap", "low-pass",
            "IF trap and medium-wave band-stop", "medium-wave band-stop",
        )
    ]  # fmt: skip
    some = of_trials(listed)
    done = Trial((CURES["preselector of two circuits"],), SET, BOTH)
    besides = [ways[0].last_name for ways in some.on_top(done)]
    assert besides == ["IF trap", "low-pass", "medium-wave band-stop"]
    design = Trial((CURES["IF trap and medium-wave band-stop"],), SET, BOTH)
    assert [ways[0].last_name for ways in some.on_top(design)] == [
        "one more tuned circuit", "preselector of two circuits", "low-pass"
    ]  # fmt: skip


def test_a_design_of_which_one_part_does_it_all_is_left_out() -> None:
    """Unless together they gain two points more than each part alone."""
    design = "IF trap and medium-wave band-stop"
    parts = [tried("IF trap", becomes(0.8)), tried("medium-wave band-stop", becomes(0.6))]
    some = of_trials([CURES[name] for name in ("IF trap", "medium-wave band-stop", design)])
    assert len(some.without_idle([*parts, tried(design, becomes(0.83))])) == 3
    assert some.not_tried == []
    assert some.without_idle([*parts, tried(design, becomes(0.81))]) == parts
    assert [one.text for one in some.not_tried] == [f"{design}: no better than IF trap"]


def test_trials_are_judged_in_lots_and_come_back_each_with_its_ranges(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Every range of every trial once, told of as it goes; the dial that is wanted is that of the set."""
    asked: list[int] = []
    told: list[tuple[int, int]] = []

    def outlooks(pairs: Sequence[Any], *_: Any) -> list[Outlook]:
        asked.append(len(pairs))
        return [Outlook(finding(range=one.name), np.array([float(one.name)])) for _, one in pairs]

    monkeypatch.setattr(trials, "outlooks", outlooks)
    some = of_trials([], progress=lambda done, every: told.append((done, every)))
    got = some.tried([Trial((), SET, BOTH, ()) for _ in range(20)] + [Trial((), SET, ("2",), ())])
    assert asked == [32, 9]
    assert told == [(32, 41), (41, 41)]
    assert [len(one.outlook.outlooks) for one in got] == [2] * 20 + [1]
    assert [part.finding.range for part in got[0].outlook.parts] == ["1", "2"]
    assert got[0].outlook.width_hz == 3_000_001 + 4_000_001
    covered = of_trials([], (5_000_000, 27_000_000))
    assert covered.tried([Trial((), SET, BOTH, ())])[0].outlook.width_hz == 1_000_001 + 1_000_001


# --- the station that a trap is for ----------------------------------------------------------


def heard(*rows: tuple[int, int, float, int], count: int = 100, wide_hz: int = 0) -> Any:
    """Return what becomes of a dial: (setting, occupant, expected number, partner) of each arrival."""

    class Some(SimpleNamespace):
        def __len__(self) -> int:
            return len(self.place)

        def take(self, at: Any) -> Any:
            return Some(**{name: value[at] for name, value in vars(self).items()})

        def expected(self, spread_db: Any) -> Any:
            return self.number

        def total_spread_db(self) -> Any:
            return self.place

    place, occupant, number, partner = (np.array(one) for one in zip(*rows, strict=True))
    arrivals = Some(
        place=place, occupant=occupant, number=number, partner=partner, single=np.ones(len(rows), dtype=bool)
    )
    occupants = SimpleNamespace(
        low_hz=np.array([5_000_000, 9_000_000, 12_000_000]),
        high_hz=np.array([5_000_000, 9_000_000, 12_000_000 + wide_hz]),
        label_of=lambda at: ["Light", "", "Mast"][at],
    )
    return SimpleNamespace(
        arrivals=arrivals, ways=SimpleNamespace(occupants=occupants), dials=SimpleNamespace(count=count)
    )


CERTAIN = 50.0


def test_the_station_that_spoils_most_settings_decides() -> None:
    """By the chance at each setting, of all settings; who takes less than a hundredth is worth no trap."""
    two = heard(
        (0, 0, CERTAIN, -1), (1, 0, CERTAIN, -1), (2, 2, CERTAIN, -1), (3, 2, CERTAIN, -1), (4, 2, 0.1, -1)
    )
    got = deciding_station(two)
    assert got is not None
    assert (got.label, got.hz) == ("Mast", 12_000_000)
    assert got.share == pytest.approx((2 + 1 - np.exp(-0.1)) / 100)
    assert deciding_station(heard((0, 1, CERTAIN, -1))) == Station("an unnamed station", 9_000_000, 0.01)
    assert deciding_station(heard((0, 1, 3.0, -1))) is None
    assert deciding_station(heard((0, 1, CERTAIN, -1), count=101)) is None


def test_a_mast_that_spreads_and_a_pair_are_no_single_station() -> None:
    """Wider than an eightieth of its frequency no trap takes it out; a product of two has two causes."""
    assert deciding_station(heard((0, 2, CERTAIN, -1), wide_hz=150_000)) is not None
    assert deciding_station(heard((0, 2, CERTAIN, -1), wide_hz=160_000)) is None
    assert deciding_station(heard((0, 2, CERTAIN, 0))) is None
    # what arrives on another candidate is no matter of this one
    assert deciding_station(heard((100, 2, CERTAIN, -1))) is None
    assert deciding_station(heard((100, 2, CERTAIN, -1)), 1) is not None


# --- efforts, and the page -------------------------------------------------------------------


def test_efforts_are_set_by_name_in_numbers_above_nothing() -> None:
    """As a number or its text; the others keep theirs; nonsense is refused all at once."""
    listed = [CURES["IF trap"], CURES["10 dB pad"]]
    assert [cure.effort for cure in with_efforts(listed, {"IF trap": "2.5"})] == [2.5, 0.5]
    assert [cure.effort for cure in with_efforts(listed, {"10 dB pad": 1_000})] == [1.0, 1_000.0]
    assert with_efforts(listed, None) == tuple(listed)
    with pytest.raises(Refused) as refused:
        with_efforts(listed, {"no cure": 1, "IF trap": 0, "10 dB pad": 1_001})
    assert [fault.rule for fault in refused.value.faults] == [
        "is no cure", "is no sensible effort", "is no sensible effort"
    ]  # fmt: skip


def test_the_page_lists_what_is_offered_with_its_figures() -> None:
    """Share and span of each, evenings, who is left; notes once a cure, what was not tried at the end."""
    left = becomes(
        0.9, *np.linspace(0.8, 1.0, 11), losses=(Loss("image", "Mast", 0.04), Loss("half-IF", "Light", 0.02))
    )
    some = [tried("IF trap", left), tried("10 dB pad", becomes(0.5, *[0.5] * 11))]
    missing = trials.NotTried("low-pass", "not meant for these ranges")
    findings = found(becomes(0.5, *[0.5] * 11), some, not_tried=(missing,))
    got = page.view(Answer("Cure bench", {}, (), (), {}, findings), "range 4: a line\nand another")
    assert got.heading == findings.sentences
    assert got.described == ("Cure bench", "range 4: a line", "and another")
    first, second = got.tables["cures"].records()
    assert (first["rank"], first["cure"], first["effort"]) == (1, "IF trap", 1.0)
    assert (first["usable_share"], first["usable_share_low"], first["usable_share_high"]) == pytest.approx(
        (0.9, 0.82, 0.98)
    )
    assert (first["left"], second["left"]) == ("Mast by image, 4 %; 1 more", None)
    assert got.remarks == (
        f"IF trap: {CURES['IF trap'].note}.", f"10 dB pad: {CURES['10 dB pad'].note}.",
        "Not tried, low-pass: not meant for these ranges.",
    )  # fmt: skip
    assert page.UNKNOWN not in got.layouts["cures"]
    unknown = found(becomes(0.5, unknown=0.1), [tried("10 dB pad", becomes(0.5))])
    assert page.UNKNOWN in page.view(Answer("Cure bench", {}, (), (), {}, unknown)).layouts["cures"]
    assert isinstance(findings.present, Together)
    assert isinstance(some[0], Tried)
    assert shipped_cures()

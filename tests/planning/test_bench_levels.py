"""Generator levels for constant output: the engine's heard level turned round."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spurplan.errors import BadValue
from spurplan.planning.bench.generator import dbm_volts, level_text
from spurplan.planning.bench.injection import above_wanted_db, injections, parts_of
from spurplan.receiver.chain import compile_chains
from spurplan.receiver.description import Receiver
from spurplan.responses.image_rejection import flipped, route_rejection_db
from spurplan.responses.levels import heard_dbm
from spurplan.responses.lines import lines_of_routes
from spurplan.units import parse_generator_level
from tests.planted import valve_set
from tests.receiver_strategies import receivers


@settings(max_examples=60, deadline=None)
@given(receivers(), st.integers(0, 2**32 - 1), st.floats(-120.0, -40.0))
def test_that_level_is_heard_as_loud_as_the_wanted_signal(
    receiver: Receiver, seed: int, reference: float
) -> None:
    """Whatever the route, order and pickup: what the generator must give comes out at the reference."""
    rng = np.random.default_rng(seed)
    for one in receiver.ranges:
        chains = compile_chains([(receiver, one)])[0]
        n = 40
        steps = np.stack(
            [
                rng.integers(-4, 5, (n, chains.conversions)),
                rng.choice([-2, -1, 1, 2], (n, chains.conversions)),
            ],
            axis=2,
        )
        dial = rng.integers(one.low_hz, one.high_hz + 1, n)
        signals = injections(chains, steps, dial, np.full(n, reference))
        signals = signals.take(signals.works)
        level = reference + above_wanted_db(parts_of(chains), signals)
        many = chains.take(np.zeros(len(signals), dtype=np.int64))
        heard = heard_dbm(
            many,
            lines_of_routes(many, signals.steps),
            np.arange(len(signals)),
            signals.generator_hz.astype(np.float64),
            level,
            signals.dial_hz,
        )
        np.testing.assert_allclose(heard, reference, atol=1e-6)


def test_a_first_order_response_needs_its_rejection_more() -> None:
    """For an image the level above the wanted signal is the image rejection, at any reference."""
    receiver = valve_set(q=45.0)
    chains = compile_chains([(receiver, receiver.ranges[0])])[0]
    dial = np.array([12_000_000, 21_200_000, 29_000_000])
    steps = np.repeat(flipped(chains, 0), 3, axis=0)
    rejection = route_rejection_db(chains, flipped(chains, 0), dial[None])[0]
    for reference in (-110.0, -60.0):
        signals = injections(chains, steps, dial, np.full(3, reference))
        np.testing.assert_allclose(above_wanted_db(parts_of(chains), signals), rejection, atol=1e-3)


def test_a_second_order_response_needs_half_a_decibel_a_decibel() -> None:
    """Half-IF rises 2 dB a dB: 10 dB more output take 5 dB, so it falls 5 dB against the wanted signal."""
    receiver = valve_set()
    chains = compile_chains([(receiver, receiver.ranges[0])])[0]
    steps, dial = np.array([[[2, -2]]] * 2), np.array([20_000_000] * 2)
    signals = injections(chains, steps, dial, np.array([-100.0, -90.0]))
    above = above_wanted_db(parts_of(chains), signals)
    assert above[0] - above[1] == pytest.approx(5.0, abs=1e-9)
    # exactly between the signal and the oscillator
    assert signals.generator_hz.tolist() == [20_232_500] * 2


@pytest.mark.parametrize(
    ("text", "dbm"),
    [
        # P = U^2/50: 50 mV across 50 ohm is 50 uW (arithmetic)
        ("0.1 V EMF", -13.0103),
        ("100 mV", -13.0103),
        ("50 mV PD", -13.0103),
        # S9: 50 uV in 50 ohm is -73 dBm. IARU Region 1 Technical Recommendation R.1 (rounded there)
        ("50 uV PD", -73.01),
        ("-13 dBm", -13.0),
        # 1 uV across 50 ohm: 10 log10(1e-12/50) + 30
        ("2 uV EMF", -106.99),
    ],
)
def test_generator_levels_in_every_marking(text: str, dbm: float) -> None:
    """A bare voltage is the EMF, twice the PD across a matched load."""
    assert parse_generator_level(text) == pytest.approx(dbm, abs=0.01)


def test_a_level_is_said_in_all_three_markings() -> None:
    """dBm, PD and EMF of one level."""
    assert level_text(-13.0103) == "-13.0 dBm, 50 mV PD into 50 ohm, 0.1 V EMF"
    assert dbm_volts(-13.0103) == pytest.approx(0.05, rel=1e-4)


@pytest.mark.parametrize("text", ["0 V", "S9", "S9+20", "10", "-5 V", "0,1 V", "1e-3 V", "nan dBm", ""])
def test_other_texts_are_no_generator_level(text: str) -> None:
    """S units, signs, exponents and bare numbers are refused with the forms that are taken."""
    with pytest.raises(BadValue, match=r"0\.1 V EMF, 50 mV PD or -13 dBm|more than 0 V"):
        parse_generator_level(text)

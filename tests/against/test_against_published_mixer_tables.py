"""The single-balanced families against measured product tables in print.

A microwave mixer maker's question-and-answer note on two-diode mixers, oscillator 0 dBm, signal -10 dBm:
levels in dB below the 1 x 1 product, n the signal's harmonic, m the oscillator's, the
same for sum and difference. The families' defaults were chosen on these tables, so this is the quality of
a fit, not a prediction.
"""

from __future__ import annotations

import numpy as np

from spurplan.receiver.description import Mixer
from spurplan.receiver.mixers import compile_mixer
from tests.outside import CHOSEN_ON_IT, ROUND_TRIP, Differences, against

SIGNAL_DBM = -10.0
# rows n = 1, 2, 3; columns m = 1, 2, 3
SIGNAL_BALANCED = np.array([[0, 17, 15], [38, 42, 41], [45, 46, 41]])
OSCILLATOR_BALANCED = np.array([[0, 30, 15], [28, 44, 28], [49, 53, 40]])
# rms over the eight cells beside the wanted one; the largest is 8 dB, the second oscillator harmonic
TABLES = [("single_balanced_rf", SIGNAL_BALANCED, 3.6), ("single_balanced_lo", OSCILLATOR_BALANCED, 0.6)]
N, M = np.mgrid[1:4, 1:4]

NOTE = "microwave mixer maker's note, two-diode mixers"


@against(
    NOTE,
    "single-balanced families, product by product",
    unit="dB",
    tolerance=8.1,
    apart=CHOSEN_ON_IT,
)
def test_the_default_figures_stand_within_the_stated_error() -> Differences:
    for family, table, rms_db in TABLES:
        mixer = compile_mixer(Mixer(family=family, lo_dbm=0.0))
        error = mixer.suppression_db(M, N, SIGNAL_DBM) - table
        assert error[0, 0] == 0.0
        assert np.sqrt(np.mean(error.ravel()[1:] ** 2)) < rms_db
        yield family, error.ravel()[1:]


@against(
    NOTE,
    "those products given as a table of the user",
    unit="dB",
    tolerance=0.0,
    apart=ROUND_TRIP,
)
def test_a_table_given_as_measured_comes_back_cell_by_cell() -> Differences:
    """At the level of the table exactly, and (n - 1) dB deeper per dB of less signal."""
    for family, table, _ in TABLES:
        cells = zip(M.ravel().tolist(), N.ravel().tolist(), table.ravel().tolist(), strict=True)
        rows = tuple((m, n, float(db), SIGNAL_DBM) for m, n, db in cells)
        mixer = compile_mixer(Mixer(family=family, lo_dbm=0.0, table_rows=rows))
        yield family, mixer.suppression_db(M, N, SIGNAL_DBM) - table
        yield f"{family}, weaker", mixer.suppression_db(M, N, SIGNAL_DBM - 20) - table - 20.0 * (N - 1)


@against(
    "E. W. Herold, Proc. IRE 30 (1942)",
    "valve on oscillator harmonics 1 to 3",
    unit="dB",
    tolerance=0.4,
    apart=CHOSEN_ON_IT,
)
def test_valves_convert_on_three_harmonics_as_measured() -> Differences:
    """28, 14 and 9 per cent of the peak transconductance: 0, 6.0 and 9.9 dB."""
    measured = -20 * np.log10(np.array([28, 14, 9]) / 28)
    found = compile_mixer(Mixer(family="valve_multiplicative")).suppression_db(np.arange(1, 4), 1, -50.0)
    yield "harmonics 1 to 3", found - measured

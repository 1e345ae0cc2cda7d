"""The single-balanced families against measured product tables in print.

A microwave mixer maker's question-and-answer note on two-diode mixers, oscillator 0 dBm, signal -10 dBm:
levels in dB below the 1 x 1 product, n the signal's harmonic, m the oscillator's, the
same for sum and difference. The families' defaults were chosen on these tables, so this is the quality of
a fit, not a prediction.
"""

from __future__ import annotations

import numpy as np
import pytest

from spurplan.receiver.description import Mixer
from spurplan.receiver.mixers import compile_mixer

SIGNAL_DBM = -10.0
# rows n = 1, 2, 3; columns m = 1, 2, 3
SIGNAL_BALANCED = np.array([[0, 17, 15], [38, 42, 41], [45, 46, 41]])
OSCILLATOR_BALANCED = np.array([[0, 30, 15], [28, 44, 28], [49, 53, 40]])
# over the eight cells beside the wanted one; the largest is 8 dB, the second oscillator harmonic
TABLES = [("single_balanced_rf", SIGNAL_BALANCED, 3.6), ("single_balanced_lo", OSCILLATOR_BALANCED, 0.6)]
N, M = np.mgrid[1:4, 1:4]


@pytest.mark.parametrize(("family", "table", "rms_db"), TABLES, ids=[row[0] for row in TABLES])
def test_the_default_figures_stand_within_the_stated_error(
    family: str, table: np.ndarray, rms_db: float
) -> None:
    mixer = compile_mixer(Mixer(family=family, lo_dbm=0.0))
    error = mixer.suppression_db(M, N, SIGNAL_DBM) - table
    assert error[0, 0] == 0.0
    assert np.sqrt(np.mean(error.ravel()[1:] ** 2)) < rms_db
    assert np.abs(error).max() < 8.1


@pytest.mark.parametrize(("family", "table", "rms_db"), TABLES, ids=[row[0] for row in TABLES])
def test_a_table_given_as_measured_comes_back_cell_by_cell(
    family: str, table: np.ndarray, rms_db: float
) -> None:
    """At the level of the table exactly, and (n - 1) dB deeper per dB of less signal."""
    cells = zip(M.ravel().tolist(), N.ravel().tolist(), table.ravel().tolist(), strict=True)
    rows = tuple((m, n, float(db), SIGNAL_DBM) for m, n, db in cells)
    mixer = compile_mixer(Mixer(family=family, lo_dbm=0.0, table_rows=rows))
    assert mixer.suppression_db(M, N, SIGNAL_DBM).tolist() == table.tolist()
    assert (mixer.suppression_db(M, N, SIGNAL_DBM - 20) - table).tolist() == (20.0 * (N - 1)).tolist()

"""The normal law, held to scipy's."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.stats import norm

from spurplan.normal_law import (
    density,
    density_at,
    fast_share_below,
    log_share_below,
    share_below,
    tail,
    tail_of_many,
)

Z = np.linspace(-6, 6, 1_201)


def test_one_score_is_exact_far_out_too() -> None:
    """To the last digits, where a share is 1e-100 as well."""
    for score in (-21.0, -8.5, -1.0, 0.0, 0.3, 5.0):
        assert share_below(score) == pytest.approx(norm.cdf(score), rel=1e-12)
        assert density_at(score) == pytest.approx(norm.pdf(score), rel=1e-12)


@pytest.mark.parametrize(("score", "relative"), [(2.0, 1e-11), (-29.9, 1e-11), (-30.1, 3e-6), (-200.0, 1e-8)])
def test_the_logarithm_goes_on_where_a_share_is_too_small_for_a_number(score: float, relative: float) -> None:
    """Past -30 what is left out of the series is 1 in score^2, of a logarithm of half that."""
    assert log_share_below(score) == pytest.approx(norm.logcdf(score), rel=relative)


def test_the_tail_is_that_of_the_normal_law() -> None:
    """To 1e-7, as its source says; both sides."""
    assert_allclose(tail(Z), norm.sf(Z), atol=1e-7)
    assert_allclose(tail_of_many(Z), norm.sf(Z), atol=1e-6)
    assert_allclose(density(Z), norm.pdf(Z), rtol=1e-12)


def test_the_fast_form_is_near_enough() -> None:
    """Within 3e-4, and of the shape it is given."""
    assert np.abs(fast_share_below(Z) - norm.cdf(Z)).max() < 3e-4
    assert fast_share_below(Z.reshape(-1, 1)).shape == (len(Z), 1)

"""What readings of an image mean, in a sentence: which is told as the worst, and what it is put down to."""

from __future__ import annotations

from itertools import permutations
from typing import Any

import pytest

from spurplan.planning.bench.image_readings import RangeRejection, Rejection
from spurplan.reporting.views.bench import _rejection_said, _shortfall_said


def image(dial_mhz: int, rejection_db: float, fair_db: float | None = 40.0, **more: Any) -> Rejection:
    """Return an image read on a dial, which sound circuits leave within 3 dB of what is fair."""
    said: dict[str, Any] = {
        "number": dial_mhz, "range": "a", "dial_hz": dial_mhz * 1_000_000, "response": "image",
        "at_least": False, "described_db": 50.0, "chance_db": 3.0, "tells_q": True, "set_aside": False,
    }  # fmt: skip
    return Rejection(rejection_db=rejection_db, fair_db=fair_db, **(said | more))


def of(*images: Rejection) -> RangeRejection:
    return RangeRejection("a", images, (), 2)


def said(*images: Rejection) -> str:
    own = of(*images)
    assert own.least_image is not None
    return _shortfall_said(own, own.least_image)


def test_the_worst_shortfall_is_the_farthest_below_what_is_due_there() -> None:
    """10 dB short at 6 MHz, 20 at 9, 5 at 15; the least image, at 12 MHz, is fair. In any order."""
    some = (image(6, 50.0, 60.0), image(9, 20.0, 40.0), image(12, 19.0, 20.0), image(15, 45.0, 50.0))
    for images in permutations(some):
        text = said(*images)
        assert text.startswith("; 20 dB below it at 9 MHz"), text
        assert "6 MHz" not in text
        assert "15 MHz" not in text


def test_where_the_least_image_is_short_itself_no_other_is_told_first() -> None:
    """Its own shortfall stands before, and is not said twice."""
    own = of(image(6, 20.0), image(9, 30.0))
    assert own.least_image is own.images[0]
    assert " dB below it at " not in said(*own.images)
    assert _rejection_said(own).startswith(
        "Range a: image 20 dB at 6 MHz, 20 dB below what two circuits should give"
    )


@pytest.mark.parametrize(
    ("images", "meaning"),
    [
        # common practice: all along the coils, at one end the tracking, by no Q at all the wiring
        ((image(6, 20.0), image(9, 22.0)), ", and short all along: damped coils, or a circuit out of line"),
        ((image(6, 20.0), image(9, 41.0)), ", not so at 9 MHz: tracking first, then a damped coil"),
        ((image(6, 20.0),), ": a damped coil, or tracking"),
        ((image(6, 20.0, tells_q=False),), ": stray coupling round the circuits first, then a damped coil"),
        ((image(6, 20.0, tells_q=False), image(9, 21.0, tells_q=False)),
         ": stray coupling round the circuits first, then a damped coil"),
        # one that tells of a Q is enough to look at the coils
        ((image(6, 20.0, tells_q=False), image(9, 21.0)),
         ", and short all along: damped coils, or a circuit out of line"),
        ((image(6, 38.0), image(9, 44.0)), ""),
        ((image(6, 20.0, at_least=True),), ""),
        ((image(6, 20.0, None),), ""),
    ],
)  # fmt: skip
def test_a_shortfall_is_put_down_to_where_it_is(images: tuple[Rejection, ...], meaning: str) -> None:
    """Short at every setting, at one of several, or where no circuit tells."""
    assert said(*images) == meaning


def test_what_is_fair_and_what_is_above_it_is_called_so() -> None:
    """Within chance fair; beyond it so many decibels above or below, in whole ones; not heard a bound."""
    fair = _rejection_said(of(image(6, 41.0)))
    assert "image 41 dB at 6 MHz, what two circuits should give" in fair
    assert fair.endswith(": 40.")
    assert "image 46.5 dB at 6 MHz, 6 dB above what two circuits" in _rejection_said(of(image(6, 46.5)))
    assert _rejection_said(of(image(6, 30.0, at_least=True))) == "Range a: image better than 30 dB."
    one = RangeRejection("a", (image(6, 20.0),), (image(6, 70.0, None, response="IF breakthrough"),), 1)
    assert ", 20 dB below what one circuit should give" in _rejection_said(one)
    assert _rejection_said(one).endswith(". IF breakthrough 70 dB at 6 MHz.")


def test_an_image_that_was_set_aside_is_told_with_its_own_shortfall() -> None:
    """By its number on the sheet, to be read again; it makes no verdict on the coils."""
    own = of(image(6, 41.0), image(9, 15.0, set_aside=True))
    text = _rejection_said(own)
    assert "No. 9 has 15 dB at 9 MHz, 25 dB below what is due there" in text
    assert "coil" not in text

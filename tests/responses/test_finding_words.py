"""What is said of a range, a setting and a stretch: which figure stands in which sentence, from where on."""

from __future__ import annotations

from typing import Any

import pytest

from spurplan.responses.listening.findings import (
    CoverFinding,
    Loss,
    Loudest,
    SettingFinding,
    WeakImage,
    at_text,
    by_way_of,
    nobody_tells,
)
from tests.planning.test_decision import finding

IMAGE = (Loss("image", "Mast", 0.3), Loss("half-IF", "Light", 0.1))


def of_range(**figures: Any) -> Any:
    """Return a range of which each share is another figure."""
    said = {
        "range": "4", "usable": 0.61, "usable_low": 0.52, "usable_high": 0.73, "clear": 0.24,
        "hour": "typical",
    }  # fmt: skip
    return finding(6_000_000, 18_000_000, **(said | figures))


def test_a_range_is_said_with_its_shares_each_in_its_place() -> None:
    """How much, how sure, how much of it whatever is on the air."""
    assert of_range().sentence == (
        "Range 4: at a typical hour 61 % of it is usable (52 to 73 %), 24 % is clear whatever is on the air."
    )
    assert of_range(cover=True).usable_said.startswith("6 MHz to 18 MHz: at a typical hour")
    busy = of_range(busy_usable=0.47)
    assert "(52 to 73 %), on a busy evening 47 %, 24 % is clear whatever is on the air." in busy.sentence
    hour = of_range(busy_usable=0.47, this_hour=True).sentence
    assert hour == (
        "Range 4: at that hour 61 % of it is usable (52 to 73 %), at that hour of a busy day 47 %, "
        "24 % is clear whatever is on the air then."
    )
    assert of_range(hour="everybody").sentence == (
        "Range 4: with everybody on the air 61 % of it is usable (52 to 73 %)."
    )
    assert of_range(usable_low=0.61, usable_high=0.61).sentence.startswith(
        "Range 4: at a typical hour 61 % of it is usable, 24 %"
    )
    assert of_range(clear=0.0).sentence.endswith(", none of it is clear whatever is on the air.")
    assert of_range(clear=1.0).sentence.endswith(", all of it is clear whatever is on the air.")
    assert of_range(clear=0.001).sentence.endswith(", under 1 % is clear whatever is on the air.")
    assert of_range(usable=0.0).sentence.startswith("Range 4: at a typical hour none of it is usable")
    assert of_range().width_hz == 12_000_001


def test_when_is_said_for_each_hour_of_the_year_and_of_a_month() -> None:
    """Everybody on the air is that at any hour."""
    said = {
        hour: (at_text(hour, this_hour=False), at_text(hour, this_hour=True)) for hour in ("typical", "busy")
    }
    assert said == {
        "typical": ("at a typical hour", "at that hour"),
        "busy": ("on a busy evening", "at that hour of a busy day"),
    }
    assert at_text("everybody", this_hour=True) == at_text("everybody", this_hour=False)


def test_where_single_stations_decide_they_are_named_in_place_of_a_span() -> None:
    """Three at most, the last with "or"."""
    assert of_range(decided_by=("Mast",)).usable_said == (
        "Range 4: at a typical hour 61 % of it is usable, 24 % is clear whatever is on the air. "
        "It depends on whether Mast is on."
    )
    said = of_range(decided_by=("Mast", "Light", "Buoy", "Relay")).usable_said
    assert said.endswith("It depends on whether Mast, Light or Buoy is on.")
    assert of_range(decided_by=("Mast", "Light")).usable_said.endswith("whether Mast or Light is on.")


def test_nobody_can_tell_where_all_but_two_hundredths_is_unknown() -> None:
    """From there on no share is said; under it the part that is unknown is, from two hundredths on."""
    assert of_range(unknown=0.981).sentence == "Range 4: nobody can tell; its images lie beyond the tables."
    assert of_range(unknown=0.98).sentence.endswith(" 98 % is unknown: images beyond the tables.")
    assert of_range(unknown=0.02).lost_said == "2 % is unknown: images beyond the tables."
    assert of_range(unknown=0.019).lost_said == ""


def test_who_takes_most_is_said_from_two_hundredths_of_intruders_on() -> None:
    """And who comes loudest, where that is by another way."""
    assert of_range(intruders=0.02, losses=IMAGE).lost_said == "Most is lost by way of the image, Mast first."
    assert of_range(intruders=0.019, losses=IMAGE).lost_said == ""
    assert of_range(intruders=0.4).lost_said == ""
    loud = of_range(intruders=0.4, losses=IMAGE, loudest=Loudest("breakthrough", "Coast", 20.0))
    assert loud.lost_said == (
        "Most is lost by way of the image, Mast first; loudest is Coast by way of the breakthrough."
    )
    alike = of_range(intruders=0.4, losses=IMAGE, loudest=Loudest("image", "Coast", 20.0))
    assert alike.lost_said == "Most is lost by way of the image, Mast first."


def test_noise_is_said_where_it_takes_as_much_as_intruders() -> None:
    """The place is to blame from half of it on; else the set is deaf."""
    place = "is lost to noise: the place is to blame, not the set."
    deaf = "is lost to noise: the set is deaf there."
    assert of_range(noise=0.3, place=0.15, intruders=0.3).lost_said == f"30 % {place}"
    assert of_range(noise=0.3, place=0.14, intruders=0.3).lost_said == f"30 % {deaf}"
    assert of_range(noise=0.3, place=0.3, intruders=0.31).lost_said == ""
    assert of_range(noise=0.02, place=0.0).lost_said == f"2 % {deaf}"
    assert of_range(noise=0.019, place=0.0).lost_said == ""


def test_a_way_in_is_one_of_its_kind_but_for_a_product() -> None:
    """Two stations at once come by no route of the set."""
    assert by_way_of("image") == "by way of the image"
    assert by_way_of("mixer product") == "by way of a mixer product"
    assert by_way_of("intermodulation") == "by intermodulation"


# --- a weak image ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("bottom", "top", "where"),
    [
        (False, False, "between 12 MHz and 18 MHz"),
        (True, False, "below 18 MHz"),
        (False, True, "above 12 MHz"),
        (True, True, ""),
    ],
)
def test_where_a_dial_is_not_to_be_trusted(bottom: bool, top: bool, where: str) -> None:
    """Rounded outward to two figures, so that nothing bad is left out."""
    assert WeakImage(12_345_000, 17_001_000, bottom, top, 12.4, None).where == where


def test_why_a_dial_is_not_to_be_trusted() -> None:
    """By how much, and from which side and how far the strangers come."""
    above = WeakImage(12_000_000, 17_000_000, False, False, 12.4, 930_000)
    below = WeakImage(12_000_000, 17_000_000, False, False, 12.6, -930_000)
    assert above.why == "image down to 12 dB, strong stations 930 kHz above come in too"
    assert below.why == "image down to 13 dB, strong stations 930 kHz below come in too"
    varies = WeakImage(12_000_000, 17_000_000, False, False, 12.4, None)
    assert varies.why == "image down to 12 dB, strong stations on it come in too"


# --- a setting -------------------------------------------------------------------------------


def setting(chance: float, state: str = "", **more: Any) -> str:
    return SettingFinding("4", 14_200_000, "typical", chance, -80.0, state, **more).sentence


def test_a_setting_is_said_in_times_of_a_hundred() -> None:
    """Never none of a hundred, and all only from 99.5 on; who spoils it from a half in a hundred on."""
    assert (
        setting(0.913, losses=IMAGE)
        == "14.2 MHz: usable 91 times in 100. Mast by way of the image, 30 times in 100."
    )
    assert setting(0.913, among_several=True) == "14.2 MHz on range 4: usable 91 times in 100."
    assert setting(0.0) == "14.2 MHz: usable once in 100."
    assert setting(0.995) == "14.2 MHz: usable practically always."
    assert setting(0.994) == "14.2 MHz: usable 99 times in 100."
    rare = (Loss("image", "Mast", 0.005),)
    assert setting(0.9, losses=rare).endswith("Mast by way of the image, once in 100.")
    assert setting(0.9, losses=(Loss("image", "Mast", 0.0049),)) == "14.2 MHz: usable 90 times in 100."


def test_a_setting_that_hangs_on_nobody_says_why() -> None:
    """Beyond the tables, on an IF, or under the noise."""
    assert setting(0.5, "unknown") == "14.2 MHz: nobody can tell; an image lies beyond the tables."
    assert setting(0.0, "dead") == "14.2 MHz: not usable: that is an IF of the set."
    assert setting(0.0, "deaf", losses=IMAGE) == "14.2 MHz: the wanted signal goes under in the noise."


def test_nobody_tells_of_a_setting_where_hardly_anybody_is_listed_and_nobody_is_heard() -> None:
    """Who is listed and heard all the same is said; the verdict then holds for those listed alone."""
    alone = "That holds for those listed alone: the tables list hardly anybody on its images."
    told = {chance: setting(chance, "unlisted") for chance in (1.0, 0.981, 0.98, 0.6)}
    untold = "14.2 MHz: nobody can tell; the tables list hardly anybody on its images."
    assert told[1.0] == told[0.981] == untold
    assert told[0.98] == f"14.2 MHz: usable 98 times in 100. {alone}"
    assert told[0.6] == f"14.2 MHz: usable 60 times in 100. {alone}"


@pytest.mark.parametrize(
    ("unlisted", "untold", "intruders", "nobody"),
    [
        (0.5, 0.99, 0.0, True), (0.5, 0.98, 0.0, False), (0.5, 0.981, 0.019, True),
        (0.5, 0.99, 0.02, False), (0.0, 1.0, 0.0, False),
    ],
)  # fmt: skip
def test_nobody_tells_of_a_dial_all_but_unlisted(
    unlisted: float, untold: float, intruders: float, nobody: bool
) -> None:
    """More than 98 of 100 untold, some of it for want of a list, and next to nobody who comes in."""
    assert nobody_tells(unlisted, untold, intruders) is nobody


# --- a stretch -------------------------------------------------------------------------------


def cover(
    stranger: float = 0.1, more_db: float | None = 0.0, regulars: tuple[str, ...] = (), **busy: Any
) -> CoverFinding:
    said = {"cover": True, "hour": "busy"}
    return CoverFinding(of_range(**(said | busy)), stranger, 0.2, more_db, regulars)


def test_a_stretch_is_usable_under_its_limit() -> None:
    """The chance of a stranger under the limit, under half of it lost to noise and unknown."""
    assert [cover(stranger).usable for stranger in (0.19, 0.2)] == [True, False]
    assert [cover(noise=noise).usable for noise in (0.49, 0.5)] == [True, False]
    assert [cover(unknown=unknown).usable for unknown in (0.49, 0.5)] == [True, False]


def test_a_usable_stretch_is_said_as_at_the_bench() -> None:
    """How often a stranger is met, who is always there, and where it is not to be trusted."""
    name = "6 MHz to 18 MHz"
    assert cover(0.029).sentence == f"{name}: usable; on a busy evening you will hardly ever meet a stranger."
    assert cover(0.03, regulars=("Mast at 7 MHz", "Light at 8 MHz")).sentence == (
        f"{name}: usable; on a busy evening you will meet a stranger now and then; "
        "Mast at 7 MHz and Light at 8 MHz."
    )
    weak = WeakImage(12_000_000, 17_000_000, False, False, 12.4, None)
    assert cover(weak_image=weak).sentence.startswith(
        f"{name}: usable, but do not trust it between 12 MHz and 17 MHz: image down to 12 dB"
    )
    all_of_it = WeakImage(6_000_000, 18_000_000, True, True, 12.4, None)
    assert "do not trust it: image down" in cover(weak_image=all_of_it).sentence


def test_a_stretch_that_is_not_usable_says_why_and_what_it_would_take() -> None:
    """How often a stranger is met, and the rejection that is missing, to a decibel."""
    name = "6 MHz to 18 MHz"
    assert cover(0.31, 12.4, ("Mast at 7 MHz",)).sentence == (
        f"{name}: not usable on a busy evening: a stranger at 31 settings in 100; Mast at 7 MHz; "
        "it would take 12 dB more rejection."
    )
    assert cover(0.999, None).sentence == (
        f"{name}: not usable on a busy evening: a stranger at practically all settings; "
        "no amount of rejection alone mends that."
    )
    assert cover(unknown=0.5).sentence == f"{name}: nobody can tell: the images lie beyond the tables."
    outside = f"{name}: not usable: noise from outside is over the wanted signal."
    assert cover(noise=0.5, place=0.25).sentence == outside
    assert cover(noise=0.5, place=0.24).sentence == f"{name}: not usable: the set is deaf there."

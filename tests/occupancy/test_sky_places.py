"""Places, months and sunspot numbers as people write them, and what is refused."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from spurplan.errors import BadValue
from spurplan.occupancy.sky import Place, parse_month, parse_place, parse_sunspots
from spurplan.place import MONTHS


@pytest.mark.parametrize(
    ("text", "lat", "lon"),
    [
        ("52N,5E", 52, 5),
        ("52,5", 52, 5),
        (" 33.9S, 151.2E ", -33.9, 151.2),
        ("33.9s 151.2e", -33.9, 151.2),
        ("-33.9,-70.5", -33.9, -70.5),
        ("40N,90W", 40, -90),
        ("0,180", 0, 180),
        ("90S,0E", -90, 0),
    ],
)
def test_degrees_are_read_with_letters_or_signs(text: str, lat: float, lon: float) -> None:
    """Latitude first; north and east positive."""
    assert parse_place(text) == Place(lat, lon)


@pytest.mark.parametrize(
    ("text", "lat", "lon"),
    [
        ("AA00", -89.5, -179.0),
        ("RR99", 89.5, 179.0),
        ("JJ00", 0.5, 1.0),
        # a field 20 by 10 deg, a square 2 by 1, a subsquare 5 by 2.5 minutes, an extended one a tenth of that
        ("JO62qm", 52 + 12.5 * 2.5 / 60, 12 + 16.5 * 5 / 60),
        ("jo62QM43", 52 + 12 * 2.5 / 60 + 3.5 * 0.25 / 60, 12 + 16 * 5 / 60 + 4.5 * 0.5 / 60),
    ],
)
def test_a_locator_is_the_middle_of_its_cell(text: str, lat: float, lon: float) -> None:
    """Four, six or eight characters, capitals or not."""
    place = parse_place(text)
    assert (place.lat, place.lon) == (pytest.approx(lat), pytest.approx(lon))


@pytest.mark.parametrize(
    ("text", "rule"),
    [
        ("", "is not a place"),
        ("52N", "is not a place"),
        ("52;5", "is not a place"),
        ("52,5,7", "is not a place"),
        ("1e3,5", "is not a place"),
        ("٥,3", "is not a place"),
        ("a,b", "is not a place"),
        ("5E,52N", "gives the longitude first"),
        ("91N,5E", "lies beyond a pole"),
        ("-90.01,5", "lies beyond a pole"),
        ("52,180.1", "longitude above 180"),
        ("-5N,3E", "a sign and a letter"),
        ("JO6", "is not a locator"),
        ("JO62q", "is not a locator"),
        ("JO62qm4", "is not a locator"),
        ("JO62qm433", "is not a locator"),
        ("SO62", "is not a locator"),
        ("JO62yz", "is not a locator"),
    ],
)
def test_what_is_no_place_is_refused(text: str, rule: str) -> None:
    """With its rule and the forms that are understood."""
    with pytest.raises(BadValue, match=rule) as refused:
        parse_place(text)
    assert refused.value.value == text
    assert refused.value.remedy


@given(st.floats(-90, 90), st.floats(-180, 180))
def test_a_place_written_is_read_again(lat: float, lon: float) -> None:
    """To the digits it is written with."""
    place = parse_place(str(Place(lat, lon)))
    assert (place.lat, place.lon) == (pytest.approx(lat, abs=0.006), pytest.approx(lon, abs=0.006))


@given(st.text(max_size=12))
def test_any_text_is_a_place_or_refused(text: str) -> None:
    """Nothing but the project's own error."""
    try:
        place = parse_place(text)
    except BadValue:
        return
    assert -90 <= place.lat <= 90
    assert -180 <= place.lon <= 180


@pytest.mark.parametrize("number", range(1, 13))
def test_a_month_is_a_number_or_a_name(number: int) -> None:
    """Three letters are enough; capitals do not matter."""
    name = MONTHS[number - 1]
    for text in (str(number), f"{number:02d}", name, name[:3].lower(), name.upper(), f" {name[:4]} "):
        assert parse_month(text) == number


@pytest.mark.parametrize("text", ["", "0", "13", "-1", "1.5", "ju", "ma", "Mai", "januaryy", "٣"])
def test_what_is_no_month_is_refused(text: str) -> None:
    """Two letters fit two months; an empty word fits all."""
    with pytest.raises(BadValue, match="is not a month") as refused:
        parse_month(text)
    assert refused.value.remedy


@pytest.mark.parametrize("text", ["", "-1", "301", "many", "inf", "1e2"])
def test_what_is_no_sunspot_number_is_refused(text: str) -> None:
    """0 to 300, in plain digits."""
    with pytest.raises(BadValue):
        parse_sunspots(text)
    assert parse_sunspots(" 70 ") == 70

"""Numbers as people type them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.errors import InputError
from analysis.typed import UNITS, said_back, typed_number


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("0,14", "mm", 0.14),
        ("0.14", "mm", 0.14),
        ("0,140", "mm", 0.14),
        (",5", "", 0.5),
        ("12", "mm", 12.0),
        ("1200", "mm", 1200.0),
        ("12 mm", "mm", 12.0),
        ("1,5cm", "mm", 15.0),
        ("0.3 m", "mm", 300.0),
        ('3 1/2"', "mm", 88.9),
        ("1/2 in", "mm", 12.7),
        ("5' 3\"", "mm", 1600.2),
        ("5 ft 3 in", "mm", 1600.2),
        ("-2,5", "C", -2.5),
        ("\N{MINUS SIGN}2,5", "C", -2.5),
        ("1:30", "s", 90.0),
        ("1,5 min", "s", 90.0),
        ("2 d", "h", 48.0),
        ("0,8 %", "%", 0.8),
        ("1e-3", "", 0.001),
        ("  ", "mm", None),
        ("", "", None),
    ],
)
def test_what_is_typed_arrives_as_meant(text, unit, value):
    assert typed_number(text, unit) == value


# NIST Special Publication 811 (2008), appendix B.8 and B.9; values from memory.
@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("1 in", "mm", 25.4),
        ("1 ft", "mm", 304.8),
        ("1 gal", "l", 3.785412),
        ("1 oz", "ml", 29.57353),
        ("1 oz", "g", 28.34952),
        ("1 lb", "kg", 0.4535924),
        ("32 F", "C", 0.0),
        ("212 °F", "C", 100.0),
        ("-40 F", "C", -40.0),
        ("20 C", "F", 68.0),
    ],
)
def test_units_are_turned_by_the_published_factors(text, unit, value):
    assert typed_number(text, unit) == pytest.approx(value, rel=1e-6, abs=1e-9)


@pytest.mark.parametrize("text", ["1.200", "1,200", "12,345", "-3.500"])
def test_what_may_be_thousands_is_refused(text):
    with pytest.raises(InputError, match="without doubt"):
        typed_number(text, "mm", what="Width")


@pytest.mark.parametrize("text", ["1,200.5", "1.200.300", "1 200", "1'200"])
def test_grouped_thousands_are_refused(text):
    with pytest.raises(InputError, match="grouped in thousands"):
        typed_number(text, "s", what="Width")


@pytest.mark.parametrize(
    ("text", "unit", "match"),
    [
        ("abc", "mm", "'abc' is not a number"),
        ("3 kg", "mm", "'kg' in '3 kg' is not understood"),
        ("3 mm", "", "without a unit"),
        ("1/0 in", "mm", "not a number"),
        ("3 5/2 in", "mm", "not a number"),
        ("nan", "mm", "not a number"),
        ("inf", "mm", "not a number"),
        ("1e999", "mm", "not a number"),
        ("5 in 3 ft", "mm", "not a number"),
        ("60 F 3 F", "C", "not a number"),
        ("0.1.2", "mm", "not a number|not understood"),
    ],
)
def test_nonsense_is_refused_in_one_sentence(text, unit, match):
    with pytest.raises(InputError, match=match):
        typed_number(text, unit, what="Width")


@given(
    st.floats(min_value=-1e6, max_value=1e6).map(lambda x: round(x, 2)),
    st.sampled_from([".", ","]),
    st.sampled_from(sorted(UNITS)),
)
def test_two_decimals_come_back_in_either_writing(value, mark, unit):
    text = f"{value:.2f}".replace(".", mark)

    assert typed_number(text, unit) == pytest.approx(value)
    assert typed_number(f"{text} {unit}", unit) == pytest.approx(value)


@given(st.text(max_size=12))
def test_anything_is_read_or_refused(text):
    try:
        value = typed_number(text, "mm")
    except InputError:
        return
    assert value is None or abs(value) < float("inf")


@pytest.mark.parametrize("unit", sorted(UNITS))
def test_what_is_said_back_is_understood(unit):
    assert typed_number(said_back(0.25, unit), unit) == 0.25

import math
from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.checks import (
    FIRST_DAY,
    LAST_DAY,
    LONGEST_NAME,
    all_named,
    each_once,
    named,
    number,
    odd_sign,
    one_of,
    plain_text,
    points,
    sealed,
    sensible_day,
)
from analysis.errors import FaceError, InputError


class TestNumber:
    @pytest.mark.parametrize(
        "given", [3, 3.0, np.int64(3), np.float32(3), np.uint8(3), np.float64(3)]
    )
    def test_every_kind_of_number_becomes_a_plain_float(self, given):
        found = number(given, "Size")
        assert type(found) is float
        assert found == 3.0

    @pytest.mark.parametrize(
        "given", ["3", None, True, np.True_, 3j, np.complex128(3), [3], np.array([3])]
    )
    def test_what_is_no_number(self, given):
        with pytest.raises(InputError, match=r"^Size must be a number, .* type digits"):
            number(given, "Size")

    @pytest.mark.parametrize("given", [math.nan, math.inf, -math.inf, 10**400])
    def test_what_is_not_finite(self, given):
        with pytest.raises(InputError, match="Size must be a finite number"):
            number(given, "Size", low=0, high=1)

    def test_ends_belong_to_the_bounds_and_above_does_not(self):
        assert number(1, "Size", low=1, high=2) == 1
        assert number(2, "Size", low=1, high=2) == 2
        with pytest.raises(
            InputError, match="Size must be more than 0 mm, 0 was given"
        ):
            number(0, "Size", above=0, unit="mm")

    @pytest.mark.parametrize(
        ("bounds", "says"),
        [
            ({"low": 5}, "Size must be at least 5 px, 3 was given"),
            ({"high": 2}, "Size must be at most 2 px, 3 was given"),
            ({"low": 0, "high": 2}, "Size must be between 0 and 2 px, 3 was given"),
            ({"above": 3}, "Size must be more than 3 px, 3 was given"),
        ],
    )
    def test_what_is_out_of_bounds(self, bounds, says):
        with pytest.raises(InputError, match=says):
            number(3, "Size", unit="px", **bounds)

    def test_the_refusal_is_of_the_kind_asked_for(self):
        with pytest.raises(FaceError, match="Size must be"):
            number(-1, "Size", low=0, error=FaceError)

    @given(value=st.floats(), low=st.floats(-10, 0), high=st.floats(0, 10))
    def test_what_passes_is_inside(self, value, low, high):
        try:
            found = number(value, "Size", low=low, high=high)
        except InputError:
            assert not low <= value <= high
        else:
            assert low <= found <= high


class TestOneOf:
    def test_a_word_of_the_list(self):
        assert one_of("b", "Kind", iter("abc")) == "b"

    @pytest.mark.parametrize("given", ["d", "", "B", None, 1])
    def test_another_word(self, given):
        with pytest.raises(
            InputError, match=r"Kind must be one of a, b, c; .* was given"
        ):
            one_of(given, "Kind", "abc")


class TestPoints:
    def test_a_sealed_copy(self):
        given = np.arange(6.0).reshape(3, 2)
        found = points(given, "Line", least=3)
        assert np.array_equal(found, given)
        assert found.dtype == np.float64
        given[0] = 99
        assert found[0, 0] == 0
        with pytest.raises(ValueError, match="read-only"):
            found[0, 0] = 1

    @pytest.mark.parametrize(
        "given",
        [
            [],
            [[1, 2]],
            [1, 2, 3, 4],
            [[1, 2, 3]] * 4,
            [[1, 2], [3]],
            [["a", "b"]] * 4,
            [[1j, 2]] * 4,
            [[10**400, 2]] * 4,
            None,
            5,
            np.zeros((4, 2, 1)),
        ],
    )
    def test_what_are_no_points(self, given):
        with pytest.raises(
            InputError, match="Line needs at least 2 points of two numb"
        ):
            points(given, "Line", least=2)

    @pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
    def test_a_point_that_is_not_finite(self, bad):
        with pytest.raises(InputError, match="Line has a point that is not a finite"):
            points([[0, 0], [bad, 1]], "Line", least=2)

    @pytest.mark.parametrize("far", [1e7, -1e300])
    def test_a_point_beyond_any_photo(self, far):
        with pytest.raises(InputError, match="Line has a point far outside any photo"):
            points([[0, 0], [far, 1]], "Line", least=2)

    def test_the_refusal_is_of_the_kind_asked_for(self):
        with pytest.raises(FaceError, match="Line needs"):
            points([], "Line", least=2, error=FaceError)


class TestSealed:
    def test_a_copy_of_its_own(self):
        given = np.arange(12).reshape(3, 4)[:, ::2]
        found = sealed(given)
        assert np.array_equal(found, given)
        assert found.flags.c_contiguous
        assert not np.shares_memory(found, given)
        with pytest.raises(ValueError, match="read-only"):
            found[0, 0] = 1


class TestNames:
    @pytest.mark.parametrize("given", ["", "  ", "\n", None, 5])
    def test_blank(self, given):
        with pytest.raises(InputError, match=r"The form needs a name, .* type one"):
            named(given, "The form")

    def test_sign_that_ends_a_text(self):
        with pytest.raises(InputError, match="The form has a NUL sign in its name"):
            named("A\0", "The form")

    def test_long(self):
        named("x" * LONGEST_NAME, "The form")
        with pytest.raises(
            InputError, match="name of 201 characters: shorten it to 200"
        ):
            named("x" * (LONGEST_NAME + 1), "The form")

    def test_twice(self):
        each_once(("left", "right"), "The form")
        with pytest.raises(InputError, match="The form names a joint twice"):
            each_once(("left", "left"), "The form")


class TestPlainText:
    @pytest.mark.parametrize(
        ("sign", "said"),
        [
            ("\0", "a NUL sign"),
            ("\x07", r"a control character \(U\+0007\)"),
            ("\x1b", r"a control character \(U\+001B\)"),
            ("\x7f", r"a control character \(U\+007F\)"),
            ("\x92", r"a control character \(U\+0092\)"),
            ("\ud800", r"a broken character \(U\+D800\)"),
        ],
    )
    def test_signs_that_nobody_sees(self, sign, said):
        with pytest.raises(InputError, match=f"^Note has {said} behind 'struck wet': "):
            plain_text(f"struck wet{sign} two lifts", "Note")
        with pytest.raises(InputError, match="at its start: delete it there, or type"):
            plain_text(sign, "Note")

    @pytest.mark.parametrize(
        "text",
        [
            "",
            "two\r\nlines\ta tab",
            "Gießerei",
            "\u200f\u05e9\u05dc",
            "क्षि",
            "👷\u200d♀️",
        ],
    )
    def test_every_script_and_line_ends_are_text(self, text):
        plain_text(text, "Note")
        assert odd_sign(text) == ""


class TestSensibleDay:
    def test_ends_belong_to_it(self):
        sensible_day(FIRST_DAY, "Cast on")
        sensible_day(LAST_DAY, "Cast on")

    @pytest.mark.parametrize(
        "given", [date.min, date(206, 3, 1), date(1899, 12, 31), date.max]
    )
    def test_another_century(self, given):
        with pytest.raises(
            InputError,
            match=f"^Cast on must lie in the years 1900 to 2099, {given} was given: "
            "correct the year",
        ):
            sensible_day(given, "Cast on")


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (" ", "needs a name, nothing was given"),
        (None, "needs a name, None was given"),
        ("A\0", "has a NUL sign"),
        ("x" * (LONGEST_NAME + 1), "characters: shorten it"),
    ],
)
def test_one_bad_name_among_many_is_found(given, said):
    all_named(["A", "B "], "The form")
    all_named([], "The form")
    with pytest.raises(InputError, match=said):
        all_named(["A", given, "B"], "The form")

from datetime import date

import pytest

from analysis.errors import InputError
from analysis.model.batch_marks import BatchMark

DAY = date(2026, 3, 2)


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"kind": "guess"}, "Kind of mark"),
        ({"kind": "change", "note": " "}, "The change"),
        (
            {"kind": "change", "note": "mix", "to_day": DAY},
            "Only a baseline has an end",
        ),
        ({"kind": "refinished"}, "choose the form"),
        ({"kind": "baseline"}, "ends on None"),
        ({"kind": "baseline", "to_day": date(2026, 3, 1)}, "choose its first pour"),
    ],
)
def test_a_mark_that_says_nothing_is_refused(given, says):
    with pytest.raises(InputError, match=says):
        BatchMark(from_day=DAY, **given)

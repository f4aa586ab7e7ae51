"""JSON text of answers, against the standard library's own encoder."""

import json
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.model.json_text import json_text

_plain = st.none() | st.booleans() | st.integers() | st.text(max_size=5)
_plain |= st.floats(allow_nan=False, allow_infinity=False)
_nested = st.recursive(
    _plain,
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.tuples(inner, inner)
        | st.dictionaries(st.text(max_size=3), inner, max_size=3)
    ),
    max_leaves=12,
)


@given(st.dictionaries(st.text(max_size=3), _nested, max_size=4))
def test_it_is_the_text_of_the_standard_encoder(answer):
    assert json_text(answer) == json.dumps(answer, indent=1, allow_nan=False)


@pytest.mark.parametrize("wrong", [math.nan, math.inf])
@pytest.mark.parametrize("where", [lambda x: x, lambda x: [x], lambda x: [{"a": [x]}]])
def test_what_is_no_number_is_refused(wrong, where):
    with pytest.raises(ValueError, match="not JSON compliant"):
        json_text({"share": where(wrong)})

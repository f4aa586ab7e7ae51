"""The median, against NumPy's."""

import numpy as np
import pytest

from analysis.imaging.medians import median


@pytest.mark.parametrize("shape", [(1,), (2,), (7, 5), (6, 4), (1001,), (1000,)])
def test_it_is_that_of_numpy(shape):
    values = np.random.default_rng(1).normal(size=shape).astype(np.float32)
    before = values.copy()
    assert median(values) == np.median(values)
    assert np.array_equal(values, before)

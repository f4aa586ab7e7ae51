import numpy as np
import pytest

from analysis.compare.few_voids import _sized


@pytest.mark.parametrize(("larger", "told"), [(3.0, True), (1.0, False)])
def test_faces_of_one_size_but_for_the_last_digit_are_no_warning(larger, told):
    """Welch's t against SciPy's own, where one level's faces hardly differ."""
    unit = np.arange(12)
    x = (unit < 6).astype(float)
    area = np.where(x > 0, 1e5, 1e5 * larger * (1 + 0.1 * np.sin(unit)))
    area[0] *= 1 + 1e-15
    assert _sized(area, x, unit) is told

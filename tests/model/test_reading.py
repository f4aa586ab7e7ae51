import math
from dataclasses import FrozenInstanceError, fields

import numpy as np
import pytest

from analysis.errors import InputError
from analysis.model.reading import MeasureSettings, VoidCatalog
from tests.support.readings import catalog, reading


class TestVoidCatalog:
    def test_columns_and_outlines_are_sealed_copies(self):
        area, line = np.array([4.0, 9.0]), np.zeros((3, 2))
        voids = catalog((4, 9), area_px=area, outline_px=(line, line))
        area[0], line[0] = 99, 99
        assert voids.area_px.tolist() == [4, 9]
        assert voids.outline_px[0].max() == 0
        for field in fields(VoidCatalog):
            value = getattr(voids, field.name)
            arrays = value if field.name == "outline_px" else (value,)
            for array in arrays:
                if isinstance(array, np.ndarray):
                    assert not array.flags.writeable

    def test_as_long_as_its_columns(self):
        assert len(catalog()) == 0
        assert len(catalog((4, 9, 1))) == 3

    def test_a_column_of_another_length_is_refused(self):
        with pytest.raises(
            InputError, match="columns of one length, shading has 1 of 2"
        ):
            catalog((4, 9), shading=np.zeros(1))
        with pytest.raises(InputError, match="columns of one length, flags has 3 of 2"):
            catalog((4, 9), flags=(frozenset(),) * 3)

    def test_diameter_of_the_disc_of_that_area(self):
        voids = catalog((math.pi * 25, math.pi))
        assert voids.equivalent_diameter_px == pytest.approx([10, 2])

    def test_moved_moves_places_and_outlines_and_nothing_else(self):
        voids = catalog((4, 9))
        moved = voids.moved(np.array([3.0, -7.0]))
        assert moved.row_px.tolist() == [3, 13]
        assert moved.col_px.tolist() == [-7, 13]
        assert np.array_equal(moved.outline_px[1], voids.outline_px[1] + [[3, -7]])
        assert np.array_equal(moved.area_px, voids.area_px)
        assert voids.row_px.tolist() == [0, 10]

    def test_an_empty_one_moves_too(self):
        assert len(catalog().moved(np.array([1.0, 1.0]))) == 0


class TestSettings:
    def test_not_asked_for(self):
        assert MeasureSettings().smallest_mm is None

    def test_asked_for(self):
        assert MeasureSettings(smallest_mm=0.7).smallest_mm == 0.7

    @pytest.mark.parametrize("size", [0, -1, math.nan, 1000.1, "1", True])
    def test_impossible(self, size):
        with pytest.raises(InputError, match="Smallest counted size must be"):
            MeasureSettings(smallest_mm=size)


def test_a_reading_stays_as_it_is():
    with pytest.raises(FrozenInstanceError):
        reading().width_px = 5

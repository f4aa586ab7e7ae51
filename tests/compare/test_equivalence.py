from __future__ import annotations

import dataclasses

import pytest

from analysis.compare.compare import compare
from analysis.compare.equivalence import sameness, sameness_words
from analysis.errors import InputError
from analysis.model.comparison import CompareOptions


class TestSameness:
    def test_only_where_the_interval_lies_inside(self, shop):
        same = compare(
            shop.table(pours=40, log_ratio=0.0, between=0.1, within=0.1),
            CompareOptions(by="joint_sealing"),
        ).head
        assert same.verdict == "no_clear_difference"
        assert sameness(same, 1.25) == "same"
        assert sameness(same, 1.01) == "not_shown"
        assert "Too early to say" in sameness_words(same, 1.01)

    def test_outside(self, shop):
        far = compare(shop.table(pours=40), CompareOptions(by="joint_sealing")).head
        assert sameness(far, 1.1) == "different"

    def test_never_without_evidence(self, shop):
        few = compare(shop.table(pours=4), CompareOptions(by="joint_sealing")).head
        assert few.verdict == "not_enough_evidence"
        assert sameness(few, 100.0) == "not_shown"
        assert sameness(dataclasses.replace(few, ratio_low=None), 100.0) == "not_shown"

    def test_band(self, shop):
        few = compare(shop.table(pours=4), CompareOptions(by="joint_sealing")).head
        with pytest.raises(InputError, match="Band must be more than 1"):
            sameness(few, 1.0)

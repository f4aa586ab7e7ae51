from __future__ import annotations

import dataclasses

import pytest

from analysis.compare.compare import compare
from analysis.compare.equivalence import is_no_worse, sameness, sameness_words
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


class TestNoWorse:
    def test_a_better_level_passes_and_a_worse_one_does_not(self, shop):
        better = compare(shop.table(pours=40), CompareOptions(by="joint_sealing")).head
        assert is_no_worse(better, 1.25)
        turned = CompareOptions(by="joint_sealing", levels=("none", "tape"))
        assert not is_no_worse(compare(shop.table(pours=40), turned).head, 1.25)

    def test_too_few_pours_show_nothing(self, shop):
        few = compare(shop.table(pours=4), CompareOptions(by="joint_sealing")).head
        assert not is_no_worse(few, 100.0)
        assert not is_no_worse(dataclasses.replace(few, ratio_high=None), 100.0)

    def test_margin(self, shop):
        few = compare(shop.table(pours=4), CompareOptions(by="joint_sealing")).head
        with pytest.raises(InputError, match="Margin must be more than 1"):
            is_no_worse(few, 0.8)

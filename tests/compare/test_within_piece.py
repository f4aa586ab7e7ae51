from __future__ import annotations

import numpy as np
import pytest

from analysis.compare.within_piece import compare_joints, joint_table
from analysis.errors import TableError


def joints(*, swap=True, pours=6, effect=0.4):
    random = np.random.default_rng(3)
    made = []
    for pour in range(pours):
        for piece in range(2):
            for place in ("left", "right"):
                tape = (place == "left") ^ (swap and pour % 2 == 1)
                share = (effect if tape else 1.0) * np.exp(random.normal(0, 0.2))
                made.append(
                    {
                        "piece": f"{pour}-{piece}",
                        "pour": pour,
                        "joint": place,
                        "joint_sealing": "tape" if tape else "none",
                        "joint_band_percent": share,
                    }
                )
    return made


class TestJointsOfOnePiece:
    def test_swapped_sides_give_a_verdict(self):
        answer = compare_joints(joint_table(joints())).head
        assert answer.verdict == "lower"
        assert answer.unit == "joint within piece"
        assert [group.n_pieces for group in answer.groups] == [12, 12]
        assert answer.ratio == pytest.approx(0.4, rel=0.25)

    def test_always_the_same_side_cannot_be_told(self):
        answer = compare_joints(joint_table(joints(swap=False))).head
        assert answer.verdict == "cannot_separate"
        assert [alias.factor for alias in answer.aliases] == ["joint"]

    def test_few_pours(self):
        answer = compare_joints(joint_table(joints(pours=2))).head
        assert answer.verdict == "not_enough_evidence"

    def test_no_piece_with_both(self):
        rows = [row for row in joints() if row["joint_sealing"] == "tape"]
        with pytest.raises(TableError, match="No piece has both a sealed and an open"):
            compare_joints(joint_table(rows))

    def test_columns_and_doubles(self):
        rows = joints()
        with pytest.raises(TableError, match="The table of joints has no joint_band"):
            joint_table(
                [{k: v for k, v in rows[0].items() if k != "joint_band_percent"}]
            )
        with pytest.raises(TableError, match="Joint left of piece 0-0 stands twice"):
            joint_table([*rows, rows[0]])

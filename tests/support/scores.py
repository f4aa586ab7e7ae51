"""A score of a face, to be changed."""

from __future__ import annotations

from tests.benchmarks import scoring


def face_score(**given):
    hits = scoring.Hits(right=1, missed=0, wrong=0)
    usual = {
        "kind": "k", "seed": 0, "tier": "easy", "grainy": False, "true_percent": 1.0,
        "found_percent": 1.1, "low_percent": 0.9, "high_percent": 1.2, "iou": 0.8,
        "at_2_mm": hits, "at_smallest": hits, "lines_percent": 0.0,
        "honeycomb_true_percent": 0.0, "honeycomb_found_percent": 0.0,
        "unreliable": False, "smallest_as_stated": True, "seconds": 0.1,
    }  # fmt: skip
    return scoring.FaceScore(**(usual | given))

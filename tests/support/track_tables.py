"""A small made-up workshop as a table of pieces."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np

HEADING = (
    "piece,pour,cast_on,form,form_type,form_use,joint_sealing,release_agent,"
    "vibration_method,vibration_s,void_area_percent,face_area_mm2,void_count,"
    "product_line,stage,smallest_counted_mm,air_c"
)


def shares_of(pours, *, late_factor=1.0, late=4, per_pour=2, seed=3):
    """Void shares (pours, per_pour); the last `late` pours are off by a factor."""
    rng = np.random.default_rng(seed)
    logs = rng.normal(0, 0.15, (pours, 1)) + rng.normal(0, 0.15, (pours, per_pour))
    shares = 0.004 * np.exp(logs)
    shares[pours - late :] *= late_factor
    return shares


def csv_of(shares, *, start=date(2026, 1, 5), gap_at=None, late_agent="oil", late=4):
    """One pour a week; a form per place in the pour."""
    lines = [HEADING]
    for pour, row in enumerate(shares):
        weeks = pour + (8 if gap_at is not None and pour >= gap_at else 0)
        cast_on = start + timedelta(weeks=weeks)
        agent = late_agent if pour >= len(shares) - late else "oil"
        for place, share in enumerate(row):
            lines.append(
                f"{pour * len(row) + place + 1:04d},B{pour + 1:03d},{cast_on},"
                f"Trough {'ABCDEF'[place]},trough,{pour + 1},tape,{agent},table,40,"
                f"{100 * share:.4f},250000,{max(1, round(share * 20000))},"
                f"smooth troughs,as_struck,0.5,{12 + pour % 7}"
            )
    return "\n".join(lines) + "\n"

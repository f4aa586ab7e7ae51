"""The order of castings in a query: by day, by time of day, then as saved.

A pour without a time of day comes before the timed ones of its day.
`analysis.pieces.order` says the same of tables.
"""

from __future__ import annotations

from datetime import time

import sqlalchemy as sa

from analysis.storage.columns import WallTime
from analysis.storage.tables import POUR

ORDER_OF_POURS = (
    POUR.c.cast_on,
    sa.func.coalesce(POUR.c.cast_at, sa.literal(time(0), WallTime())),
    POUR.c.id,
)

"""A log of a made-up workshop, brought in as a table."""

from __future__ import annotations

from analysis.model.workshop import FinishTarget, ProductLine
from analysis.services.log import open_log
from analysis.storage.exchange import import_pieces, preview_import
from analysis.storage.records import add, list_all
from tests.support.track_tables import csv_of, shares_of


def shop_log(folder, shares=None, *, high_share=0.006, **layout):
    """Make a log of 24 weekly pours of two troughs, or of other shares."""
    log = open_log(folder)
    text = csv_of(shares_of(24) if shares is None else shares, **layout)
    import_pieces(log, preview_import(log, text.encode()), save_token="shop")
    if high_share is not None:
        (line,) = list_all(log, ProductLine)
        target = FinishTarget(product_line_id=line.id, high_share=high_share)
        add(log, target, save_token="target")
    return log

"""Cards laid out: what does not fit together is refused."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.errors import InputError
from analysis.model.card import EDGE_MM, LAYOUTS, Code
from analysis.report.card_sheet import CARD_PAPERS, Card, card_sheet
from analysis.report.paper import PAGES_MM

CELLS = {n: np.eye(7, dtype=bool) for one in LAYOUTS.values() for n in one.markers}


def test_card_for_another_paper_is_refused():
    code = Code(layout="C", kind="form", number="3", log_mark="7KQ4ZX")
    with pytest.raises(InputError, match="laid out as C does not go on cards_a4"):
        card_sheet([Card(code=code, title="3")], CELLS, paper="cards_a4")


@pytest.mark.parametrize("name", CARD_PAPERS)
def test_cards_lie_on_the_page_and_hold_their_block(name):
    lies = CARD_PAPERS[name]
    page = PAGES_MM[lies.page][::-1] if lies.landscape else PAGES_MM[lies.page]
    block = LAYOUTS[lies.layout].block
    for side, count in ((0, lies.across), (1, lies.down)):
        end = lies.first[side] + (count - 1) * lies.pitch[side] + lies.size[side]
        assert end <= page[side] + 0.01
        assert lies.pitch[side] >= lies.size[side]
        assert lies.size[side] >= block[side + 2] - block[side] + 2 * EDGE_MM - 0.6

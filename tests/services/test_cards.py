"""Cards as they are printed: read back from the paper, and whose they are."""

from __future__ import annotations

import numpy as np
import pypdfium2
import pytest

from analysis.errors import InputError, NotInLogError
from analysis.model.card import Code
from analysis.services import cards, plans
from analysis.services import log as log_service
from analysis.storage.log_mark import log_mark
from tests.support.cast_pieces import filled, planned

PX_PER_MM = 6.0


@pytest.fixture
def log(tmp_path):
    return log_service.open_log(tmp_path)


def printed(pdf):
    """Return the pages, 6 px per mm."""
    with pypdfium2.PdfDocument(pdf) as document:
        scale = PX_PER_MM * 25.4 / 72
        return [
            np.ascontiguousarray(np.asarray(page.render(scale=scale).to_pil())[..., :3])
            for page in document
        ]


@pytest.mark.parametrize("paper", cards.CARD_PAPERS)
def test_printed_cards_are_read_and_of_their_size(log, paper):
    lies = cards.CARD_PAPERS[paper]
    _, pieces = filled(log, lies.across * lies.down + 1)
    pages = printed(cards.cards_of(log, "piece", pieces, paper=paper))

    assert len(pages) == 2
    # One card cut out of the sheet at a time.
    for number, piece in enumerate(pieces[:-1]):
        down, across = divmod(number, lies.across)
        left = (lies.first[0] + across * lies.pitch[0]) * PX_PER_MM
        top = (lies.first[1] + down * lies.pitch[1]) * PX_PER_MM
        width, height = (side * PX_PER_MM for side in lies.size)
        cut = pages[0][
            max(round(top), 0) : round(top + height),
            max(round(left), 0) : round(left + width),
        ]
        (found,) = cards.find_cards(np.ascontiguousarray(cut))
        assert cards.whose(log, found.code) == cards.Target(kind="piece", id=piece)
        mm_per_px = abs(np.linalg.det(found.plane.photo_to_mm[:2, :2])) ** 0.5
        assert mm_per_px == pytest.approx(1 / PX_PER_MM, rel=0.01)


def test_card_of_a_form_leads_to_it(log):
    form, _ = filled(log)
    (page,) = printed(cards.cards_of(log, "form", [form], paper="cards_a4"))
    (found,) = cards.find_cards(page)
    assert cards.whose(log, found.code) == cards.Target(kind="form", id=form)


def test_card_of_a_planned_pour_leads_to_it(log):
    kept = planned(log)
    plans.tick(log, kept.key, 1, done=True)
    kept = plans.kept_plan(log, kept.key)
    pages = printed(cards.plan_cards(log, kept, paper="cards_a4"))
    found = {
        (target.plan, target.id)
        for page in pages
        for card in cards.find_cards(page)
        for target in [cards.whose(log, card.code)]
    }
    # Four cards on a page: each code is read beside its own markers.
    assert found == {(kept.key, n) for n in range(2, kept.plan.pours + 1)}
    plans.throw_away(log, kept.key)
    with pytest.raises(NotInLogError, match="not in the log any more"):
        cards.whose(log, cards.find_cards(pages[0])[0].code)


def test_plan_that_is_all_cast_has_no_card(log):
    kept = planned(log)
    for number in range(1, kept.plan.pours + 1):
        plans.tick(log, kept.key, number, done=True)
    with pytest.raises(InputError, match="no card to print"):
        cards.plan_cards(log, plans.kept_plan(log, kept.key), paper="cards_a4")
    with pytest.raises(InputError, match="Paper for cards"):
        cards.plan_cards(log, kept, paper="napkin")


def test_card_of_another_log_is_told(log, tmp_path):
    other = log_service.open_log(tmp_path / "other")
    assert log_mark(other) != log_mark(log)
    code = Code(layout="A", kind="piece", number="1", log_mark=log_mark(other))
    with pytest.raises(NotInLogError, match="printed from another log"):
        cards.whose(log, code)


@pytest.mark.parametrize(("kind", "number"), [("piece", "99"), ("plan", "A1.2")])
def test_card_of_what_is_gone_is_told(log, kind, number):
    filled(log)
    code = Code(layout="A", kind=kind, number=number, log_mark=log_mark(log))
    with pytest.raises(NotInLogError, match="not in the log any more"):
        cards.whose(log, code)


def test_impossible_cards_are_refused(log):
    _, pieces = filled(log)
    with pytest.raises(InputError, match="no card to print"):
        cards.cards_of(log, "piece", [], paper="cards_a4")
    with pytest.raises(InputError, match="Paper for cards"):
        cards.cards_of(log, "piece", pieces, paper="napkin")
    with pytest.raises(InputError, match="Kind of card"):
        cards.cards_of(log, "pour", pieces, paper="cards_a4")
    with pytest.raises(NotInLogError, match="99"):
        cards.cards_of(log, "form", [99], paper="cards_a4")


def test_mark_of_a_log_stays(log):
    first = log_mark(log)
    assert len(first) == 6
    assert log_mark(log_service.open_log(log.file.parent)) == first

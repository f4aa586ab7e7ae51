"""Words of printed cards, and of photos given many at once."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from analysis.model.waiting import WaitingPhoto

# cards
CARDS = "Cards and labels"
CARDS_HINT = (
    "A card in the photo says which piece it is and gives the scale. Print at 100 %; "
    "try label sheets on plain paper first."
)
CARD_PAPER = "Print on"
CARD_PAPERS = {
    "cards_a4": "A4, 4 cards to cut",
    "cards_letter": "Letter, 4 cards to cut",
    "labels_a4_10": "A4 labels 99.1 x 57 mm, 10",
    "labels_a4_15": "A4 labels 70 x 50.8 mm, 15",
    "labels_letter_10": "Letter labels 4 x 2 in, 10",
    "labels_letter_15": "Letter labels 2.625 x 2 in, 15",
}
CARD_FOR = "Cards for"
CARDS_PDF = "Cards (PDF)"
NO_CARDS = "Choose one or more."
READ_CARD = "Read the card of a form or of a planned pour"
PLAN_CARDS_HINT = (
    "One for each pour still to cast. Read where a pour is logged, it fills the pour "
    "in as planned."
)
CARD_PHOTO = "Photo of the card"
NO_CARD = "No card can be read in this photo: go closer, square on, without glare."
NOT_A_FORM = "This card is of a piece: take one of a form or of a planned pour."
CARD_OF = "The card in the photo is of"
TWO_CARDS = "Cards of different pieces are in the photo: choose the piece when saving."
POUR_IN = "Log a pour in this form"

# photos of the day
EVENING = "Evening photos"
GIVE = "Give photos"
GIVE_HINT = "All photos of the day at once, with or without cards in them."
UPLOAD = "Photos"
STAGE = "Stage of all of them"
KEEPING = "Keeping the photos"
KEPT = "Kept. You may close the browser: looking and measuring go on."
LOOKING = "Looking for cards and faces"
MEASURING = "Measuring"
CHECK = "Check"
WHICH = "Which piece is it?"
WHYS = {
    "card": "Its card says so.",
    "form_card": "The form's card says so; no other piece of it lacks a photo.",
    "time": "Taken within five minutes of the photo before.",
    "only_one": "The only piece of these days without a photo.",
    "by_hand": "Chosen by you.",
    "unknown": "Nothing says which piece it is: choose.",
}
NO_SCALE = "No scale: without a card nothing can be given in mm."
BY_HAND = "Mark it by hand"
RIGHT = "That is right"
LATER = "Later"
ASIDE = "Put aside"
FACE = "Face"
FACES = {"outline": "As outlined", "whole": "Whole photo"}
FACE_LINE = "Outline of the face"
NOTHING_WAITS = "No photo waits."
RESULTS = "Measured"
FAILED = "Not measured"
CLEAR = "Clear the list"
AGAIN = "Try again"
OPEN = "Open the piece"
ALL_PHOTOS = "All photos"
STATES = {
    "given": "not looked at yet",
    "check": "to be checked",
    "ready": "ready",
    "done": "measured",
    "failed": "not measured",
}


def all_right(count: int) -> str:
    """Offer to confirm all photos with a card.

    Examples
    --------
    >>> all_right(1), all_right(5)
    ('The one with a card is right', 'All 5 with a card are right')
    """
    if count == 1:
        return "The one with a card is right"
    return f"All {count} with a card are right"


def place(number: int, of: int) -> str:
    """Say how many are still to be checked.

    Examples
    --------
    >>> place(1, 3)
    'Photo 1 of 3'
    """
    return f"Photo {number} of {of}"


def progress(waiting: Sequence[WaitingPhoto]) -> tuple[float, str]:
    """Say how far the work is.

    Examples
    --------
    >>> progress([])
    (1.0, 'Measuring')
    """
    total = len(waiting) or 1
    given = sum(one.state == "given" for one in waiting)
    if given:
        done = total - given
        return done / total, f"{LOOKING}: {done} of {total}"
    ready = sum(one.state == "ready" for one in waiting)
    done = sum(one.state in {"done", "failed"} for one in waiting)
    both = ready + done
    if not both:
        return 1.0, MEASURING
    return done / both, f"{MEASURING}: {done} of {both}"

"""Words of printed cards."""

CARDS = "Cards and labels"
CARDS_HINT = (
    "A card in the photo tells which piece it is, and gives the scale. Print at 100 %. "
    "Try label sheets on plain paper first."
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
    "One for each pour still to cast. Photograph it on Log a pour, and the pour is "
    "filled in as planned."
)
CARD_PHOTO = "Photo of the card"
NO_CARD = "No card could be read: go closer, hold square on, and avoid glare."
NOT_A_FORM = "That is the card of a piece: use one of a form or of a planned pour."
CARD_OF_PIECE = "The card in the photo is of piece"
CARD_OF_FORM = "The card in the photo is of form"
TWO_CARDS = (
    "There are cards of different pieces in the photo: choose the piece at saving."
)
POUR_IN = "Log a pour in this form"

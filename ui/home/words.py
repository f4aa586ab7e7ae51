"""Words about the example workshop."""

NAME = "Example workshop"
STRIP = "Invented, and kept apart from your log."
BACK = "Back to my log"
OFFER = "Nothing to see yet? Look around an invented workshop."
OFFER_ALWAYS = (
    "An invented workshop, kept apart from your log: nine forms, 26 pours, photos and "
    "things to find on every page."
)
OPEN = "Open the example workshop"
OPENING = "Opening the example workshop"
TOUR = "What to find in it"
TO_FIND = {
    "compare": "Do sealed joints help?",
    "batches": "Is the finish drifting?",
    "forms": "Is a form wearing out?",
    "vibration": "Is more vibration needed?",
    "plan": "What to cast next to know?",
}

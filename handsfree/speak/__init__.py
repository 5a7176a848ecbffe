"""What the program says: wording (pure), tones, the voice, and playing them."""

from handsfree.speak.amount import Amount, Between, Bound, Side, amount_words, length_words
from handsfree.speak.numbers import cardinal, number_words
from handsfree.speak.phrasebook import Phrasebook, read_phrasebook, shipped_phrasebook
from handsfree.speak.phrasing import label_words, listed, place_words
from handsfree.speak.reply import SILENCE, Reply, Tone, Verbosity
from handsfree.speak.wording import Wording

__all__ = [
    "SILENCE",
    "Amount",
    "Between",
    "Bound",
    "Phrasebook",
    "Reply",
    "Side",
    "Tone",
    "Verbosity",
    "Wording",
    "amount_words",
    "cardinal",
    "label_words",
    "length_words",
    "listed",
    "number_words",
    "place_words",
    "read_phrasebook",
    "shipped_phrasebook",
]

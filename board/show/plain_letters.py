"""Letters beyond ASCII written with ASCII, so that two names that differ still differ.

A letter with a mark keeps it behind it: ``Mu"ller``, ``L/ukasz``. Cyrillic is spelled in Latin
letters between braces: ``{Oleg}``. What has neither form is written by its number: ``\\u738b``.
Names that the record takes for one, as they are the same but for case and Unicode form, may
become one.
"""

from __future__ import annotations

import re
import unicodedata

LEGEND = (
    "letters that cannot be shown here: u\" e' L/ bear their mark behind them, {Oleg} is"
    " spelled by sound, \\u738b is a number, ? was a control character; --html keeps what was"
    " written"
)


def spelled(text: str) -> str:
    """A text in ASCII; it may grow."""
    for sign, plain in SIGNS.items():
        text = text.replace(sign, plain)
    text = unicodedata.normalize("NFC", unicodedata.normalize("NFKC", text))
    text = _CYRILLIC_RUN.sub(_by_sound, text)
    return text if text.isascii() else "".join(map(_letter, text))


def _by_sound(run: re.Match[str]) -> str:
    return f"{{{''.join(map(_sound, run[0]))}}}"


def _sound(letter: str) -> str:
    plain = _CYRILLIC[letter.lower()]
    return plain if letter.islower() else plain.capitalize()


def _letter(letter: str) -> str:
    if letter.isascii():
        return letter
    if letter in _SEEN_CONTROLS:
        return "?"
    small = letter.lower()
    if small in _LETTERS:
        plain = _LETTERS[small]
        return plain if letter == small else plain.upper()
    pieces = unicodedata.normalize("NFD", letter)
    if all(piece.isascii() or piece in _MARKS for piece in pieces):
        return "".join(_MARKS.get(piece, piece) for piece in pieces)
    code = ord(letter)
    return f"\\u{code:04x}" if code <= 0xFFFF else f"\\U{code:08x}"


# signs that are no letters, in the form that everybody reads
SIGNS = {"°": "deg", "·": ".", "–": "-", "—": "-", "−": "-", "…": "...", "µ": "u"}
SIGNS |= {"’": "'", "‘": "'", "´": "'", "“": '"', "”": '"', "„": '"', "→": "->", "×": "x"}
SIGNS |= {"─": "-", "│": "|"} | dict.fromkeys("┌┐└┘├┤┬┴┼", "+")  # the frames of charts

# what stands for a control character, see ``text.clean``
_SEEN_CONTROLS = frozenset({*map(chr, range(0x2400, 0x2422)), "\N{REPLACEMENT CHARACTER}"})

_LETTERS = {"ł": "l/", "ø": "o/", "đ": "d/", "ħ": "h/", "ŧ": "t/"}
_LETTERS |= {"æ": "a+e", "œ": "o+e", "þ": "t+h", "ð": "d+h"}
_LETTERS |= {"ß": "ss"}  # the record takes WEISS and Weiß for one

_MARKS = {
    "\N{COMBINING GRAVE ACCENT}": "`",
    "\N{COMBINING ACUTE ACCENT}": "'",
    "\N{COMBINING CIRCUMFLEX ACCENT}": "^",
    "\N{COMBINING TILDE}": "~",
    "\N{COMBINING MACRON}": "-",
    "\N{COMBINING BREVE}": ">",
    "\N{COMBINING DOT ABOVE}": "!",
    "\N{COMBINING DIAERESIS}": '"',
    "\N{COMBINING RING ABOVE}": "@",
    "\N{COMBINING DOUBLE ACUTE ACCENT}": "''",
    "\N{COMBINING CARON}": "<",
    "\N{COMBINING COMMA BELOW}": "__",
    "\N{COMBINING CEDILLA}": "_",
    "\N{COMBINING OGONEK}": "=",
}

# No two spellings can be read as one: c, h and y stand only where they belong to the letter before
# or behind them, and a mark ends what would else be the beginning of another letter.
_CYRILLIC = dict(zip("абвгдезийклмнопрстуфх", "abvgdezijklmnoprstufx", strict=True))
_CYRILLIC |= {"ё": "yo", "ж": "zh", "ц": "cz", "ч": "ch", "ш": "sh", "щ": "shh", "ъ": "``"}
_CYRILLIC |= {"ы": "y'", "ь": "`", "э": "e`", "ю": "yu", "я": "ya"}
_CYRILLIC |= {"і": "i'", "ї": "yi", "є": "ye", "ґ": "g`", "ў": "u`"}
_CYRILLIC |= {"ј": "j'", "љ": "l'", "њ": "n'", "ћ": "c'", "ђ": "d'", "џ": "dz'"}
_CYRILLIC_RUN = re.compile(f"[{''.join(_CYRILLIC)}]+", re.IGNORECASE)

"""Turn the bytes a terminal sends into keys.

Pure: bytes in, keys out, however they are split over reads. What is not a key of the board (a
terminal's report, a function key, a broken character) is swallowed, never guessed at. Reading
the bytes and waiting is left to `posix_terminal`.
"""

import codecs
from enum import Enum, auto
from typing import Final

from grammar.frozen import dataclass

# No key sends more; what goes on beyond this is swallowed to its end without being kept.
_LONGEST = 32
_ESC: Final = 0x1B


class Name(Enum):
    """The keys told apart; CHARACTER and CONTROL carry the character in the key's text."""

    CHARACTER = auto()
    CONTROL = auto()
    ENTER = auto()
    ESCAPE = auto()
    BACKSPACE = auto()
    TAB = auto()
    BACK_TAB = auto()
    UP = auto()
    DOWN = auto()
    LEFT = auto()
    RIGHT = auto()
    HOME = auto()
    END = auto()
    PAGE_UP = auto()
    PAGE_DOWN = auto()
    INSERT = auto()
    DELETE = auto()


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    """One key pressed; `text` is the character of CHARACTER, or the letter held with Ctrl."""

    name: Name
    text: str = ""


# Final bytes of control sequences (ESC [ ... X, and ESC O X from keypads in application mode).
# Source: xterm control sequences, "PC-Style Function Keys" and "VT220-Style Function Keys".
_BY_LETTER = {
    "A": Name.UP,
    "B": Name.DOWN,
    "C": Name.RIGHT,
    "D": Name.LEFT,
    "H": Name.HOME,
    "F": Name.END,
    "Z": Name.BACK_TAB,
}
# ESC [ N ~; 7 and 8 are rxvt's.
_BY_NUMBER = {
    "1": Name.HOME,
    "2": Name.INSERT,
    "3": Name.DELETE,
    "4": Name.END,
    "5": Name.PAGE_UP,
    "6": Name.PAGE_DOWN,
    "7": Name.HOME,
    "8": Name.END,
}
_BY_CODE = {
    0x08: Name.BACKSPACE,
    0x09: Name.TAB,
    0x0A: Name.ENTER,
    0x0D: Name.ENTER,
    0x7F: Name.BACKSPACE,
}


class _In(Enum):
    """Where in a sequence the parser stands."""

    TEXT = auto()
    ESCAPE = auto()
    SEQUENCE = auto()
    KEYPAD = auto()
    CONSOLE = auto()
    STRING = auto()
    STRING_ESCAPE = auto()


class KeyParser:
    """Parse a terminal's bytes, keeping what is not complete yet."""

    def __init__(self) -> None:
        self._state = _In.TEXT
        self._sequence = bytearray()
        self._decoder = codecs.getincrementaldecoder("utf-8")("ignore")

    @property
    def escape_waits(self) -> bool:
        """Say whether an ESC waits to be the Escape key or the start of a sequence."""
        return self._state is _In.ESCAPE

    @property
    def sequence_waits(self) -> bool:
        """Say whether a sequence has begun and is not complete."""
        return self._state not in (_In.TEXT, _In.ESCAPE)

    def feed(self, data: bytes) -> list[Key]:
        """Take bytes as they came and answer the keys completed by them."""
        keys: list[Key] = []
        for code in data:
            keys.extend(self._step(code))
        return keys

    def flush(self) -> list[Key]:
        """Nothing more came for a while: a waiting ESC was the Escape key, the rest is dropped."""
        keys = [Key(name=Name.ESCAPE)] if self._state is _In.ESCAPE else []
        self._restart()
        return keys

    def _restart(self) -> None:
        self._state = _In.TEXT
        self._sequence.clear()
        self._decoder.reset()

    def _step(self, code: int) -> list[Key]:
        match self._state:
            case _In.TEXT:
                return self._text(code)
            case _In.ESCAPE:
                return self._after_escape(code)
            case _In.SEQUENCE:
                return self._in_sequence(code)
            case _In.KEYPAD:
                return self._in_keypad(code)
            case _In.CONSOLE:
                # The Linux console's function keys: ESC [ [ A.
                self._restart()
            case _In.STRING:
                self._in_string(code)
            case _In.STRING_ESCAPE:
                self._restart()
                if code != 0x5C:
                    return self._after_escape(code)
        return []

    def _text(self, code: int) -> list[Key]:
        if code == _ESC:
            self._restart()
            self._state = _In.ESCAPE
            return []
        if code in _BY_CODE:
            return [Key(name=_BY_CODE[code])]
        if 0x01 <= code <= 0x1A:
            return [Key(name=Name.CONTROL, text=chr(code + 0x60))]
        return [
            Key(name=Name.CHARACTER, text=character)
            for character in self._decoder.decode(bytes([code]))
            if character.isprintable()
        ]

    def _after_escape(self, code: int) -> list[Key]:
        match code:
            case 0x5B:
                self._state = _In.SEQUENCE
            case 0x4F:
                self._state = _In.KEYPAD
            case 0x50 | 0x58 | 0x5D | 0x5E | 0x5F:
                # A terminal's answer to somebody's question: ESC ] ... BEL or ESC \.
                self._state = _In.STRING
            case _:
                # The board has no Alt keys, so this is Escape and then another key, sent together.
                self._restart()
                return [Key(name=Name.ESCAPE), *self._text(code)]
        return []

    def _in_sequence(self, code: int) -> list[Key]:
        if code == _ESC:
            return self._text(code)
        if code == 0x5B and not self._sequence:
            self._state = _In.CONSOLE
            return []
        if 0x40 <= code <= 0x7E:
            parameters = self._sequence.decode("ascii", "replace")
            self._restart()
            return _named(parameters, chr(code))
        if len(self._sequence) < _LONGEST:
            self._sequence.append(code)
        return []

    def _in_keypad(self, code: int) -> list[Key]:
        if code == _ESC:
            return self._text(code)
        letter = chr(code)
        if letter.isdigit():
            return []
        self._restart()
        if letter == "M":
            return [Key(name=Name.ENTER)]
        if "p" <= letter <= "y":
            return [Key(name=Name.CHARACTER, text=str(code - ord("p")))]
        return _named("", letter)

    def _in_string(self, code: int) -> None:
        if code == 0x07:
            self._restart()
        elif code == _ESC:
            self._state = _In.STRING_ESCAPE


def _named(parameters: str, final: str) -> list[Key]:
    # "1;5" in ESC [ 1 ; 5 A tells of Shift, Alt and Ctrl, which the board does not tell apart.
    name = _BY_NUMBER.get(parameters.split(";")[0]) if final == "~" else _BY_LETTER.get(final)
    return [] if name is None else [Key(name=name)]

"""Everything that two readings say, side by side, and slips that keep a character's kind."""

from __future__ import annotations

from random import Random

from grammar.reader import LastLine, Reader, Reading
from grammar.vocabulary import Vocabulary
from tests.grammar.lines import CLASSES

# each letter with others of the same look or the same folding
_LOOK_ALIKES = {
    "a": "аᴀａä", "c": "сｃ", "e": "еｅé", "i": "іıİｉ", "k": "Kｋ", "m": "ｍ㎜", "n": "ｎŉ",
    "o": "оｏöº", "p": "рｐ", "s": "ſｓß", "x": "хｘ", "0": "О०０", "1": "l１¹", "2": "２²", "-": "−–‐",
    ";": "\u037e；", ",": "‚，٫", ".": "．·", ":": "：ː", " ": "\t\u00a0\u2003\x1c",
}  # fmt: skip
_SEPARATORS = (";", "; ", " ;", ";;", ",", ".", ":", " ", "  ", ", ", ". ", "\t", "\u00a0", "")
_UNITS = (
    "mm",
    "um",
    "in",
    "N.m",
    "Nm",
    "N m",
    "N·m",
    "N",
    "kPa",
    "bar",
    "h",
    "picks",
    "1/min",
    "°",
    "%",
)


def same_kind(line: str, random: Random) -> str:
    """The line with one to three characters changed for others of their kind."""
    for _ in range(random.randint(1, 3)):
        if line:
            line = _one(line, random)
    return line


def _one(line: str, random: Random) -> str:
    at = random.randrange(len(line))
    character = line[at]
    before, behind = line[:at], line[at + 1 :]
    match random.randrange(8):
        case 0 | 1:
            for kind in CLASSES:
                if character in kind:
                    return before + random.choice(kind) + behind
            return before + character.swapcase() + behind
        case 2:
            return before + character.swapcase() + behind
        case 3:
            return line.swapcase() if random.random() < 0.1 else line.title()
        case 4:
            return before + random.choice(_LOOK_ALIKES.get(character.lower(), character)) + behind
        case 5:
            words = line.split(" ")
            word = random.randrange(len(words))
            return " ".join([*words[:word], random.choice(_UNITS), *words[word + 1 :]])
        case 6:
            places = [i for i, c in enumerate(line) if not c.isalnum()] or [at]
            place = random.choice(places)
            return line[:place] + random.choice(_SEPARATORS) + line[place + 1 :]
        case _:
            return before + character + random.choice(_SEPARATORS) + behind


def everything(reading: Reading) -> tuple[object, ...]:
    """All that a reading holds, with what is left out of comparing."""
    entries = [
        (x, x.stamp, x.line, x.text, [(type(c), c.span) for c in x.clauses])
        for x in reading.entries
    ]
    headings = [(h, h.line) for h in reading.headings]
    return (reading, entries, headings, reading.carried.heading and reading.carried.heading.line)


def readers(vocabulary: Vocabulary) -> tuple[Reader, Reader]:
    """A reader that reads fast, and one that has Lark read every line."""
    fast, alone = Reader(vocabulary), Reader(vocabulary)
    fast.derive()
    alone.alone = "for comparing"
    return fast, alone


def differs(
    fast: Reader, alone: Reader, text: bytes | str, last: LastLine = LastLine.SETTLED
) -> bool:
    """Whether two readers read a text otherwise, or the fast one fell back in the middle of it."""
    quick, sure = fast.read(text, last), alone.read(text, last)
    return bool(quick.notices) or everything(quick) != everything(sure)


def first_difference(fast: Reader, alone: Reader, lines: list[str], heading: str) -> str | None:
    """The first of the lines that two readers read otherwise under a heading, or None."""
    text = "\n".join([heading, *lines, ""]).encode("utf-8", "surrogatepass")
    if not differs(fast, alone, text):
        return None
    for line in lines:
        if differs(fast, alone, f"{heading}\n{line}\n".encode("utf-8", "surrogatepass")):
            return line
    return "\n".join(lines)

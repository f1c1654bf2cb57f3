"""Reading some lines of a log as they stand in it, without reading the others.

A line means what it means by the heading above it, and in an hour that a clock change repeats by
the lines before it. What is no heading, and was not complained of, can be left out.
"""

from __future__ import annotations

from array import array
from collections.abc import Callable, Iterable, Sequence

from grammar.decoding import texts_of
from grammar.folding import fold
from grammar.readings import Reading


def frame_of(reading: Reading) -> bytes | None:
    """The numbers of the lines that others are read by; None where that is all of them.

    It is all of them where a time was written in an hour that a clock change repeats.
    """
    if reading.carried.twice_at is not None or reading.carried.second_pass_on is not None:
        return None
    headings = {heading.line for heading in reading.headings}
    return array("I", sorted(headings | {d.line for d in reading.diagnostics})).tobytes()


def cut(
    data: bytes, frame: bytes, wanted: Callable[[list[str]], Iterable[int]]
) -> tuple[bytes, list[int]] | None:
    """Some lines of a log and its frame as a log of their own, and the number of each.

    ``wanted`` tells the numbers from the texts of the lines. None where that cannot be.
    """
    texts = texts_of(data)
    if texts is None:
        return None
    kept = {*wanted(texts), *array("I", frame)}
    ended = data.endswith(b"\n")
    if texts and not ended:
        kept.add(len(texts))  # it may be growing
    numbers = sorted(kept)
    if numbers and numbers[-1] > len(texts):
        return None
    text = "\n".join([texts[number - 1] for number in numbers])
    if text.startswith("\ufeff"):
        return None  # at the start of a text, this is left out
    return (text + "\n" if ended else text).encode(), numbers


def numbers_of_places(texts: Sequence[str], speaks_of: Callable[[str], bool]) -> list[int]:
    """The numbers of the lines whose place, as it is written behind the time, is wanted."""
    found = []
    for number, text in enumerate(texts, 1):
        words = (text if text.isascii() else fold(text).text).split(None, 2)
        if len(words) > 1 and speaks_of(words[1].partition(";")[0]):
            found.append(number)
    return found

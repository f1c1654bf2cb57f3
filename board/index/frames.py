"""Reading some lines of a log as they stand in it, without reading the others.

A line means what it means by the heading above it, and in an hour that a clock change repeats by
the lines before it. What is no heading, and was not complained of, can be left out.
"""

from __future__ import annotations

from array import array
from collections.abc import Iterable

from grammar.decoding import texts_of
from grammar.readings import Reading


def frame_of(reading: Reading) -> bytes | None:
    """The numbers of the lines that others are read by; None where that is all of them.

    It is all of them where a time was written in an hour that a clock change repeats.
    """
    if reading.carried.twice_at is not None or reading.carried.second_pass_on is not None:
        return None
    headings = {heading.line for heading in reading.headings}
    return array("I", sorted(headings | {d.line for d in reading.diagnostics})).tobytes()


def cut(data: bytes, frame: bytes, wanted: Iterable[int]) -> tuple[bytes, list[int]] | None:
    """Some lines of a log, by their numbers, and its frame as a log of their own.

    And the number that each of them has in the log. None where that cannot be.
    """
    texts = texts_of(data)
    if texts is None:
        return None
    kept = {*wanted, *array("I", frame)}
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


def last_read(data: bytes, frame: bytes) -> tuple[int, ...]:
    """The number of the last line of a log that says something and is not of its frame."""
    texts, kept = texts_of(data) or [], set(array("I", frame))
    for number in range(len(texts), 0, -1):
        text = texts[number - 1]
        if number not in kept and text.strip() and not text.startswith("#"):
            return (number,)
    return ()

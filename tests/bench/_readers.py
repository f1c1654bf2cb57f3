"""The two ways to read a line: Lark alone, and the expressions derived from its grammar."""

from __future__ import annotations

from collections.abc import Mapping

from board.loading import reader_for
from grammar.reader import Reader
from grammar.vocabulary import Vocabulary


def lark_reader(vocabulary: Vocabulary, environ: Mapping[str, str]) -> Reader:
    """A reader that asks Lark for every line."""
    reader = reader_for(vocabulary, environ)
    reader.alone = "Lark alone is measured"
    return reader


def derived_reader(vocabulary: Vocabulary, environ: Mapping[str, str]) -> Reader | None:
    """A reader that asks Lark only where the derived expressions do not match; None: there is none."""
    reader = reader_for(vocabulary, environ)
    return reader if getattr(reader, "alone", "no such way") == "" else None

"""The two ways to read a line: Lark alone, and the expressions derived from its grammar."""

from __future__ import annotations

from collections.abc import Mapping

from board.loading import reader_for
from grammar.driving import by_lark
from grammar.reader import Reader
from grammar.vocabulary import Vocabulary


def lark_reader(vocabulary: Vocabulary, environ: Mapping[str, str]) -> Reader:
    """A reader that takes every line through Lark's tables."""
    reader = reader_for(vocabulary, environ)
    reader.alone = "Lark alone is measured"
    return reader


def own_loop_reader(vocabulary: Vocabulary, environ: Mapping[str, str]) -> Reader:
    """A reader that takes every line through Lark's tables by Lark's own loop."""
    reader = lark_reader(vocabulary, environ)
    reader._parse = by_lark(reader._lark, reader._parse)
    return reader


def derived_reader(vocabulary: Vocabulary, environ: Mapping[str, str]) -> Reader | None:
    """A reader that asks Lark only where the derived expressions do not match; None: there is none."""
    reader = reader_for(vocabulary, environ)
    reader.derive()
    return None if reader.alone else reader

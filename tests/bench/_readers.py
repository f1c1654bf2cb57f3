"""The two ways to read a line: Lark alone, and the expressions derived from its grammar."""

from __future__ import annotations

from collections.abc import Mapping
from inspect import signature

from board.loading import reader_for
from grammar.reader import Reader
from grammar.vocabulary import Vocabulary


def lark_reader(vocabulary: Vocabulary, environ: Mapping[str, str]) -> Reader:
    """A reader that asks Lark for every line."""
    if not _has_choice():
        return reader_for(vocabulary, environ)
    return Reader(vocabulary, derived=False)  # type: ignore[call-arg]


def derived_reader(vocabulary: Vocabulary, environ: Mapping[str, str]) -> Reader | None:
    """A reader that asks Lark only where the derived expressions do not match; None: there is none."""
    return reader_for(vocabulary, environ) if _has_choice() else None


def _has_choice() -> bool:
    return "derived" in signature(Reader.__init__).parameters

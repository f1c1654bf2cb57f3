"""Which loom, section, range or the shed a line speaks of, or why there is none of that name."""

from __future__ import annotations

from lark import Token

from grammar.diagnostics import Code, LineRefused
from grammar.entries import Place, Span
from grammar.line import Line, last_word, remember
from grammar.sense import no_such_loom, no_such_place
from grammar.vocabulary import Vocabulary


class Places:
    """Finds places by the words of one mill; the same words come again and again."""

    def __init__(self, vocabulary: Vocabulary) -> None:
        self._vocabulary = vocabulary
        self._known: dict[str, Place] = {}

    def of_head(self, line: Line, token: Token, word: str) -> Place:
        """The place that a line begins with, the token's second word. Raises LineRefused."""
        known = self._known.get(word)
        if known is not None:
            return known
        word = word.partition(";")[0]
        place = self._vocabulary.place(word)
        if place is None:
            start = token.value.index(word, len(token.value.split(None, 1)[0]))
            where = line.stretch(token, start, start + len(word))
            behind = line.folded.line[where.end :]
            told = no_such_place(self._vocabulary, word, _written(line, where), behind)
            raise self._unknown(line, where, told)
        return remember(self._known, word, place)

    def loom(self, line: Line, token: Token) -> str:
        """The loom that a token names last. Raises LineRefused."""
        word = last_word(token)
        loom = self._vocabulary.loom(word)
        if loom is None:
            where = line.last_word_span(token)
            told = no_such_loom(self._vocabulary, word, _written(line, where))
            raise self._unknown(line, where, told)
        return loom

    def _unknown(self, line: Line, where: Span, told: tuple[str, str]) -> LineRefused:
        message, help = told
        return line.refused(Code.UNKNOWN_LOOM, message, where, help=help)


def _written(line: Line, where: Span) -> str:
    return line.folded.line[where.start : where.end]

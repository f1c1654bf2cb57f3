"""What was checked, told from the verdict behind it."""

from __future__ import annotations

from lark import Token

from grammar.line import Line
from grammar.phrases import spellings
from grammar.vocabulary import Vocabulary


class Verdicts:
    """Finds the verdicts ``ok`` and ``bad`` in the words of one mill."""

    def __init__(self, vocabulary: Vocabulary) -> None:
        verdicts = (*spellings(vocabulary, ("ok",)), *spellings(vocabulary, ("bad",)))
        self._verdicts = sorted((verdict.split() for verdict in verdicts), key=len, reverse=True)

    def before(self, line: Line, token: Token) -> str:
        """What was checked, as written: the token without the verdict at its end."""
        whole = token.value.rstrip()
        for body in (whole, whole[:-1]):  # one stop or comma may stand behind the verdict
            words = body.split()
            for verdict in self._verdicts:
                if words[-len(verdict) :] == verdict:
                    text = body.rsplit(None, len(verdict))[0].rstrip(",:")
                    start = token.start_pos or 0
                    return line.folded.cut(start, start + len(text))
        raise AssertionError(f"the terminal ends with a verdict: {token}")

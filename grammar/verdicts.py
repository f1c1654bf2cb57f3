"""What was checked, told from the verdict behind it."""

from __future__ import annotations

from lark import Token

from grammar.diagnostics import Code, LineRefused
from grammar.line import Line
from grammar.negations import last_no
from grammar.phrases import spellings
from grammar.vocabulary import Vocabulary

_NEARLY = frozenset(("hardly", "almost", "nearly", "kaum", "beinahe"))


class Verdicts:
    """Finds the verdicts ``ok`` and ``bad`` in the words of one mill."""

    def __init__(self, vocabulary: Vocabulary) -> None:
        verdicts = (*spellings(vocabulary, ("ok",)), *spellings(vocabulary, ("bad",)))
        self._verdicts = sorted((verdict.split() for verdict in verdicts), key=len, reverse=True)

    def before(self, line: Line, token: Token) -> str:
        """What was checked, as written: the token without the verdict at its end.

        Raises LineRefused for a verdict that is taken back, as in ``not ok``, and where nothing
        but a stop stands before it.
        """
        whole = token.value.rstrip()
        for body in (whole, whole[:-1]):  # one stop or comma may stand behind the verdict
            words = body.split()
            for verdict in self._verdicts:
                if words[-len(verdict) :] == verdict:
                    text = body.rsplit(None, len(verdict))[0].rstrip(",:")
                    start = token.start_pos or 0
                    if not text.strip():
                        raise line.refused(
                            Code.NOT_UNDERSTOOD,
                            "checked does not say what",
                            token,
                            help="write it like: checked joint ok",
                        )
                    no = last_no(text)
                    if no is not None or text.split()[-1] in _NEARLY:
                        at = no.start() if no is not None else len(text.rsplit(None, 1)[0])
                        raise self._taken_back(line, token, at)
                    return line.folded.cut(start, start + len(text))
        raise AssertionError(f"the terminal ends with a verdict: {token}")

    def _taken_back(self, line: Line, token: Token, at: int) -> LineRefused:
        start = token.start_pos or 0
        said = line.folded.cut(start + at, start + len(token.value))
        return line.refused(
            Code.NOT_UNDERSTOOD,
            f'"{said}" is no verdict',
            token,
            label=said,
            help="end the check with ok or with bad alone; how it looked goes behind: ; note",
        )

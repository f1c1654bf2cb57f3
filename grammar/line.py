"""The line being read: from its folded text back to what was written, and its complaints.

Places in the folded text come from Lark's tokens; spans and cut text are of the line as written.
"""

from __future__ import annotations

from collections.abc import Callable, Container
from dataclasses import dataclass, field
from typing import TypeVar

from lark import Token
from lark.exceptions import UnexpectedInput

from grammar.diagnostics import Code, Diagnostic, LineRefused
from grammar.entries import Span
from grammar.folding import Folded
from grammar.making import placer

V = TypeVar("V")

_span: Callable[[int, int], Span] = placer(Span)
_KEPT = 8192  # how many words a memory holds at most
BEHIND = ".,:"  # what a writer may set behind a word


@dataclass(slots=True)
class Line:
    """One line while it is read; ``flags`` are the complaints about what counts all the same.

    ``only_locks``: it was refused, and is read once more for the isolations in it.
    """

    folded: Folded
    number: int = 0
    flags: list[Diagnostic] = field(default_factory=list)
    only_locks: bool = False

    def complaint(
        self, code: Code, message: str, where: Token | Span, *, label: str = "", help: str = ""
    ) -> Diagnostic:
        """A complaint about a stretch of this line."""
        return Diagnostic(
            code=code,
            message=message,
            line=self.number,
            span=self.span(where) if isinstance(where, Token) else where,
            text=self.folded.line,
            label=label,
            help=help,
        )

    def refused(
        self, code: Code, message: str, where: Token | Span, *, label: str = "", help: str = ""
    ) -> LineRefused:
        """A refusal of this line, to be raised."""
        return LineRefused(self.complaint(code, message, where, label=label, help=help))

    def span(self, first: Token, last: Token | None = None) -> Span:
        """From one token to another, without the white space at the end."""
        last = last or first
        start = first.start_pos or 0
        end = (last.start_pos or 0) + len(last.value.rstrip())
        if self.folded.origin is None:
            return _span(start, end)
        return self.folded.span(start, end)

    def at(self, start: int, end: int) -> Span:
        """A stretch of the folded text, as a span of at least one character."""
        span = self.folded.span(start, end)
        if span.end > span.start:
            return span
        first = max(min(span.start, len(self.folded.line) - 1), 0)
        return Span(first, first + 1)

    def stretch(self, token: Token, start: int, end: int) -> Span:
        """A stretch inside a token, counted from the token's start."""
        at = token.start_pos or 0
        return self.folded.span(at + start, at + end)

    def written(self, token: Token) -> str:
        """The token as it was written, trimmed."""
        start = token.start_pos or 0
        end = start + len(token.value)
        if self.folded.origin is None:
            return self.folded.line[start:end].strip()
        return self.folded.cut(start, end)

    def last_word(self, token: Token) -> str:
        """The last word of a token as it was written, without a full stop or comma behind it."""
        start, end = _last_word(token.value)
        at = token.start_pos or 0
        if self.folded.origin is None:
            return self.folded.line[at + start : at + end]
        return self.folded.cut(at + start, at + end)

    def last_word_span(self, token: Token) -> Span:
        """Where the last word of a token stands."""
        return self.stretch(token, *_last_word(token.value))


def _last_word(text: str) -> tuple[int, int]:
    body = text.rstrip().rstrip(BEHIND)
    return len(body) - len(body.rsplit(None, 1)[-1]), len(body)


def last_word(token: Token) -> str:
    """The last word of a token, folded, without a full stop or comma behind it."""
    return str(token.value).rstrip().rstrip(BEHIND).rsplit(None, 1)[-1]


def stopped_at(text: str, error: UnexpectedInput) -> int:
    """Where in the folded text Lark stopped reading."""
    token = getattr(error, "token", None)
    if getattr(token, "type", "") == "$END":
        return len(text)
    at = getattr(error, "pos_in_stream", None)
    if at is None:
        at = getattr(token, "start_pos", None)
    return min(max(at, 0), len(text)) if at is not None else len(text)


def known_words(words: str, known: Container[str]) -> str:
    """The words of a token that are known, without what a writer may have set behind them.

    Raises KeyError where no beginning of them is known.
    """
    single = " ".join(words.split())
    end = len(single)
    while end and single[:end] not in known:
        end -= 1
    if not end:
        raise KeyError(words)
    return single[:end]


def remember(known: dict[str, V], words: str, meaning: V) -> V:
    """Keeps what words mean, in a memory that cannot grow without end; returns the meaning."""
    if len(known) >= _KEPT:
        known.clear()
    known[words] = meaning
    return meaning

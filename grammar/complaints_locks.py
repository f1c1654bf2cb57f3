"""How a lock is written, told where a refused line may be meant to put one on or take one off.

A suggestion to put words behind ``note`` would hide them: it is never made of such a line.
"""

from __future__ import annotations

import re
from dataclasses import replace
from enum import Enum

from grammar.diagnostics import Code, Diagnostic
from grammar.folding import Folded, fold_word
from grammar.isolation_words import IsolationWords
from grammar.phrases import spellings
from grammar.sense import looms_there
from grammar.shapes import WORD
from grammar.vocabulary import Vocabulary

_TO_NOTE = re.compile(r"(?:after|behind): (?:; )?note")
_UNLOCK = re.compile(r"(?<!\w)(?:un|ent|de)-?(?:lock|isol|sperr|riegel)\w*")
_THE_LOCK = re.compile(r"(?<!\w)(?:pad)?locks?(?!\w)")
_INITIALS = re.compile(r"[^\W\d_]{2,4}")
_TWO_LINES = "write the isolation and the rest as two lines"
_LONGEST_PIECE = 200  # where a name is looked for; keeps hostile text cheap
_LONGEST_TEXT = 24  # characters of the line that a suggestion repeats


class OfLocks(Enum):
    """What a line may say of locks."""

    ISOLATED = "isolated by"
    SEEN = "lock seen by"
    REMOVED = "lock removed by"


class LockExplainer:
    """Tells how locks are written, with the mill's own words."""

    def __init__(self, vocabulary: Vocabulary, words: IsolationWords) -> None:
        self._vocabulary = vocabulary
        self._words = words
        self._looms = looms_there(vocabulary)
        self._for = spellings(vocabulary, ("for",))
        ends = {phrase.split()[-1] for kind in OfLocks for phrase in self._own(kind)}
        self._by = {*spellings(vocabulary, ("by",)), *map(fold_word, ends)}

    def unlocking(self, folded: Folded, clause: tuple[int, int]) -> str:
        """How the removal is written that a clause tells of by its first word; "" where none."""
        piece = re.compile("[^;]+").match(folded.text, *clause)
        if piece is None or not _UNLOCK.match(piece[0]) or not self._unlocks(piece[0]):
            return ""
        who, text = self._named(folded, piece)
        behind = text.split()
        of_another = len(behind) == 2 and fold_word(behind[0]) in self._for
        rest = f"{who}{text}" if of_another else who
        return f"write it like: {self._like(OfLocks.REMOVED, rest)}"

    def _unlocks(self, piece: str) -> bool:
        """Whether a piece of the line has a word for unlocking, and else none of isolation."""
        rest = _UNLOCK.sub(" ", piece)
        return rest != piece and not self._words.anywhere(_THE_LOCK.sub(" ", rest))

    def instead(self, diagnostic: Diagnostic, folded: Folded) -> Diagnostic:
        """The complaint about a line near an isolation, with help that hides no lock."""
        silent = diagnostic.code is Code.UNKNOWN_LOOM and diagnostic.help == self._looms
        if not silent and not _TO_NOTE.search(diagnostic.help):
            return diagnostic
        start = 0
        if head := re.compile(r"\s*\S+\s+(?:[^\s;]+[\s;]*)?").match(folded.text):
            if silent and self._words.isolates(folded.text[head.end() :]):
                return diagnostic  # all is there but for the name of the loom
            start = head.end() if not silent else head.end() - len(head[0].split(None, 1)[-1])
        for piece in re.compile("[^;]+").finditer(folded.text, start):
            if self._words.speaks(folded, *piece.span()) and not self._words.isolates(piece[0]):
                return replace(diagnostic, help=self._help(folded, piece, silent=silent))
        if silent:
            return diagnostic
        return replace(diagnostic, help=_TWO_LINES)

    def _help(self, folded: Folded, piece: re.Match[str], *, silent: bool) -> str:
        who, text = self._named(folded, piece)
        kinds = {
            OfLocks.REMOVED: self._words.removes(piece[0]) or self._unlocks(piece[0]),
            OfLocks.SEEN: self._words.looks(piece[0]),
        }
        for kind, meant in kinds.items():
            if meant:
                return f"write it like: {self._like(kind, who)}; to isolate: isolated by {who}"
        if _UNLOCK.search(piece[0]):
            return _TWO_LINES
        if not any(map(str.isdecimal, text)):
            text = ""  # it tells of no lock's number
        lead = "write the loom first, then: " if silent else "write it like: "
        return f"{lead}{self._like(OfLocks.ISOLATED, f'{who}{text}')}"

    def _own(self, kind: OfLocks) -> tuple[str, ...]:
        return self._vocabulary.words_for(kind.value)

    def _like(self, kind: OfLocks, rest: str) -> str:
        return ", or: ".join(f"{phrase} {rest}" for phrase in (kind.value, *self._own(kind)[:1]))

    def _named(self, folded: Folded, piece: re.Match[str]) -> tuple[str, str]:
        """Whose lock a piece of the line seems to speak of, and what it says behind the name."""
        end = min(piece.end(), piece.start() + _LONGEST_PIECE)
        words = list(WORD.finditer(folded.text, piece.start(), end))
        written = [folded.cut(*word.span()).strip(".,:") for word in words]
        at = next((i + 1 for i, w in enumerate(words[:-1]) if w[0] in self._by), None)
        if at is None:
            at = next((i for i, w in enumerate(written) if self._is_name(w)), None)
        if at is None or not written[at]:
            return "KM", " lock 14"
        text = folded.cut(words[at].end(), piece.end())
        return written[at], f" {text}" if text and len(text) <= _LONGEST_TEXT else ""

    def _is_name(self, word: str) -> bool:
        return (
            word.isupper()
            and _INITIALS.fullmatch(word) is not None
            and self._vocabulary.place(word) is None
            and not self._words.near(fold_word(word))
        )

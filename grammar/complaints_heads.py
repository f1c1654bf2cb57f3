"""The key phrases that clauses begin with, and what is said of a stretch that begins with none."""

from __future__ import annotations

import re
from collections.abc import Callable

from grammar.diagnostics import Code, Diagnostic
from grammar.entries import PlaceKind
from grammar.line import Line
from grammar.nearest import did_you_mean
from grammar.phrases import CLAUSE_HEADS, VERBS, key_word, spellings
from grammar.sense import a_few, several_looms
from grammar.times import CLOCK
from grammar.vocabulary import Vocabulary

# Key phrases that want a `by`, told of without it too: lock seen RB
_WITHOUT_BY = ("isolated", "lock seen", "lock removed", "taken over")
JOINS = frozenset(("and", "&", "+", "to", "-", "und"))  # between two looms or sides
_LONGEST_SHOWN = 30  # characters of the line that a suggestion repeats
_LOCKS = {f"{lock}{by}" for lock in _WITHOUT_BY[:3] for by in ("", " by")}
_NAME_A_PART = frozenset(
    (*VERBS, "moved", "fault", "fault cleared", "torque", "checked", "open", "note")
)
_ACTION = ("open", "due", "for")
_OF_A_JOB = {"thread-locked": "tightened", "batch": "replaced"}  # and a job that they stand behind
_OF_THE_LOOM = frozenset(("stopped", "running", "counter", "style", *_LOCKS))
_PLACE = re.compile(r"\s*\S+\s+[^\s;]+[\s;]*")
_MANY = re.compile(r"[+&/,]+")


class ClauseHeads:
    """Finds what clauses begin with, in the words of one mill."""

    def __init__(self, vocabulary: Vocabulary) -> None:
        self._vocabulary = vocabulary
        self.whole = {
            word: head for head in CLAUSE_HEADS for word in spellings(vocabulary, _split(head))
        }
        before = _NAME_A_PART | {"thread-locked"}
        self._before_a_part = {word: head for word, head in self.whole.items() if head in before}
        self._begins = dict(self.whole)
        for bare in (*_WITHOUT_BY, "due", "for", "sealed"):
            for word in spellings(vocabulary, (bare,)):
                self._begins.setdefault(word, bare)
        self._use = re.compile(rf"{key_word(spellings(vocabulary, ('in',)))}[0-9]")
        when = (*spellings(vocabulary, ("before start",)), *vocabulary.shift_by_word)
        self._when = re.compile(rf"{key_word(when)}|{CLOCK.pattern}")
        phrases = {*self._begins, *(alias for a in vocabulary.aliases.values() for alias in a)}
        self._phrases = sorted(phrase for phrase in phrases if " " in phrase)

    def named(self, words: str) -> str:
        """The head that these words are; "" where they are none."""
        return self._begins.get(" ".join(words.split()), "")

    def of(self, text: str, clause: tuple[int, int]) -> tuple[str, int] | None:
        """The key phrase that a clause of the folded text begins with, and where it ends."""
        found: tuple[str, int] | None = None
        for word, head in self._begins.items():
            pattern = r"\s+".join(map(re.escape, word.split()))
            match = re.compile(rf"{pattern}(?![\w-])").match(text, *clause)
            if match and (found is None or match.end() > found[1]):
                found = head, match.end()
        return found

    def behind_a_part(
        self, line: Line, part: tuple[int, int], rest: tuple[int, int]
    ) -> Diagnostic | None:
        """What is said where a key phrase stands behind the part that it should stand before."""
        head = self.of(line.folded.text, rest)
        if head is None:
            return None
        name, end = head
        words, place = line.folded.cut(rest[0], end), line.folded.cut(*part)
        where = line.at(rest[0], end)
        if name in _OF_A_JOB:
            help = self.of_a_job(line, rest, place)
            message = f"{words} names no part"
        elif name in _NAME_A_PART:
            message = f"{words} stands before the part"
            more = line.folded.cut(end, rest[1]).lstrip(",:. ")
            help = f"write {words} {place} {more if len(more) <= _LONGEST_SHOWN else ''}".rstrip()
        elif name in _OF_THE_LOOM:
            message = f"{words} is said of the loom and not of a part"
            help = f"leave {place} out"
        else:
            return None
        return line.complaint(Code.NOT_UNDERSTOOD, message, where, help=help)

    def of_a_job(self, line: Line, clause: tuple[int, int], place: str) -> str:
        """How to write what belongs to a job and names no part itself; "" where it is no such."""
        head = self.of(line.folded.text, clause)
        if head is None or head[0] not in _OF_A_JOB:
            return ""
        name, end = head
        if name == "batch":
            word = re.compile(r"\s*[^\s;]+").match(line.folded.text, end, clause[1])
            end = word.end() if word else end
        words = line.folded.cut(clause[0], end)
        return f"write {words} alone, or behind its job: {_OF_A_JOB[name]} {place}; {words}"

    # -- what is no clause -----------------------------------------------------------------

    def behind(self, line: Line, rest: tuple[int, int], message: str, help: str) -> Diagnostic:
        """More stands in a clause than belongs to it: a clause without its ``;``, or free text."""
        if self.of(line.folded.text, rest) is not None:
            message = "a new clause begins here"
            written = line.folded.cut(*rest)
            help = "put ; before it"
            if len(written) <= _LONGEST_SHOWN:
                help += f": ; {written}"
        return line.complaint(Code.NOT_UNDERSTOOD, message, line.at(*rest), help=help)

    def near(
        self, line: Line, words: list[re.Match[str]], part_at: Callable[[int], bool]
    ) -> Diagnostic | None:
        """What is said where the first words are near a key phrase, or begin one of the mill's.

        ``part_at`` tells whether a part begins at a place: only some phrases stand before one.
        """
        text = line.folded.text
        for count in (3, 2, 1):  # the longest stretch that is near a phrase
            if len(words) < count:
                continue
            span = (words[0].start(), words[count - 1].end())
            meant = self._before_a_part if part_at(_next(words, count)) else self.whole
            near = did_you_mean(" ".join(text[slice(*span)].split()).rstrip(".,:"), meant)
            if near:
                return self._none(line, span, near)
        first = words[0][0].rstrip(".,:")
        begun = [phrase for phrase in self._phrases if phrase.split()[0] == first]
        if not begun:
            return None
        message = f"{line.folded.cut(*words[0].span())} alone is no word of the language"
        begun = [phrase for phrase in begun if f"{phrase} by" not in begun]
        help = f"write it like: {a_few(begun)}; free text after: note"
        return line.complaint(Code.NOT_UNDERSTOOD, message, line.at(*words[0].span()), help=help)

    def none(self, line: Line, clause: tuple[int, int], word: re.Match[str]) -> Diagnostic:
        """What is said of a clause whose first word is known nowhere."""
        head = self._before(line.folded.text, clause[0])
        help = "a clause begins with a word like stopped, fault or replaced; free text after: note"
        if head in _ACTION:
            help = "behind an action may stand due, for or by; free text after: note"
        return self._none(line, word.span(), help)

    def _before(self, text: str, at: int) -> str:
        """What the clause before a place begins with; "" where it begins with no key phrase."""
        place = _PLACE.match(text)
        end_before = len(text[:at].rstrip("; \t"))
        start = max(text.rfind(";", 0, end_before) + 1, place.end() if place else 0)
        start += len(text[start:]) - len(text[start:].lstrip())
        head = self.of(text, (start, at))
        return head[0] if head else ""

    def without_due(self, line: Line, clause: tuple[int, int]) -> Diagnostic | None:
        """What is said of a clause that tells when an action is due, and not that it is due."""
        text = line.folded.text
        of_action = self._before(text, clause[0]) in _ACTION
        told = of_action and self._when.fullmatch(text, *clause) is not None
        if not told and self._use.match(text, *clause) is None:
            return None
        written = line.folded.cut(*clause)
        help = "write due before it"
        if not of_action:
            help = "write it behind an action, like: open recheck left tape; due in 200 h"
        elif len(written) <= _LONGEST_SHOWN:
            help = f"write due {written}"
        message = f"{written} is a time without the word due"
        return line.complaint(Code.NOT_UNDERSTOOD, message, line.at(*clause), help=help)

    def _none(self, line: Line, span: tuple[int, int], help: str) -> Diagnostic:
        message = f"{line.folded.cut(*span)} is no word of the language"
        return line.complaint(Code.NOT_UNDERSTOOD, message, line.at(*span), help=help)

    def second_loom(self, line: Line, words: list[re.Match[str]]) -> Diagnostic | None:
        """What is said where a second loom stands in place of what was done."""
        at = 1 if len(words) > 1 and words[0][0] in JOINS else 0
        loom = _MANY.split(words[at][0], maxsplit=1)[0]
        place = self._vocabulary.place(loom)
        if place is None or place.kind not in (PlaceKind.LOOM, PlaceKind.RANGE):
            return None
        first = _PLACE.match(line.folded.text)
        rest = line.folded.text[words[at].start() :]
        if first is None or words[0].start() > first.end():  # behind another clause
            rest = ""
        message, help = several_looms(self._vocabulary, rest)
        return line.complaint(Code.NOT_UNDERSTOOD, message, line.at(*words[at].span()), help=help)


def _next(words: list[re.Match[str]], count: int) -> int:
    """Where the word behind the first ones begins."""
    return words[count].start() if count < len(words) else words[-1].end()


def _split(head: str) -> tuple[str, ...]:
    """A clause head in the components that the mill may alias one by one."""
    if head.endswith(" by"):
        return head.removesuffix(" by"), "by"
    if head == "fault cleared":
        return "fault", "cleared"
    return (head,)

"""A question to the history: words and filters in, hits in the order of time out.

All words and all filters must hold. Lines that were refused are searched too. Pure; the lines
come from ``searched``, the wordings from ``wordings``, printing is left to ``show.find_screen``.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import field
from datetime import datetime

from board.near import RecordWords, WordsOf, near
from board.searched import Found, Lines, lines_of, looms_of_place, own_looms
from board.state.history import StyleChange
from board.wordings import Term, terms
from grammar import entries as e
from grammar.folding import fold, fold_word
from grammar.frozen import dataclass
from grammar.vocabulary import Vocabulary, alternatives

# a name of ``grammar.entries.KINDS``, and for work maybe what was done
Kind = tuple[str, e.Verb | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """What is asked for; None and empty ask for nothing.

    ``kinds`` are those of which a line has one at least.
    ``since`` is included, ``until`` is not.
    """

    words: tuple[str, ...] = ()
    loom: str | None = None
    part: str | None = None
    side: str | None = None
    kinds: tuple[Kind, ...] = ()
    by: str | None = None
    style: str | None = None
    since: datetime | None = None
    until: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Hit:
    """A line that answers the question, with its neighbours on the same loom."""

    found: Found
    before: tuple[Found, ...] = ()
    after: tuple[Found, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Totals:
    """In how many hits each loom, part and symptom is, the most frequent first."""

    looms: tuple[tuple[str, int], ...] = ()
    parts: tuple[tuple[str, int], ...] = ()
    symptoms: tuple[tuple[str, int], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """Hits in time order, and near spellings of the words that stand in no line."""

    hits: tuple[Hit, ...]
    totals: Totals
    near: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


Test = Callable[[Found], bool]


def search(
    lines: Lines,
    question: Question,
    *,
    around: int = 0,
    written_by: datetime | None = None,
    record: RecordWords | None = None,
) -> Answer:
    """The lines that answer a question, each with up to ``around`` neighbours to each side.

    ``written_by``: as the record stood then, without what is later. ``record`` tells the words of
    every line, where only some of them are given.
    """
    every = lines_of(lines, until=written_by)
    vocabulary = lines.mill.vocabulary
    tests = _filters(question, vocabulary, lines.styles)
    wanted = terms(question.words, vocabulary)
    hits = [f for f in every if all(test(f) for test in tests)]
    if wanted:
        hits = [f for f in hits if _holds(f, wanted)]
    spellings: dict[str, tuple[str, ...]] = {}
    if not hits and wanted:
        known = record if record is not None else WordsOf.of(f.text for f in lines_of(lines))
        spellings = {t.written: near(t.written, known, vocabulary) for t in wanted}
    return Answer(
        hits=tuple(_with_neighbours(hits, every, around)),
        totals=totals(hits, vocabulary),
        near={word: words for word, words in spellings.items() if words},
    )


def _holds(found: Found, wanted: Iterable[Term]) -> bool:
    folded = " ".join(fold(found.text).text.split())
    looms = found.place.looms if found.place and found.place.kind is e.PlaceKind.LOOM else ()
    return all(term.matches(folded, looms) for term in wanted)


# -- filters -------------------------------------------------------------------------------


def _filters(
    question: Question, vocabulary: Vocabulary, styles: Sequence[StyleChange]
) -> list[Test]:
    tests: list[Test] = []
    if question.loom is not None:
        loom = question.loom
        tests.append(lambda f: loom in looms_of(f))
    if question.part is not None or question.side is not None:
        tests.append(_of_part(question.part, question.side, vocabulary))
    if question.kinds:
        kinds = question.kinds
        tests.append(lambda f: any(_is_of(f, kind) for kind in kinds))
    if question.by is not None:
        who = fold_word(question.by)
        tests.append(lambda f: f.by is not None and fold_word(f.by) == who)
    if question.since is not None:
        since = question.since
        tests.append(lambda f: f.near is not None and f.near >= since)
    if question.until is not None:
        until = question.until
        tests.append(lambda f: f.near is not None and f.near < until)
    if question.style is not None:
        tests.append(_in_style(fold_word(question.style), styles))
    return tests


def _is_of(found: Found, kind: Kind) -> bool:
    name, verb = kind
    return name in found.kinds and (verb is None or verb in _verbs(found))


def _verbs(found: Found) -> set[e.Verb]:
    return {c.verb for c in found.clauses if isinstance(c, e.Worked)}


def _of_part(part: str | None, side: str | None, vocabulary: Vocabulary) -> Test:
    """Whether a clause is about the part and side, or a text names them."""
    names = vocabulary.part_by_name[part] if part is not None else None
    part_words = _pattern((names.name, *names.words) if names else ())
    side_words = _pattern((side, *vocabulary.words_for(side)) if side else ())

    def of_clause(clause: e.Clause) -> bool:
        at: e.PartAt | None = getattr(clause, "at", None)
        own = getattr(clause, "side", None) or (at.side if at else None)
        if at is None:
            return part is None and own == side
        return (part is None or at.part == part) and (side is None or own == side)

    def of_text(found: Found) -> bool:
        free = found.text
        if found.clauses:
            # clauses with a part of their own were asked already
            spans = [c.span for c in found.clauses if getattr(c, "at", None) is None]
            free = " ; ".join(found.text[s.start : s.end] for s in spans)
        text = fold(free).text
        pieces = text.split(";")
        return any(
            (part_words is None or part_words.search(piece))
            and (side_words is None or side_words.search(piece))
            for piece in pieces
        )

    return lambda f: any(of_clause(c) for c in f.clauses) or of_text(f)


def _pattern(words: Iterable[str]) -> re.Pattern[str] | None:
    folded = [fold_word(word) for word in words]
    return re.compile(rf"(?<!\w)(?:{alternatives(folded)})(?!\w)") if folded else None


def _in_style(style: str, styles: Iterable[StyleChange]) -> Test:
    """Whether a line was written of a loom while the style was on it."""
    changes: dict[str, list[tuple[float, str]]] = defaultdict(list)
    for change in styles:
        changes[change.loom].append((change.when.timestamp(), fold_word(change.style)))

    def woven(loom: str, at: float) -> str | None:
        known = changes.get(loom, [])
        index = bisect_right(known, (at, "\uffff"))
        return known[index - 1][1] if index else None

    def test(found: Found) -> bool:
        if found.place is None or found.near is None:
            return False
        at = found.near.timestamp()
        return any(woven(loom, at) == style for loom in found.place.looms)

    return test


# -- what stands around a hit --------------------------------------------------------------


def _with_neighbours(hits: Sequence[Found], lines: Sequence[Found], around: int) -> Iterable[Hit]:
    if around <= 0:
        return [Hit(found=f) for f in hits]
    by_loom: dict[str, list[Found]] = defaultdict(list)
    by_file: dict[str, list[Found]] = defaultdict(list)
    for found in lines:
        by_file[found.path].append(found)
        for loom in looms_of(found):
            by_loom[loom].append(found)
    for own in by_file.values():
        own.sort(key=lambda f: f.line)
    places = {loom: {id(f): i for i, f in enumerate(own)} for loom, own in by_loom.items()}
    result = []
    for found in hits:
        one = only_loom(found)
        # of no one loom, or of one that could not be read: what stands beside it in its file
        own = by_loom[one] if one is not None else by_file[found.path]
        at = places[one][id(found)] if one is not None else own.index(found)
        before = tuple(own[max(at - around, 0) : at])
        result.append(Hit(found=found, before=before, after=tuple(own[at + 1 : at + 1 + around])))
    return result


def looms_of(found: Found) -> tuple[str, ...]:
    """The looms that a line is about, as ``looms_of_place`` tells; none where no place was read."""
    return looms_of_place(found.place, found.clauses) if found.place is not None else ()


def only_loom(found: Found) -> str | None:
    """The one loom that a line is written of, on which its neighbours stand."""
    looms = own_looms(found.place, found.clauses) if found.place is not None else ()
    return looms[0] if len(looms) == 1 else None


# -- totals --------------------------------------------------------------------------------


def totals(hits: Iterable[Found], vocabulary: Vocabulary) -> Totals:
    """The hits counted by loom, part and symptom; a hit counts once for each that it names."""
    looms: Counter[str] = Counter()
    parts: Counter[str] = Counter()
    symptoms: Counter[str] = Counter()
    for found in hits:
        if found.loom is not None:
            looms[found.loom] += 1
        parts.update(_parts(found))
        symptoms.update({c.symptom for c in found.clauses if isinstance(c, e.FaultOpened)} - {""})
    place = {loom: i for i, loom in enumerate(vocabulary.looms)}
    return Totals(
        looms=_most(looms, lambda name: (place.get(name, len(place)), name)),
        parts=_most(parts),
        symptoms=_most(symptoms),
    )


def _parts(found: Found) -> set[str]:
    named = {getattr(clause, "at", None) for clause in found.clauses} - {None}
    return {f"{at.side} {at.part}" if at.side else at.part for at in named if at is not None}


def _most(
    counter: Counter[str], order: Callable[[str], tuple[int, str]] = lambda name: (0, name)
) -> tuple[tuple[str, int], ...]:
    """The most frequent first, equals in their order: looms in the register's, else by name."""
    return tuple(sorted(counter.items(), key=lambda item: (-item[1], order(item[0]))))

"""What a line may not say as its writer meant it, and what speaks against it without refusing it.

One sentence each, told before the line is written: nothing of this stops it, and nothing is
guessed. What a line was understood to say is left to ``understood``.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import replace

from board.judging import Judged
from board.show.doubts_second import second_in_fault, second_in_job
from board.show.moments import clock
from board.state.fleet import LoomState, ProofFault
from grammar import entries as e
from grammar.folding import fold, fold_word
from grammar.isolation_words import IsolationWords
from grammar.lock_beside import is_surname, is_work, nobody, people_of
from grammar.nearest import did_you_mean, distance
from grammar.phrases import KEY_PHRASES, spellings
from grammar.vocabulary import Vocabulary

_PROOF_WORDS = ("torque", "thread-locked", "checked", "batch")
_BY_SOMEONE = re.compile(r"(\S+)\s+[^\W\d_]{1,3}[.,]?\s*")
_JOINED = re.compile(r"(.*[^\W\d_])([0-9]{1,4})")
_TOGETHER = re.compile(r"[,&+/]")  # between two people in one word
_SHORTEST_BEGUN = 4  # letters of a word that may be the beginning of another
_MOST = 6  # lines about the looms of a group that runs again

_THINGS = frozenset(("lock", "padlock"))
_SELVES = _THINGS | frozenset(
    ("me", "myself", "i", "us", "we", "self", "ich", "mich", "mir", "uns", "wir")
)
_INITIALS = "their initials"


def doubts(judged: Judged) -> tuple[str, ...]:
    """What to look at once more in a line; none for a line not understood."""
    entry = judged.draft.entry
    if entry is None:
        return ()
    found: list[str] = list(_isolation_in_text(judged, entry))
    for clause in entry.clauses:
        found += _of_clause(judged, entry, clause)
    return tuple(dict.fromkeys(found))


def _isolation_in_text(judged: Judged, entry: e.Entry) -> Iterator[str]:
    """An isolation that a free text took in: the worst to be lost."""
    if not judged.draft.reading.may_isolate:
        return
    folded = fold(judged.draft.line)
    words = IsolationWords(judged.mill.vocabulary)
    if (told := words.taken_in(folded, entry.clauses)) is not None:
        start = folded.span(told.start, told.start + 1).start
        written = folded.cut(told.start, len(folded.text)).partition(";")[0].strip()
        owners = {fold_word(c.by): c.by for c in entry.clauses if isinstance(c, e.Isolated)}
        if owner := owners.get(fold_word(told.who)):
            piece = folded.line[folded.line.rfind(";", 0, start) + 1 :].partition(";")[0]
            if elsewhere := tuple(_other_looms(judged, entry, owner, piece)):
                yield from elsewhere
                return
        note = isinstance(entry.clauses[-1], e.Note) and entry.clauses[-1].span.start < start
        put = "write it before the note" if note else "put ; before it"
        whole = told.who in [word.strip(".,:") for word in written.split()[:3]]
        if not (whole and words.isolates(folded.text[told.start :])) or is_work(told.who):
            who = _INITIALS if is_work(told.who) else told.who
            put = f"write {'before the note' if note else '; and then'}: isolated by {who}"
        yield (
            f'"{written}" stands inside the text and NO ISOLATION IS ON RECORD by it: {put};'
            " where no lock is meant, say it in other words, or the board asks about it"
        )


def _of_clause(judged: Judged, entry: e.Entry, clause: e.Clause) -> Iterator[str]:
    vocabulary = judged.mill.vocabulary
    match clause:
        case e.Isolated(by=by, text=text):
            yield from _nameless(judged, entry, by, text)
            yield from _of_another(judged, by, text)
            yield from _other_looms(judged, entry, by, text)
            yield from _swallowed(vocabulary, text, ())
        case e.FaultOpened(text=text):
            yield from _nearly_cleared(vocabulary, text)
            yield from filter(None, [second_in_fault(vocabulary, clause)])
            yield from _not_found(vocabulary, clause)
            yield from _swallowed(vocabulary, text, _PROOF_WORDS)
        case e.Worked(at=at, text=text):
            written = judged.draft.line[clause.span.start : clause.span.end]
            yield from filter(None, [second_in_job(vocabulary, clause, written)])
            yield from _swallowed(vocabulary, text, _PROOF_WORDS)
            yield from _numbers_apart(judged, entry, at, text)
        case e.Measured(at=at) | e.Gauged(at=at):
            yield from _numbers_apart(judged, entry, at, "")
        case e.Opened(text=text):
            yield from _swallowed(vocabulary, text, ("due",))
        case e.TakenOver(by=by):
            yield from _handed_to_another(judged, entry, by)
        case e.FaultCleared(text=text) | e.Done(text=text) | e.Dropped(text=text):
            yield from _swallowed(vocabulary, text, ())
        case e.Running(text=text):
            yield from _swallowed(vocabulary, text, ())
            yield from _before_it_runs(judged, entry)
        case _:
            pass


# -- people --------------------------------------------------------------------------------


def _nameless(judged: Judged, entry: e.Entry, by: str, text: str) -> Iterator[str]:
    """A lock of "me", or of nobody: it counts, and nobody can be asked."""
    writer = judged.draft.who
    folded = fold_word(by)
    initials = len(by) <= 3 and by.isupper() and folded not in _THINGS
    if writer is None or initials or fold_word(writer) == folded:
        return
    loom = entry.place.name
    if folded in _SELVES:
        told = f"{by} {text}" if folded in _THINGS else text
        who = f"{writer}{f' {told}' if told else ''}"
    elif nobody(by, text) and people_of(by) == (by,):
        who = _INITIALS
    else:
        return
    yield (
        f"a lock needs initials, and {by} is nobody that can be asked: write {loom} isolated by"
        f" {who}; where it stands as {by} already, add: {loom} lock removed by {writer} for {by}"
    )


def _of_another(judged: Judged, by: str, text: str) -> Iterator[str]:
    """Somebody named behind a lock's owner, or in one word with it: one lock is on record."""
    entry = judged.draft.entry
    locks = [c for c in entry.clauses if isinstance(c, e.Isolated)] if entry is not None else []
    words = IsolationWords(judged.mill.vocabulary)
    other = words.another(by, text, locks)
    first = text.split(None, 1)[0].strip(".,:") if text else ""
    if other is not None and is_surname(by, text):
        yield (
            f"a name is one word: this is a lock of {by}, and {first} is text of it; write"
            f" initials, or: isolated by {by}-{first}; for a lock of {first} beside it add:"
            f" ; isolated by {first}"
        )
    elif other is not None and fold_word(other).startswith("lock "):
        yield (
            f"one lock a person: this is the lock of {by} alone, and {other} is text of it; if"
            f" {other} is not of {by} add: ; isolated by {_INITIALS} {other}"
        )
    elif other is not None and (fold_word(by) in _SELVES or not nobody(by, text)):
        who = _INITIALS if is_work(other) else other
        yield (
            f"one lock a person: this is the lock of {by} alone, and {other} is text of it; for"
            f" a lock of {other} too add: ; isolated by {who}"
        )
    several = people_of(by)
    if len(several) > 1:
        told = "; ".join(f"isolated by {who}" for who in several)
        yield f"one lock a person: this is one lock, of {by}; write: {told}"
    elif several[0] != by and _TOGETHER.search(by.strip(",&+/")):
        rest = _TOGETHER.sub(" ", by.partition(several[0])[2]).strip()
        told = " ".join(filter(None, (several[0], rest, text)))
        yield f"{by} is one word, and the owner of this lock: write isolated by {told}"


def _other_looms(judged: Judged, entry: e.Entry, by: str, text: str) -> Iterator[str]:
    """Another loom in the text of a lock: it has no lock by that."""
    words = IsolationWords(judged.mill.vocabulary)
    looms = words.looms_beside(fold(judged.draft.line), text)
    if looms:
        several = "" if len(looms) == 1 else f", and so for {_named(looms[1:])}"
        yield (
            f"one loom a line: this is a lock on {entry.place.name} alone, and NO ISOLATION IS ON"
            f" RECORD for {_named(looms)} by it: write a line more:"
            f" {looms[0]} isolated by {by}{several}"
        )


def _named(looms: tuple[str, ...]) -> str:
    return ", ".join(looms[:_MOST]) + (" and others" if len(looms) > _MOST else "")


def _handed_to_another(judged: Judged, entry: e.Entry, by: str) -> Iterator[str]:
    """Who takes over what was handed to somebody else, who may think it is theirs."""
    handover = judged.after.shed.handovers.get(entry.place.name)
    if handover is not None and handover.went_to_another and handover.taken_by == by:
        yield (
            f"{handover.by} handed it over to {handover.to}: ask {handover.to} before {by} answers"
            " for it"
        )


# -- what was taken for text ---------------------------------------------------------------


def _swallowed(vocabulary: Vocabulary, text: str, names: tuple[str, ...]) -> Iterator[str]:
    """Key words inside a free text, where they count for nothing."""
    folded = fold(text)
    for name in names:
        for word in spellings(vocabulary, (name,)):
            pattern = r"\s+".join(map(re.escape, word.split())).replace(r"\-", r"[\s-]?")
            found = re.search(rf"(?<![\w-]){pattern}(?![\w-])", folded.text)
            if found is not None:
                yield _stands_inside(folded.cut(*found.span()))
                break
    words = list(re.finditer(r"\S+", folded.text))
    if len(words) >= 2:
        tail = folded.text[words[-2].start() :]
        match = _BY_SOMEONE.fullmatch(tail)
        by = match is not None and match[1] in spellings(vocabulary, ("by",))
        if by and not _speaks_of_isolation(vocabulary, folded.text[: words[-2].start()]):
            yield _stands_inside(folded.cut(words[-2].start(), len(folded.text)))


def _speaks_of_isolation(vocabulary: Vocabulary, text: str) -> bool:
    """Whether a text ends with the word of an isolation: the ``by`` behind it is not the writer."""
    ends = spellings(vocabulary, ("isolated",))
    return text.rstrip(" .,:").endswith(ends)


def _stands_inside(written: str) -> str:
    return f'"{written}" stands inside the text and counts for nothing: put ; before it'


# -- what was meant to close a fault -------------------------------------------------------


def _nearly_cleared(vocabulary: Vocabulary, text: str) -> Iterator[str]:
    """A fault that is called nearly like the word that closes one: it is another fault."""
    folded = fold(text)
    first = re.match(r"\S+", folded.text)
    if first is None or first[0].strip(".,:") in _known_words(vocabulary):
        return
    word = first[0].strip(".,:")
    heads = spellings(vocabulary, ("fault",))
    for phrase in spellings(vocabulary, ("fault", "cleared")):
        closing = next((phrase[len(h) + 1 :] for h in heads if phrase.startswith(f"{h} ")), "")
        begun = len(word) >= _SHORTEST_BEGUN and closing.startswith(word)
        if closing and (begun or distance(word, closing, 1) <= 1):
            rest = folded.cut(first.end(), len(folded.text)).strip()
            meant = f"{phrase} {rest}".strip()
            yield f'this opens a fault called "{folded.cut(*first.span())}"; did you mean {meant}?'
            return


# -- parts and sides -----------------------------------------------------------------------


def _not_found(vocabulary: Vocabulary, clause: e.FaultOpened) -> Iterator[str]:
    """What a fault's text names no word for that the register knows."""
    folded = fold_word(clause.text)
    part = vocabulary.part_by_name[clause.at.part] if clause.at is not None else None
    if part is None:
        near = _near_part(vocabulary, folded)
        if near:
            yield f"no part found; {near}"
    if clause.side is None and (part is None or part.sides):
        near = _near(folded, vocabulary.side_by_word, vocabulary)
        if near:
            yield f"no side told; {near}"
        elif part is not None:
            yield f"no side told: {' or '.join(part.sides)}?"


def _near_part(vocabulary: Vocabulary, folded: str) -> str:
    for word in folded.split():
        joined = _JOINED.fullmatch(word.strip(".,:"))
        if joined is not None and joined[1] in vocabulary.part_by_word:
            return f"{joined[0]}: put a blank: {joined[1]} {joined[2]}"
    return _near(folded, vocabulary.part_by_word, vocabulary)


def _near(folded: str, wanted: Mapping[str, object], vocabulary: Vocabulary) -> str:
    """The first word of a text that is nearly one of those wanted: ``lft: did you mean left?``."""
    known = _known_words(vocabulary)
    for word in (w.strip(".,:") for w in folded.split()):
        if len(word) < 3 or word in known:
            continue
        alike = {w: means for w, means in wanted.items() if " " not in w and w[0] == word[0]}
        told = did_you_mean(word, alike)
        if told:
            return f"{word}: {told}"
    return ""


def _known_words(vocabulary: Vocabulary) -> frozenset[str]:
    """Every word of the language and of the mill: none of them is a slip of the pen."""
    phrases = [*KEY_PHRASES, *vocabulary.part_by_word, *vocabulary.side_by_word]
    phrases += [*vocabulary.quantity_words, *vocabulary.symptoms]
    for words in (*vocabulary.symptoms.values(), *vocabulary.aliases.values()):
        phrases += words
    return frozenset(word for phrase in phrases for word in fold_word(phrase).split())


def _numbers_apart(judged: Judged, entry: e.Entry, at: e.PartAt, text: str) -> Iterator[str]:
    """A part without its number where only numbered ones are on record, or the other way round.

    A number may be none of a part: ``adjusted left tape 2 turns``.
    """
    if entry.place.kind is not e.PlaceKind.LOOM:
        return
    parts = judged.before.looms[entry.place.name].parts
    alike = {p.number for p in parts if (p.part, p.side) == (at.part, at.side)}
    numbers = sorted(number for number in alike if number is not None)
    if at.number is None and numbers:
        told = ", ".join(map(str, numbers))
        yield (
            f"{at.words()} stands without a number, and on record is {at.words()} {told}: it is"
            " kept apart from them"
        )
    elif at.number is not None and None in alike and set(numbers) <= {at.number}:
        plain = replace(at, number=None).words()
        other = f" and add: ; note {at.number} {text}" if text else ""
        yield (
            f"{at.words()} is kept apart from {plain}, which is on record without a number: if"
            f" {at.number} is no number of a part, leave it out{other}"
        )


# -- before it runs ------------------------------------------------------------------------


def _before_it_runs(judged: Judged, entry: e.Entry) -> Iterator[str]:
    """What is missing, open or due on a loom that is written as running."""
    if entry.place.kind is e.PlaceKind.LOOM:
        yield from _still_there(judged, judged.after.looms[entry.place.name])
        return
    told = [t for loom in entry.place.looms for t in _still_there(judged, judged.after.looms[loom])]
    yield from told[:_MOST]
    if len(told) > _MOST:
        yield f"and {len(told) - _MOST} more of these on the looms of {entry.place.name}"


def _still_there(judged: Judged, state: LoomState) -> Iterator[str]:
    loom = state.loom
    for proof in state.proofs:
        part = f"{proof.at.words()}: " if proof.at is not None else ""
        fault = "missing" if proof.fault is ProofFault.MISSING else proof.why
        by = f", job by {proof.by}" if proof.by else ""
        yield f"{loom} running without proof: {part}{proof.what} {fault}{by}"
    for still in state.faults:
        since = clock(still.since, judged.now, judged.mill.zone)
        yield f"{loom} running with a fault open since {since}: {still.text}"
    shed = [a for a in judged.after.shed.actions if loom in a.place.looms]
    for action in (*state.actions, *shed):
        if isinstance(action.due, e.DueBeforeStart):
            number = f"no {action.number} " if action.number is not None else ""
            yield f"{loom} running with an action due before start: {number}{action.text}"

"""The questions of the handover sheet in plain words."""

from __future__ import annotations

from typing import assert_never

from board.reckon.asking import About, Asked, Question
from board.reckon.handing_over import Sheet
from board.show.moments import clock
from board.show.text import clean

_FEW = 4  # looms that a line names and that are named again in its question


def question_words(sheet: Sheet, question: Question) -> str:
    """One question as it is asked."""
    q = question
    zone = sheet.summary.snapshot.mill.zone
    when = f" {clock(q.when, sheet.as_of, zone)}" if q.when else ""
    by = q.by or "somebody"
    looms, several = _named(q.looms), len(q.looms) > 1
    match q.about:
        case About.CONFLICT:
            words = f"{looms}: is it locked, or does it run? written as running{when} by {by}"
        case About.MAY_BE_ISOLATED:
            whom = f"{q.by} ({_place(q)})" if q.by else f"the writer of {_place(q)}"
            of = f"{looms}: " if 0 < len(q.looms) <= _FEW else ""
            words = f"{of}is there a lock? look at the machine, and ask {whom}"
        case About.LOCK_NOT_SEEN:
            words = f"{looms}: who has seen {'these locks' if several else 'this lock'} this shift?"
        case About.LOCK_REMOVED:
            words = f"{looms}: does {q.to} know that {by} took the lock off{when}?"
        case About.NOT_TAKEN_OVER:
            to = f" to {q.to}" if q.to else ""
            words = (
                f"who has the {_what(q)} now? {by} said{when} to hand it over{to}, and nobody has"
                " taken it over"
            )
        case About.TAKEN_BY_ANOTHER:
            words = (
                f"{q.taken_by} took over{when} what {by} handed to {q.to} ({_what(q)}): does"
                f" {q.to} know?"
            )
        case About.NOT_SAID:
            words = f"who hands the {q.what} shift over, and to whom? no line says so"
        case About.CHANGED_AFTER:
            words = f"who changed it, and what? {q.message} ({_place(q)})"
        case About.PROOFS:
            words = f"{looms}: were the missing proofs done, and who writes them?"
        case About.SILENCE:
            words = f"{looms}: {'what are they' if several else 'what is it'} doing?"
        case About.MOTION:
            words = f"{looms}: {'do they' if several else 'does it'} run? no motion on record"
        case About.COUNTERS:
            words = f"which is right, meter or log? {q.message} ({_place(q)})"
        case About.FLAGGED:
            words = f"is this what was meant? {q.what} ({_place(q)}: {q.message})"
        case _:
            assert_never(q.about)
    return clean(words)


def _place(question: Question) -> str:
    return f"{question.path}:{question.line}"


def _what(question: Question) -> str:
    return "shed" if question.what == "shed" else f"section {question.what}"


def _named(looms: tuple[Asked, ...]) -> str:
    return ", ".join(f"{x.loom} ({x.detail})" if x.detail else x.loom for x in looms)

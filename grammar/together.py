"""What belongs together in one line, and which clauses may be written of which place.

``due`` and ``for`` belong to the action before them, ``sealed`` to the handover, ``by`` to the
whole line. What a clause itself means is left to ``transform``.
"""

from __future__ import annotations

from collections.abc import Iterable

from grammar import entries as e
from grammar.diagnostics import Code, LineRefused
from grammar.folding import fold_word
from grammar.line import Line
from grammar.making import changed

HANDOVERS: frozenset[type] = frozenset((e.HandedOver, e.TakenOver))

_OF_GROUPS: frozenset[type] = HANDOVERS | {
    e.Stopped,
    e.Running,
    e.StyleSet,
    e.Note,
    e.Opened,
    e.Done,
    e.Dropped,
}


class Tail:
    """A clause that belongs to another one: ``due``, ``for``, ``sealed``, ``by``."""

    __slots__ = ("kind", "span", "value")

    def __init__(self, kind: str, span: e.Span, value: e.Due | e.Seal | str) -> None:
        self.kind = kind
        self.span = span
        self.value = value


def joined(
    line: Line, place: e.Place, parts: Iterable[e.Clause | Tail]
) -> tuple[str | None, list[e.Clause]]:
    """The writer that a line names, and its clauses with what belongs to them.

    Raises LineRefused.
    """
    clauses: list[e.Clause] = []
    writer: str | None = None
    attachable = False
    for part in parts:
        if not isinstance(part, Tail):
            _refuse_place(line, place, part)
            clauses.append(part)
            attachable = True
        elif part.kind == "by":
            if writer is not None and fold_word(writer) != fold_word(str(part.value)):
                raise _two_writers(line, writer, part)
            writer, attachable = str(part.value), False
        elif attachable:
            clauses[-1] = _attached(line, clauses[-1], part)
        else:
            raise _stray(line, part)
    if not clauses:
        raise _says_nothing(line)
    return writer, clauses


def _attached(line: Line, clause: e.Clause, tail: Tail) -> e.Clause:
    span = e.Span(clause.span.start, tail.span.end)
    match clause, tail.kind, tail.value:
        case e.Opened(due=None), "due", (e.DueAt() | e.DueBeforeStart() | e.DueAfterUse()) as due:
            return changed(clause, due=due, span=span)
        case e.Opened(whom=None), "for", str(whom):
            return changed(clause, whom=whom, span=span)
        case e.TakenOver(seal=None), "sealed", e.Seal() as seal:
            return changed(clause, seal=seal, span=span)
        case _:
            raise _stray(line, tail)


def _stray(line: Line, tail: Tail) -> LineRefused:
    owner = "taken over by WHO" if tail.kind == "sealed" else "open TEXT"
    return line.refused(
        Code.NOT_UNDERSTOOD,
        f"{tail.kind} stands here once, directly after: {owner}",
        tail.span,
        help="move it behind the clause that it belongs to",
    )


def _two_writers(line: Line, writer: str, tail: Tail) -> LineRefused:
    return line.refused(
        Code.NOT_UNDERSTOOD,
        f"an entry has one writer, and this one has {writer} already",
        tail.span,
        help=f"leave one by WHO; what {tail.value} did is an entry of its own",
    )


def _says_nothing(line: Line) -> LineRefused:
    written = line.folded.line
    return line.refused(
        Code.NOT_UNDERSTOOD,
        "the entry names its writer but says nothing",
        e.Span(len(written) - len(written.lstrip()), len(written.rstrip())),
        help="put free text after: note",
    )


def _refuse_place(line: Line, place: e.Place, clause: e.Clause) -> None:
    """Raises LineRefused where a clause is not written of such a place."""
    kind = type(clause)
    if kind in HANDOVERS and place.kind not in (e.PlaceKind.SHED, e.PlaceKind.SECTION):
        raise line.refused(
            Code.NOT_UNDERSTOOD,
            f"a handover is of the shed or a section, not of {place.name}",
            clause.span,
            help="write shed in the loom's place",
        )
    if place.kind is not e.PlaceKind.LOOM and kind not in _OF_GROUPS:
        raise line.refused(
            Code.NOT_UNDERSTOOD,
            f"this is written for one loom, and {place.name} is a group of looms",
            clause.span,
            help="write one line for each loom",
        )

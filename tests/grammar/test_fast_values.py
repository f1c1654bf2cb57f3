"""Values made the cheap way are those that their classes make."""

from __future__ import annotations

import copy
import pickle
from dataclasses import FrozenInstanceError, fields, replace
from typing import Any

import pytest

from grammar import entries as e
from grammar import made
from grammar.making import changed, maker, mover, placer, slots_of
from grammar.readings import Filed
from tests.grammar.mills import READER, under_heading
from tests.grammar.test_entries import CLAUSES

KINDS = (
    *e.KINDS,
    e.Entry,
    e.Heading,
    e.Span,
    e.Place,
    e.Amount,
    e.PartAt,
    e.ByTime,
    e.Shift,
    Filed,
)
SPAN = e.Span(3, 9)


def given(kind: type) -> dict[str, Any]:
    """A value for each field of a class; none of them is a default."""
    return {name: SPAN if name == "span" else f"a {name}" for name in slots_of(kind)}


@pytest.mark.parametrize("kind", KINDS)
def test_a_value_made_by_place_or_by_name_is_like_any_other(kind: Any) -> None:
    values = given(kind)
    usual = kind(**values)
    for value in (placer(kind)(*values.values()), maker(kind)(**values), changed(usual)):
        assert type(value) is kind
        assert value == usual
        assert repr(value) == repr(usual)
        assert all(getattr(value, f.name) == getattr(usual, f.name) for f in fields(kind))
        assert hash(value) == hash(usual)
        assert pickle.loads(pickle.dumps(value)) == usual
        assert copy.deepcopy(value) == usual == replace(value)
        with pytest.raises(FrozenInstanceError):
            setattr(value, fields(kind)[0].name, None)


def test_defaults_are_those_of_the_class() -> None:
    assert made.Stopped(span=SPAN) == e.Stopped()
    assert made.Running(text="slow", span=SPAN) == e.Running(text="slow")
    assert made.Running(span=SPAN).text == ""
    with pytest.raises(TypeError):
        made.Note(span=SPAN)  # type: ignore[call-arg]


def test_a_changed_value_leaves_the_first_as_it_was() -> None:
    first = e.Opened(text="x", number=3, span=SPAN)
    second = changed(first, number=4, span=e.Span(0, 1))
    assert (first.number, first.span, second.number, second.span) == (3, SPAN, 4, e.Span(0, 1))
    assert second == replace(first, number=4)
    with pytest.raises(AttributeError):
        changed(first, colour="red")


@pytest.mark.parametrize("line", [clause for clause, _ in CLAUSES])
def test_a_moved_clause_is_the_same_further_on(line: str) -> None:
    (entry,) = READER.read(under_heading(f"22:40 A07 {line}")).entries
    (behind,) = READER.read(under_heading(f"22:40   A07 {line}")).entries
    for clause, other in zip(entry.clauses, behind.clauses, strict=True):
        moved = mover(type(clause))(clause, 2)
        assert (type(moved), moved, moved.span) == (type(other), other, other.span)

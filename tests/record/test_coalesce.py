"""Gathering changes: a table of histories with fake times and stamps, no disk, no clock."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from board.record.coalesce import Coalescer
from board.record.sweep import Stamp

QUIET = 0.15
CAP = 1.0


def mark(size: int) -> Stamp:
    return Stamp(size=size, modified_ns=size, inode=1, changed_ns=size)


def told(coalescer: Coalescer, path: str, size: int, at: float) -> None:
    """Bring the coalescer to know a log."""
    coalescer.note_found(path, mark(size), at)
    assert coalescer.take(at + QUIET) == {path}


def test_first_change_after_a_pause_is_due_at_once() -> None:
    coalescer = Coalescer()
    told(coalescer, "a.log", 10, 0.0)
    coalescer.note_written("a.log", mark(20), 5.0)
    assert coalescer.due_at() == 5.0
    assert coalescer.take(5.0) == {"a.log"}
    assert coalescer.due_at() is None
    assert coalescer.take(9.0) == frozenset()


def test_later_changes_wait_for_quiet() -> None:
    coalescer = Coalescer()
    told(coalescer, "a.log", 10, 0.0)
    coalescer.note_written("a.log", mark(20), 5.0)
    coalescer.take(5.0)
    coalescer.note_written("a.log", mark(21), 5.05)
    coalescer.note_written("a.log", mark(22), 5.10)
    assert coalescer.due_at() == pytest.approx(5.10 + QUIET)
    assert coalescer.take(5.24) == frozenset()
    assert coalescer.take(5.26) == {"a.log"}


def test_a_stream_of_changes_is_told_once_a_second() -> None:
    coalescer = Coalescer()
    told(coalescer, "a.log", 1, 0.0)
    takes = []
    for step in range(1, 600):
        now = 10 + step * 0.01
        coalescer.note_written("a.log", mark(1 + step), now)
        if coalescer.take(now):
            takes.append(now)
    assert len(takes) == 6
    assert all(later - sooner <= CAP + 0.03 for sooner, later in pairwise(takes))


@pytest.mark.parametrize("size", [None, 0, 4], ids=["gone", "empty", "shorter"])
def test_a_log_that_may_be_half_saved_is_held_back(size: int | None) -> None:
    coalescer = Coalescer()
    told(coalescer, "a.log", 10, 0.0)
    coalescer.note_written("a.log", None if size is None else mark(size), 5.0)
    assert coalescer.take(5.0) == frozenset()
    assert coalescer.take(5.0 + QUIET) == {"a.log"}


def test_a_held_log_is_due_at_once_when_it_has_grown_again() -> None:
    coalescer = Coalescer()
    told(coalescer, "a.log", 10, 0.0)
    coalescer.note_written("a.log", mark(0), 5.0)
    coalescer.note_written("a.log", mark(12), 5.001)
    assert coalescer.take(5.001) == {"a.log"}


def test_a_shorter_log_is_due_at_once_when_its_writer_closed_it() -> None:
    coalescer = Coalescer()
    told(coalescer, "a.log", 10, 0.0)
    coalescer.note_written("a.log", mark(0), 5.0)
    coalescer.note_written("a.log", mark(4), 5.001)
    assert coalescer.take(5.001) == frozenset()
    coalescer.note_closed("a.log", mark(4), 5.002)
    assert coalescer.take(5.002) == {"a.log"}


def test_an_empty_log_is_not_complete_because_it_was_closed() -> None:
    coalescer = Coalescer()
    told(coalescer, "a.log", 10, 0.0)
    coalescer.note_closed("a.log", mark(0), 5.0)
    assert coalescer.take(5.0) == frozenset()


def test_a_half_saved_log_is_told_after_the_cap_whatever_happens() -> None:
    coalescer = Coalescer()
    told(coalescer, "a.log", 1000, 0.0)
    now = 5.0
    while now < 5.99:
        coalescer.note_written("a.log", mark(3), now)
        assert coalescer.take(now) == frozenset()
        now += 0.1
    assert coalescer.take(5.0 + CAP) == {"a.log"}


@pytest.mark.parametrize("size", [None, 0, 4], ids=["gone", "empty", "shorter"])
def test_a_half_saved_log_is_not_told_because_others_are_due(size: int | None) -> None:
    """Many saves in a row come to their cap at any moment, in the middle of one of them too."""
    coalescer = Coalescer()
    told(coalescer, "a.log", 10, 0.0)
    now = 5.0
    for step in range(11):
        coalescer.note_written(f"{step}.log", mark(3), now)
        if step == 0:
            assert coalescer.take(now) == {"0.log"}
        now = 5.0 + 0.1 * (step + 1)
    coalescer.note_written("a.log", None if size is None else mark(size), now - 0.001)
    due = coalescer.due_at()
    assert due is not None
    taken = coalescer.take(max(now, due))
    assert taken
    assert "a.log" not in taken
    assert coalescer.holds("a.log")
    coalescer.note_written("a.log", mark(11), now + 0.05)
    last = coalescer.due_at()
    assert last is not None
    assert "a.log" in coalescer.take(last)


def test_closing_a_log_already_told_is_no_news() -> None:
    coalescer = Coalescer()
    told(coalescer, "a.log", 10, 0.0)
    coalescer.note_closed("a.log", mark(10), 5.0)
    assert coalescer.due_at() is None


def test_writing_is_news_even_with_the_stamp_already_told() -> None:
    """Two saves of equal length within one tick of the file system's clock."""
    coalescer = Coalescer()
    told(coalescer, "a.log", 10, 0.0)
    coalescer.note_written("a.log", mark(10), 5.0)
    assert coalescer.take(5.0) == {"a.log"}


def test_a_log_made_and_removed_unseen_is_no_news() -> None:
    coalescer = Coalescer()
    coalescer.note_written("a.log", mark(0), 5.0)
    coalescer.note_written("a.log", None, 5.01)
    assert coalescer.due_at() is None


def test_remembered_log_that_is_gone_is_told() -> None:
    coalescer = Coalescer(remembered=["old.log"])
    coalescer.note_found("old.log", None, 5.0)
    assert coalescer.take(5.0 + QUIET) == {"old.log"}
    assert "old.log" not in coalescer.known


def test_names_that_come_and_go_fill_no_memory() -> None:
    coalescer = Coalescer()
    for number in range(5000):
        coalescer.note_written(f"{number}.log", mark(3), number * 1e-4)
        coalescer.note_written(f"{number}.log", None, number * 1e-4)
    assert not coalescer.holds("0.log")
    assert coalescer.due_at() is None


STEPS = st.lists(
    st.tuples(
        st.sampled_from(["a.log", "b.log", "c.log"]),
        st.one_of(st.none(), st.integers(0, 40)),
        st.floats(0.0, 0.4),
    ),
    max_size=40,
)


@given(STEPS)
def test_every_change_is_told_within_the_cap_and_nothing_is_lost(
    steps: list[tuple[str, int | None, float]],
) -> None:
    """Whatever the order: each change is followed by a telling within `CAP`, or within twice that
    where the log was being saved anew when it fell due, and the reader ends up knowing the very
    state of the disk."""
    coalescer = Coalescer()
    now = 0.0
    disk: dict[str, Stamp] = {}
    waiting: dict[str, float] = {}
    for number, (path, size, pause) in enumerate(steps):
        end = now + pause
        while (due := coalescer.due_at()) is not None and due <= end:
            now = max(now, due)
            for taken in coalescer.take(now):
                assert now - waiting.pop(taken, now) <= 2 * CAP + 1e-9
        now = end
        if size is None:
            disk.pop(path, None)
            coalescer.note_written(path, None, now)
        else:
            disk[path] = Stamp(size=size, modified_ns=number, inode=1, changed_ns=number)
            coalescer.note_written(path, disk[path], now)
        if coalescer.holds(path):
            waiting.setdefault(path, now)
        else:
            waiting.pop(path, None)
    coalescer.take(now + CAP)
    coalescer.take(now + 2 * CAP)
    assert coalescer.known == disk

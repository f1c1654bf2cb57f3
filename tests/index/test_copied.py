"""A folder that was just copied: nothing of it is read twice, and what is kept packed stays so."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from board.index import transactions
from tests.index.doing import make_cold
from tests.index.test_laws import PADDING, Story

pytestmark = pytest.mark.usefixtures("short_stretches", "always_many")
AS_OF = datetime(2026, 10, 30, 13, tzinfo=UTC)  # of the last lines, many days before the copying


@pytest.fixture
def always_many(monkeypatch: pytest.MonkeyPatch) -> None:
    """As if each look found years to read."""
    monkeypatch.setattr(transactions, "MANY_LINES", 1)


@pytest.fixture
def copied(tmp_path: Path) -> Story:
    """Read at once: no stamp is trusted yet, and each log may be growing."""
    story = Story(tmp_path / "index.sqlite")
    story.now += timedelta(days=20)
    story.disk.put("a.log", PADDING.encode(), story.now)
    story.disk.put("empty.log", b"", story.now)
    looks(story)
    story.index.settle(AS_OF, story.now)
    return story


def looks(story: Story) -> list[tuple[bytes, bool]]:
    """What a look has to read."""
    story.reader.taken()
    with story.disk.mounted():
        story.shelf.look(story.now)
    return list(story.reader.taken())


def packed(story: Story) -> int:
    with story.index.reads() as readings:
        asked = "SELECT count(*) FROM file WHERE reading IS NOT NULL"
        return int(readings.connection.execute(asked).fetchone()[0])


@pytest.mark.parametrize("seconds", [3, 70])
def test_the_next_look_reads_no_log_again_and_leaves_what_is_packed(
    copied: Story, seconds: int
) -> None:
    assert packed(copied) == 1
    copied.now += timedelta(seconds=seconds)
    assert [data for data, _ in looks(copied) if data] == []
    assert packed(copied) == 1
    with copied.index.reads() as readings:
        asked = "SELECT count(*) FROM file WHERE trusted"
        assert readings.connection.execute(asked).fetchone() == (2,)
    copied.now += timedelta(days=1)
    assert looks(copied) == []
    copied.seen()


def test_an_end_without_its_newline_counts_once_it_is_quiet(copied: Story) -> None:
    text = f"{PADDING}2026-10-30T12:30 A01 isolated by KM"
    copied.disk.put("a.log", text.encode(), copied.now)
    looks(copied)
    copied.now += timedelta(seconds=70)
    assert looks(copied)
    assert copied.seen().fleet.looms["A01"].locks


def test_what_is_packed_no_longer_is_packed_again(copied: Story) -> None:
    """As an index may have been left by a look that found years to read."""
    make_cold(copied.index)
    assert packed(copied) == 0
    copied.index.settle(AS_OF, copied.now)
    assert packed(copied) == 1
    copied.seen()


def test_a_log_that_changed_since_is_not_packed_as_it_was(copied: Story) -> None:
    make_cold(copied.index)
    with copied.index.reads() as readings:
        cold = readings.cold(0)
    copied.save(f"{PADDING}2026-10-30T12:30 A01 isolated by KM\n")
    make_cold(copied.index)
    with copied.index._writing():
        copied.index._readings.warm(cold)
    assert packed(copied) == 0
    assert copied.seen().fleet.looms["A01"].locks

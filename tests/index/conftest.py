"""What tests of the index share."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

import pytest

from board.index import segments, standing, transactions


@pytest.fixture(autouse=True)
def closed(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """What a test opened and left open is closed: Python 3.13 warns of it."""
    opened = []
    real = transactions.open_index

    def open_index(*arguments: object) -> object:
        opened.append(real(*arguments))  # type: ignore[arg-type]
        return opened[-1]

    monkeypatch.setattr(transactions, "open_index", open_index)
    yield
    for connection in opened:
        connection.close()


@pytest.fixture
def short_stretches(monkeypatch: pytest.MonkeyPatch) -> None:
    """Old entries are folded a few at a time, so that a little log has many checkpoints.

    And all of them stay: a change of old lines then voids some, and those before it must hold.
    """
    monkeypatch.setattr(segments, "_APART", 1.0)
    monkeypatch.setattr(segments, "_DAY_US", 2)
    monkeypatch.setattr(standing, "AT_ONCE", 5)
    monkeypatch.setattr(standing, "LONGEST_TAIL", 3)
    monkeypatch.setattr(standing, "KEPT_OPEN", timedelta(hours=2))

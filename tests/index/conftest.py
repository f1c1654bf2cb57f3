"""What tests of the index share."""

from __future__ import annotations

import io
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from board.index import joining, segments, standing, transactions
from board.shell import Shell
from tests.conftest import NOW


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
    monkeypatch.setattr(standing, "AT_A_TIME", 5)
    monkeypatch.setattr(standing, "LONGEST_TAIL", 3)
    monkeypatch.setattr(standing, "KEPT_OPEN", timedelta(hours=2))
    monkeypatch.setattr(joining, "ENOUGH", 4)


@pytest.fixture(scope="module")
def shell(kept: Path) -> Iterator[Shell]:
    """The outside world at the moment of the example, for the tests of a module."""
    made = Shell(
        stdin=None,
        stdout=io.StringIO(),
        stderr=io.StringIO(),
        environ={"XDG_CACHE_HOME": str(kept)},
        clock=lambda: NOW,
    )
    with made.at_end:
        yield made

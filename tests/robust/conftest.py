"""A log folder with one isolation on record, and a cache of its own."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.robust.running import LOCK


@pytest.fixture
def folder(shed: Callable[..., Path]) -> Path:
    """A log folder with one log, in which a lock stands."""
    return shed({"2026/good.log": LOCK})


@pytest.fixture
def cache(tmp_path: Path) -> Path:
    """A cache folder that is not there yet."""
    return tmp_path / "cache"

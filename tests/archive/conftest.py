"""Archives that tests only ask: one of the example, and one of three small mills."""

from __future__ import annotations

import io
import json
import shutil
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from board import cli
from board.shell import Shell
from tests.archive.mills import AT, write_all
from tests.conftest import EXAMPLE, NOW, Outcome

Answer = Callable[..., Any]


def command(cache: Path, *arguments: str, now: datetime = NOW) -> Outcome:
    """What a command line prints, piped, with a cache folder and a clock of its own."""
    out, err = io.StringIO(), io.StringIO()
    shell = Shell(
        stdin=None,
        stdout=out,
        stderr=err,
        environ={"XDG_CACHE_HOME": str(cache), "PYTHONUTF8": "1"},
        clock=lambda: now,
    )
    code = cli.run(arguments, shell)
    return Outcome(out.getvalue(), err.getvalue(), code)


def built(cache: Path, out: Path, mills: dict[str, Path], at: str = AT) -> Path:
    """An archive of mills, built in this process."""
    named = [word for name, folder in mills.items() for word in ("--mill", f"{name}={folder}")]
    done = command(cache, "archive", str(out), *named, "--at", at, "--workers", "1")
    assert (done.code, done.err) == (0, ""), done.err
    return out


OCTOBER_AT = "2026-11-01T06:00"


@pytest.fixture(scope="session")
def october(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The first weeks of the example: to judge all its forecasts, and often, would take long."""
    folder = tmp_path_factory.mktemp("october") / "logs"
    shutil.copytree(EXAMPLE, folder, ignore=shutil.ignore_patterns("11"))
    return folder


@pytest.fixture(scope="session")
def example_archive(kept: Path, october: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An archive of the example's first weeks alone."""
    out = tmp_path_factory.mktemp("example") / "group"
    return built(kept, out, {"quillbank": october}, at=OCTOBER_AT)


@pytest.fixture(scope="session")
def mills(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The folders of three small mills, which no test changes."""
    return write_all(tmp_path_factory.mktemp("mills"))


@pytest.fixture(scope="session")
def group(kept: Path, mills: dict[str, Path], tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An archive of three small mills."""
    return built(kept, tmp_path_factory.mktemp("three") / "group", mills)


@pytest.fixture
def asked(kept: Path) -> Answer:
    """What a command prints as JSON; it must not say a word on standard error."""

    def ask(*arguments: str) -> Any:
        done = command(kept, *arguments, "--json")
        assert (done.code in (0, 1), done.err) == (True, ""), done.err
        return json.loads(done.out)

    return ask

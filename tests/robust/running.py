"""A command line run in this process as a terminal or a pipe would see it: strict UTF-8, in bytes."""

from __future__ import annotations

import io
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from board import cli
from board.shell import Shell

NOW = datetime(2026, 11, 25, 6, 0, tzinfo=UTC)
LOCK = "2026-11-24T22:40 A07 isolated by KM lock 14\n"


@dataclass(frozen=True)
class Ran:
    """What a command printed and how it ended."""

    out: str
    err: str
    code: int


def ran(
    *arguments: str,
    cache: Path,
    now: datetime = NOW,
    stdin: str = "",
    environ: dict[str, str] | None = None,
) -> Ran:
    """Runs a command line; what cannot be written in UTF-8 raises, as it would at a terminal."""
    out, err = (io.TextIOWrapper(io.BytesIO(), "utf-8", newline="\n") for _ in range(2))
    shell = Shell(
        stdin=io.StringIO(stdin),
        stdout=out,
        stderr=err,
        environ={"XDG_CACHE_HOME": str(cache), "PYTHONUTF8": "1", **(environ or {})},
        clock=lambda: now,
    )
    code = cli.run(arguments, shell)
    return Ran(_written(out), _written(err), code)


def _written(stream: io.TextIOWrapper) -> str:
    stream.flush()
    buffer = stream.buffer
    assert isinstance(buffer, io.BytesIO)
    return buffer.getvalue().decode("utf-8")

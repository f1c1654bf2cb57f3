"""Write the example folder `logs_example/` anew from its seed.

The folder is made, not kept by hand: the same seed gives the same bytes. What is told in it is
listed in `example/weeks.py`, `example/mishaps.py` and `example/lastnight.py`, the lines that are
wrong on purpose in `example/planted.py`. Run: ``python tests/make_logs_example.py [FOLDER]``.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent))

from tests.example import jobs, lastnight, mishaps, rounds, weeks
from tests.example.shed import REGISTER
from tests.example.world import World

SEED = 20261125
FOLDER = Path(__file__).parent.parent / "logs_example"


def build(seed: int) -> dict[str, str]:
    """The example's files for a seed: path inside the folder, and text."""
    world = World(seed)
    for part in (weeks, mishaps, lastnight, rounds, jobs):
        part.start(world)
    world.run()
    files = {path: _text(path, lines) for path, lines in sorted(world.book.files.items())}
    return {"shed.toml": REGISTER, **files}


def _text(path: str, lines: list[str]) -> str:
    """A file's text as its writer's editor saves it: UB's marks UTF-8 and ends lines with CRLF."""
    if path.endswith("-UB.log"):
        return "\ufeff" + "\r\n".join(lines) + "\r\n"
    return "\n".join(lines) + "\n"


def main(folder: Path = FOLDER) -> None:
    """Write the files of the example's own seed and remove logs that it no longer has."""
    files = build(SEED)
    for old in folder.rglob("*.log"):
        if old.relative_to(folder).as_posix() not in files:
            old.unlink()
    for path, text in files.items():
        target = folder / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_text(text, encoding="utf-8", newline="")


if __name__ == "__main__":
    main(*map(Path, sys.argv[1:2]))

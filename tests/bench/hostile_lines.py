"""Twenty thousand damaged lines through `board`, `check` and `find`, and every line counted.

    nice python -m tests.bench.hostile_lines [--lines 20000] [--seed 1000]

Folder after folder of damaged logs is read until so many lines were; then the hostile shed is shown
by every command, each as a process of its own. Exits with 1 at the first that is not as it must be,
and names its seed.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from board.loading import read_mill, reader_for
from board.mill import Mill
from tests.conftest import EXAMPLE, ROOT
from tests.robust.counting import Count
from tests.robust.hostile import hostile_shed
from tests.robust.mutations import damaged_folder
from tests.robust.obeyed import unseen
from tests.robust.running import NOW
from tests.robust.test_damaged_folders import holds_together, is_found_once
from tests.robust.test_hostile_text import AT, DOCUMENTS, SCREENS


def damaged_lines(top: Path, lines: int, seed: int) -> tuple[int, Count]:
    """How many folders were read, and the count of their lines."""
    cache = top / "cache"
    mill = read_mill(EXAMPLE)
    assert isinstance(mill, Mill)
    reader = reader_for(mill.vocabulary, {"XDG_CACHE_HOME": str(cache)})
    total, folders = Count(), 0
    while total.lines < lines:
        damage = damaged_folder(seed + folders, EXAMPLE, top / "logs", NOW)
        try:
            count = holds_together(damage, reader, cache)
            is_found_once(damage, count, cache)
            total += count
        except Exception as error:
            print(f"damaged_folder({seed + folders}): {error!r}")
            raise
        folders += 1
    return folders, total


def every_command(top: Path) -> int:
    """How many commands showed the hostile shed."""
    folder = hostile_shed(top / "hostile")
    commands = [*SCREENS, *([*command, "--json"] for command in DOCUMENTS)]
    environ = {**os.environ, "XDG_CACHE_HOME": str(top / "cache"), "PYTHONUTF8": "1"}
    for command in commands:
        at = [] if command[0] == "watch" else ["--at", AT]
        done = subprocess.run(
            [sys.executable, "-m", "board", *command, "--folder", str(folder), *at],
            cwd=ROOT, env=environ, capture_output=True, stdin=subprocess.DEVNULL, check=False,
        )  # fmt: skip
        assert done.returncode in (0, 1), (command, done.stderr)
        assert command[0] == "watch" or not done.stderr, (command, done.stderr)
        assert unseen(done.stdout.decode(), "\n\f") == set(), command
    return len(commands)


def main() -> None:
    """The command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--lines", type=int, default=20_000)
    parser.add_argument("--seed", type=int, default=1000)
    options = parser.parse_args()
    begun = time.monotonic()
    with tempfile.TemporaryDirectory(prefix="loomslate-hostile-") as top:
        folders, total = damaged_lines(Path(top), options.lines, options.seed)
        commands = every_command(Path(top))
    print(
        f"{folders} damaged folders: {total.lines} lines = {total.blank_or_comment} blank or comment"
        f" + {total.headings} headings + {total.entries} entries + {total.not_understood} not"
        f" understood + {total.unfinished} unfinished; no traceback, no exit code 2"
    )
    print(f"{commands} commands showed the hostile shed; {time.monotonic() - begun:.0f} s")


if __name__ == "__main__":
    main()

"""Run on a real file system of a few pages: it is filled up, emptied, and made read-only.

    unshare -m sh -c 'mount -t tmpfs -o size=128k none FOLDER && python -m ... FOLDER CACHE'

Prints one JSON document of what the commands answered; `test_real_disks` runs it where it may.
"""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

from tests.conftest import EXAMPLE
from tests.robust.running import ran

SPARE = 10_000  # [bytes] left for entries


def main() -> None:
    """Fill, empty, lock."""
    folder, cache = Path(sys.argv[1]), Path(sys.argv[2])
    shutil.copy(EXAMPLE / "shed.toml", folder)
    filler = folder / "filler.bin"
    filler.write_bytes(bytes(max(shutil.disk_usage(folder).free - SPARE, 0)))
    told: list[str] = []
    full: dict[str, Any] = {}
    for number in range(200):
        entry = f"A{number % 24 + 1:02} note {number} {'x' * 400}e"
        done = ran("write", entry, "--by", "KM", "--folder", str(folder), cache=cache)
        if done.code != 0:
            full = {"code": done.code, "err": done.err}
            break
        told.append(entry)
    text = "".join(file.read_text() for file in sorted(folder.rglob("*.log")))
    board = ran("board", "--folder", str(folder), cache=cache)
    filler.unlink()
    after = ran("write", "A01 stopped", "--by", "KM", "--folder", str(folder), cache=cache)
    subprocess.run(["mount", "-o", "remount,ro", str(folder)], check=True)
    fixed = ran("write", "A02 stopped", "--by", "KM", "--folder", str(folder), cache=cache)
    again = ran("board", "--folder", str(folder), cache=cache)
    sys.stdout.write(
        json.dumps(
            {
                "told": told, "full": full, "text": text, "board": [board.code, board.err],
                "after": [after.code, after.err], "read_only": [fixed.code, fixed.err],
                "board_again": [again.code, again.err],
            }
        )
    )  # fmt: skip


if __name__ == "__main__":
    main()

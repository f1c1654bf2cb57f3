"""Ten thousand lines of eight people at the real `loomslate write`, killed at random moments.

    nice python -m tests.bench.writers [--lines 10000] [--kills 100] [--seed 1] [--minutes M]

Every acknowledged line must stand once, whole, where it was said to stand; every number given out
once. Exits with 1 where one does not.
"""

from __future__ import annotations

import argparse
import shutil
import sys
import tempfile
from pathlib import Path

from tests.conftest import EXAMPLE
from tests.robust.writers import write_at_once


def main() -> None:
    """The command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--lines", type=int, default=10_000)
    parser.add_argument("--kills", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--minutes", type=float, default=float("inf"))
    options = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="loomslate-writers-") as top:
        folder, scratch = Path(top, "logs"), Path(top, "scratch")
        folder.mkdir()
        scratch.mkdir()
        shutil.copy(EXAMPLE / "shed.toml", folder)
        try:
            done = write_at_once(
                folder,
                scratch,
                lines=options.lines,
                kills=options.kills,
                seed=options.seed,
                most_s=options.minutes * 60,
            )
        except AssertionError as lost:
            print(lost)
            sys.exit(1)
        size = sum(file.stat().st_size for file in folder.rglob("*.log"))
    print(
        f"8 writers, {done.told} lines acknowledged, all there once and whole;"
        f" {done.killed} writers killed, of their entries in doubt {done.doubted_and_there} stand;"
        f" {done.waited_in_vain} times one was told that others write and to try again;"
        f" {size / 1e6:.1f} MB in {done.seconds:.0f} s"
    )


if __name__ == "__main__":
    main()

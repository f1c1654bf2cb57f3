"""A hundred thousand small logs: listed, read, shown, watched; nothing lost, and how long it takes.

nice python -m tests.bench.many_files [--files 100000]
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

from tests.conftest import ROOT, SMALL_REGISTER
from tests.robust.watching import watching

LOCKED = "2026-11-24T22:40 B01 isolated by KM lock 14\n"


def fill(folder: Path, files: int) -> None:
    """One line a file, each of another minute, in folders by year and month."""
    first = datetime(2026, 11, 24)
    (folder / "shed.toml").write_text(SMALL_REGISTER)
    for number in range(files):
        when = first - timedelta(minutes=number)
        place = folder / f"{when:%Y/%m/%d}"
        if number % 1440 == 0 or when.minute == 0:
            place.mkdir(parents=True, exist_ok=True)
        elif not place.exists():
            place.mkdir(parents=True)
        line = f"{when:%Y-%m-%dT%H:%M} A{number % 12 + 1:02} note n{number}\n"
        (place / f"{number}.log").write_text(line)
    (folder / "locked.log").write_text(LOCKED)


def shown(folder: Path, cache: Path, *command: str) -> tuple[str, float, float]:
    """What a command printed, how long it took [s] and the most memory that it held [MiB]."""
    begun = time.monotonic()
    done = subprocess.run(
        [sys.executable, "-m", "board", *command, "--folder", str(folder), "--at", "2026-11-25"],
        cwd=ROOT, capture_output=True, text=True, check=False, stdin=subprocess.DEVNULL,
        env={**os.environ, "XDG_CACHE_HOME": str(cache)},
    )  # fmt: skip
    assert done.returncode in (0, 1), done.stderr
    assert done.stderr == "", done.stderr
    most = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    return done.stdout, time.monotonic() - begun, most


def main() -> None:
    """The command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--files", type=int, default=100_000)
    files = parser.parse_args().files
    with tempfile.TemporaryDirectory(prefix="loomslate-many-") as top:
        folder, cache = Path(top, "logs"), Path(top, "cache")
        folder.mkdir()
        fill(folder, files)
        out, took, most = shown(folder, cache, "board", "--json")
        document = json.loads(out)
        read = document["read"]
        assert read["files"] == read["entries"] == read["lines"] == files + 1, read
        assert read["refused"] == 0
        assert read["not_read"] == []
        (locked,) = [x for x in document["looms"] if x["isolation"]["state"] == "ISOLATED"]
        assert locked["loom"] == "B01"
        print(f"board: {files + 1} files, {read['entries']} entries, {took:.1f} s, {most:.0f} MiB")
        out, took, most = shown(folder, cache, "find", f"n{files - 1}", "--json")
        assert len(json.loads(out)["hits"]) == 1
        print(f"find: {took:.1f} s, {most:.0f} MiB")
        begun = time.monotonic()
        with watching(folder, cache) as keeper:
            print(f"watch: first picture after {time.monotonic() - begun:.1f} s")
            time.sleep(10)
            begun = time.monotonic()
            stamp = f"{datetime.now(UTC):%Y-%m-%dT%H:%M}+00:00"
            with (folder / "locked.log").open("a") as log:
                log.write(f"{stamp} B02 isolated by RB\n")
            while not keeper.now.fleet.looms["B02"].locks:
                assert time.monotonic() - begun < 120
                time.sleep(0.01)
            print(f"watch: a save is in the picture after {time.monotonic() - begun:.1f} s")
            assert keeper.keeping is not None
            assert keeper.keeping.picture.trouble == ""
            assert keeper.now.tally.files == files + 1


if __name__ == "__main__":
    main()

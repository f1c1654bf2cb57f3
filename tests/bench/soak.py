"""The real live board in a pseudo-terminal for an hour of random saves.

    nice python -m tests.bench.soak [--minutes 60] [--seed 1] [--report FILE]

A history is saved into a folder in every manner, emptied and saved anew, while `loomslate watch`
shows it; eight isolations stand all the while and must be named in every frame that is drawn.
Whenever the folder is whole the screen must come to be that of a fresh reading, cell by cell, and
the memory, the descriptors and the threads of the process are noted. At the end nothing happens for
a minute, and the time that the process uses meanwhile is measured; then every page and every loom's
page is held against a fresh reading. Exits with 1 where a target is missed.
"""

from __future__ import annotations

import argparse
import random
import shutil
import signal
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

from board.show.live_view import Looking
from tests.conftest import EXAMPLE
from tests.robust.on_terminal import Board, agreed_after, walked_through
from tests.robust.saves import CANARIES, Saver

FILES = 40  # the newest of the example's logs, about a thousand lines
SETTLED_S = 90.0  # [s] for a screen to be that of a fresh reading
BORNE_S = 4.0  # [s] around a save that took longer than any watcher can bridge
GROWTH_MIB, IDLE_SHARE = 5.0, 0.01


@dataclass
class Noted:
    """What was seen at one time when the folder was whole."""

    at_s: float
    saves: int
    memory_mib: float
    descriptors: int
    threads: int
    agreed_s: float | None


@dataclass
class End:
    """What was seen when the saves were over."""

    agreed_s: float | None
    idle_share: float
    pages: int
    wrong_pages: list[str]
    alive: bool
    code: int
    errors: str


def soak(minutes: float, seed: int, say: Path | None) -> bool:
    """Run the whole, print a table, and answer whether every target was met."""
    top = Path(tempfile.mkdtemp(prefix="loomslate-soak-"))
    folder = top / "logs"
    folder.mkdir()
    shutil.copy(EXAMPLE / "shed.toml", folder)
    files = sorted(EXAMPLE.rglob("*.log"))[-FILES:]
    history = {f.relative_to(EXAMPLE).as_posix(): f.read_bytes() for f in files}
    saver = Saver(folder, history, seed)
    dice = random.Random(seed)
    board = Board(folder, top / "cache", always=tuple(f"{loom} CANARY" for loom in CANARIES))
    noted: list[Noted] = []
    slow: set[float] = set()
    begun = time.monotonic()
    while time.monotonic() - begun < minutes * 60:
        for _ in range(150):
            saver.save()
            slow.add(saver.slow_until)
            time.sleep(dice.choice((0.0, 0.0, 0.05, 0.3)))
        saver.finish()
        agreed = agreed_after(board, [Looking()], SETTLED_S)
        noted.append(
            Noted(
                time.monotonic() - begun, saver.saves, board.memory_mib,
                board.descriptors, board.threads, agreed,
            )
        )  # fmt: skip
        _say(say, f"{noted[-1]}")
        saver.start_over()
    saver.finish()
    end = _ended(board)
    shutil.rmtree(top)
    blinks = [one for one in board.lacking if not any(one[0] < s < one[0] + BORNE_S for s in slow)]
    for when, missing in blinks:
        _say(say, f"after {when - begun:.1f} s a frame lacked {missing}")
    borne = len(board.lacking) - len(blinks)
    _say(
        say,
        f"saves too slow to be bridged: {len(slow) - 1}; frames without an isolation then: {borne}",
    )
    return _judged(noted, end, len(blinks), board.frames, saver, say)


def _ended(board: Board) -> End:
    agreed = agreed_after(board, [Looking()], SETTLED_S)
    time.sleep(5)
    used, from_s = board.used_s, time.monotonic()
    time.sleep(60)
    idle = (board.used_s - used) / (time.monotonic() - from_s)
    pages, wrong = walked_through(board, SETTLED_S)
    alive = board.process.poll() is None
    code, errors = board.end()
    return End(agreed, idle, pages, wrong, alive, code, errors)


def _judged(
    noted: list[Noted], end: End, blinks: int, frames: int, saver: Saver, say: Path | None
) -> bool:
    warm = [n for n in noted if n.at_s > 120] or noted
    memory = [n.memory_mib for n in warm]
    third = max(len(warm) // 3, 1)
    growth = sum(memory[-third:]) / third - sum(memory[:third]) / third
    most = max(memory) - memory[0]
    descriptors = {n.descriptors for n in warm}
    threads = {n.threads for n in warm}
    agreed = [n.agreed_s for n in noted]
    waits = sorted(a for a in agreed if a is not None)
    ended = end.alive and not end.errors and end.code == 128 + signal.SIGTERM
    rows = [
        ("saves", f"{saver.saves}", True),
        ("of each kind", ", ".join(f"{k} {v}" for k, v in sorted(saver.by_kind.items())), True),
        ("rebuilds compared", f"{len(agreed)}", None not in agreed),
        ("longest wait for one [s]", f"{waits[-1]:.1f}" if waits else "-", bool(waits)),
        ("screen at the end that of a rebuild", "yes" if end.agreed_s is not None else "NO", end.agreed_s is not None),
        ("pages at the end compared, and other than a rebuild's", f"{end.pages}, {end.wrong_pages}", not end.wrong_pages),
        ("frames drawn, and those without an isolation", f"{frames}, {blinks}", blinks == 0),
        ("memory after warm-up [MiB]", f"{memory[0]:.1f}, at most {max(memory):.1f}", most < GROWTH_MIB),
        ("growth, last third less first [MiB]", f"{growth:+.2f}", growth < GROWTH_MIB),
        ("descriptors", f"{sorted(descriptors)}", len(descriptors) == 1),
        ("threads", f"{sorted(threads)}", len(threads) == 1),
        ("share of a core over 60 idle s", f"{end.idle_share:.3%}", end.idle_share < IDLE_SHARE),
        ("ended by SIGTERM, nothing on stderr", f"{end.code}", ended),
    ]  # fmt: skip
    _say(say, f"\n| soak of {noted[-1].at_s / 60:.0f} min | seen | target met |\n|---|---|---|")
    for name, seen, met in rows:
        _say(say, f"| {name} | {seen} | {'yes' if met else 'NO'} |")
    return all(met for *_, met in rows)


def _say(report: Path | None, text: str) -> None:
    print(text, flush=True)
    if report is not None:
        with report.open("a") as file:
            file.write(text + "\n")


def main() -> None:
    """The command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--minutes", type=float, default=60.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--report", type=Path)
    options = parser.parse_args()
    sys.exit(0 if soak(options.minutes, options.seed, options.report) else 1)


if __name__ == "__main__":
    main()

"""Eight people at the real `loomslate write` at once, killed at random moments.

Each writer is a process fed one entry a line; what it says it has written is its word. When it is
killed the entry it was at is in doubt: it may stand once, or not at all. Whatever else it had said
must stand, once, whole, in the very line that it named, under a heading of its own.
"""

from __future__ import annotations

import os
import random
import re
import subprocess
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path

from tests.conftest import ROOT

_WROTE = re.compile(r"^written: (\S+) line (\d+)$")
_NO_TURN = re.compile(r"^loomslate: nothing was written.* try again$", re.MULTILINE)
NAMES = ("KM", "RB", "JO")  # fewer than writers, so that several write to one log


@dataclass
class Writer:
    """One writer and what became of its entries."""

    name: str
    entries: list[str]
    dice: random.Random
    told: dict[str, tuple[str, int]] = field(default_factory=dict)  # where it says that it stands
    doubted: list[str] = field(default_factory=list)
    kills: int = 0
    waited_in_vain: int = 0
    failures: list[str] = field(default_factory=list)
    at: int = 0
    _process: subprocess.Popen[str] | None = None
    _out: Path = Path()
    _kill_after: int = 0

    def start(self, folder: Path, scratch: Path, moment: str, kill_within: int) -> None:
        """Begin, or begin again behind what is in doubt."""
        self._out = scratch / f"{self.name}-{self.at}.out"
        left = scratch / f"{self.name}-{self.at}.in"
        left.write_text("".join(f"{line}\n" for line in self.entries[self.at :]))
        self._kill_after = self.dice.randrange(kill_within) if kill_within else sys.maxsize
        who = NAMES[int(self.name[1:]) % len(NAMES)]
        with left.open() as entries, self._out.open("w") as out:
            self._process = subprocess.Popen(
                [sys.executable, "-m", "board", "write", "--by", who, "--at", moment],
                cwd=ROOT, stdin=entries, stdout=out, stderr=subprocess.STDOUT, text=True,
                env={**os.environ, "LOOMSLATE_LOGS": str(folder), "XDG_CACHE_HOME": str(scratch)},
            )  # fmt: skip

    def look(self) -> bool:
        """Kill it when its time has come; whether it has ended."""
        assert self._process is not None
        if self._process.poll() is None:
            if self._out.read_text().count("\nwritten: ") <= self._kill_after:
                return False
            time.sleep(self.dice.random() * self.dice.choice((0.01, 0.1)))  # a cycle and more
            self._process.kill()
        self._process.wait()
        wrote = [m for line in self._out.read_text().splitlines() if (m := _WROTE.match(line))]
        for found, entry in zip(wrote, self.entries[self.at :], strict=False):
            self.told[entry] = (found[1], int(found[2]))
        self.at += len(wrote)
        if self._process.returncode == -9:
            self.kills += 1
            if self.at < len(self.entries):
                self.doubted.append(self.entries[self.at])
                self.at += 1
        elif self._process.returncode == 2 and _NO_TURN.search(self._out.read_text()):
            self.waited_in_vain += 1  # told, and nothing written: the same entry again
        elif self._process.returncode != 0:
            self.failures.append(self._out.read_text()[-500:])
        return True

    def end(self) -> None:
        """Leave no process behind; what it had said by then is its word, the next is in doubt."""
        if self._process is not None and self._process.poll() is None:
            self._kill_after = -1
            self.look()


@dataclass(frozen=True)
class Written:
    """What eight writers came to."""

    told: int
    killed: int
    doubted_and_there: int
    waited_in_vain: int
    seconds: float


def write_at_once(
    folder: Path,
    scratch: Path,
    *,
    lines: int,
    kills: int,
    seed: int,
    writers: int = 8,
    most_s: float = float("inf"),
) -> Written:
    """Let writers write so many lines between them, and check every one. Raises AssertionError.

    After ``most_s`` [s] all of them are killed, and what they came to is checked.
    """
    dice = random.Random(seed)
    each = lines // writers
    crew = [
        Writer(
            name=f"w{n}",
            entries=[
                f"{'AB'[k % 2]}{(n * 5 + k) % 24 + 1:02} {_entry(k)} {n}-{k} {'x' * (k * 37 % 400)}e"
                for k in range(each)
            ],
            dice=random.Random(seed + n),
        )
        for n in range(writers)
    ]
    begun = time.monotonic()
    moment = "2026-11-25T03:00"
    share = max(each * writers // (kills + 1), 1)
    for writer in crew:
        writer.start(folder, scratch, moment, share)
    try:
        _run(crew, folder, scratch, moment, kills, share, dice, begun + most_s)
    finally:
        for writer in crew:
            writer.end()
    return _checked(folder, crew, time.monotonic() - begun)


def _run(
    crew: list[Writer], folder: Path, scratch: Path, moment: str, kills: int, share: int,
    dice: random.Random, until: float,
) -> None:  # fmt: skip
    running = list(crew)
    while running and time.monotonic() < until:
        time.sleep(0.02)
        for writer in dice.sample(running, len(running)):
            if not writer.look():
                continue
            assert not writer.failures, writer.failures
            if writer.at >= len(writer.entries):
                running.remove(writer)
            else:
                so_far = sum(w.kills for w in crew)
                writer.start(folder, scratch, moment, share if so_far < kills else 0)


def _entry(k: int) -> str:
    """Every fifth entry takes the next number of the shed."""
    return "open recheck" if k % 5 == 4 else "note turn"


def _checked(folder: Path, crew: list[Writer], seconds: float) -> Written:
    logs = {f.relative_to(folder).as_posix(): f.read_text() for f in folder.rglob("*.log")}
    where: dict[str, list[tuple[str, int]]] = {}
    numbers: list[int] = []
    for path, text in logs.items():
        assert text.endswith("\n"), path
        heading = ""
        for number, line in enumerate(text.splitlines(), start=1):
            if line.startswith("day "):
                heading = line
                continue
            whole = re.fullmatch(r"\S+ (([AB]\d\d) (note|open)( no (\d+))? (.* x*e))", line)
            assert whole, f"a torn line: {path}:{number}: {line[:120]!r}"
            assert heading.endswith(path.rpartition("-")[2].removesuffix(".log"))
            bare = f"{whole[2]} {whole[3]} {whole[6]}"
            where.setdefault(bare, []).append((path, number))
            if whole[5]:
                numbers.append(int(whole[5]))
    for entry, places in where.items():
        assert len(places) == 1, f"stands {len(places)} times: {entry[:60]}"
    for writer in crew:
        for entry, place in writer.told.items():
            assert where.get(entry) == [place], f"not where it was said to be: {entry[:60]}"
    told = sum(len(w.told) for w in crew)
    doubted = [entry for w in crew for entry in w.doubted]
    there = sum(entry in where for entry in doubted)
    assert len(where) == told + there, "there is a line that nobody wrote"
    assert len(numbers) == len(set(numbers)), "a number was given out twice"
    return Written(
        told, sum(w.kills for w in crew), there, sum(w.waited_in_vain for w in crew), seconds
    )

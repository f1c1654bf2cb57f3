"""A history replayed as saves in any order: by hand, by editors, by copying tools, by accident.

`Saver` brings a folder from empty to the history's files and back again, one save after another,
each drawn by a seeded generator. Between two whole states of a file it is at times absent, empty or
half written, as while an editor saves; how long that took is kept, for a machine under load may
make it longer than any watcher can be asked to bridge.
"""

from __future__ import annotations

import os
import random
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

BRIDGED_S = 0.1  # [s] in which a save is over; the watcher holds a shorter file back for 0.15 s
CANARIES = tuple(f"{section}{number:02}" for section in "AB" for number in (3, 9, 15, 21))


def canary_lines() -> bytes:
    """Isolations that every whole state of their file has."""
    return b"".join(f"2026-11-02T06:00 {loom} isolated by CANARY\n".encode() for loom in CANARIES)


class Saver:
    """Saves the files of a history into a folder. ``files`` are whole, by path."""

    def __init__(self, folder: Path, files: dict[str, bytes], seed: int) -> None:
        self._folder = folder
        self._files = files
        self._dice = random.Random(seed)
        self._there = dict.fromkeys(files, 0)  # bytes of each that were saved
        self._garbage: set[str] = set()
        self.saves = 0
        self.by_kind: dict[str, int] = {}
        self.slow_until = 0.0  # [s, monotonic] a save took longer than can be bridged
        self.canary = folder / "canary.log"
        self._canary_tail = b""
        self._write(self.canary, canary_lines())

    @property
    def whole(self) -> bool:
        """Whether the folder is what the history says."""
        return all(self._there[p] == len(d) for p, d in self._files.items()) and not self._garbage

    def save(self) -> None:
        """One save, of any kind."""
        dice = self._dice
        if dice.random() < 0.3:
            self._save_canary()
            return
        path = dice.choice(sorted(self._files))
        kinds: list[Callable[[str, Path], None]] = [
            self._append, self._append, self._append, self._rewrite, self._exchange, self._backup,
            self._restore, self._half_a_line, self._mistake, self._delete, self._noise,
            self._touch, self._folder_moved,
        ]  # fmt: skip
        self._counted(dice.choice(kinds), path)

    def finish(self) -> None:
        """Save whatever is missing, in any order."""
        for path in self._dice.sample(sorted(self._files), len(self._files)):
            if self._there[path] < len(self._files[path]) or path in self._garbage:
                self._there[path] = len(self._files[path])
                self._garbage.discard(path)
                kind = self._dice.choice([self._rewrite, self._exchange])
                self._counted(kind, path)

    def start_over(self) -> None:
        """Empty the folder again, but for the canary."""
        for path in self._files:
            self._there[path] = 0
            (self._folder / path).unlink(missing_ok=True)
        self._garbage.clear()

    def _counted(self, kind: Callable[[str, Path], None], path: str) -> None:
        file = self._folder / path
        file.parent.mkdir(parents=True, exist_ok=True)
        kind(path, file)
        self.saves += 1
        name = kind.__name__.strip("_")
        self.by_kind[name] = self.by_kind.get(name, 0) + 1

    # -- the kinds of save -----------------------------------------------------------------

    def _more(self, path: str) -> bytes:
        """What the file holds once some more lines of it are written."""
        data, at = self._files[path], self._there[path]
        for _ in range(self._dice.randint(1, 6)):
            end = data.find(b"\n", at)
            at = len(data) if end < 0 else end + 1
        self._there[path] = at
        self._garbage.discard(path)
        return data[:at]

    def _append(self, path: str, file: Path) -> None:
        before = self._there[path] if path not in self._garbage and file.exists() else -1
        data = self._more(path)
        if before < 0 or file.stat().st_size != before:
            self._write(file, data)
            return
        with file.open("ab") as log:
            log.write(data[before:])

    def _half_a_line(self, path: str, file: Path) -> None:
        data = self._more(path)
        self._write(file, data[: max(len(data) - self._dice.randint(1, 30), 0)])
        self._garbage.add(path)

    def _rewrite(self, path: str, file: Path) -> None:
        self._write(file, self._more(path))

    def _exchange(self, path: str, file: Path) -> None:
        """A new file is written beside it and takes its name."""
        beside = file.with_name(f".{file.name}.tmp")
        beside.write_bytes(self._more(path))
        beside.replace(file)

    def _backup(self, path: str, file: Path) -> None:
        """The old file is set aside, a new one written, the old one removed."""
        aside = file.with_name(f"{file.name}~")
        data = self._more(path)
        with self._between_states():
            with suppress(FileNotFoundError):
                file.rename(aside)
            self._pause()
            file.write_bytes(data)
        aside.unlink(missing_ok=True)

    def _restore(self, path: str, file: Path) -> None:
        data = self._more(path)
        with self._between_states():
            file.unlink(missing_ok=True)
            self._pause()
            file.write_bytes(data)

    def _mistake(self, path: str, file: Path) -> None:
        self._write(file, self._more(path) + b"06:00 A01 isolatd by XX\n\xff\x00 nonsense\n")
        self._garbage.add(path)

    def _delete(self, path: str, file: Path) -> None:
        file.unlink(missing_ok=True)
        self._there[path] = 0
        self._garbage.discard(path)

    def _touch(self, path: str, file: Path) -> None:
        if file.exists():
            os.utime(file)
            file.chmod(self._dice.choice((0o600, 0o644)))

    def _noise(self, _: str, file: Path) -> None:
        """What editors and systems leave lying about; none of it is a log."""
        for name in (f".{file.name}.swp", f"{file.name}.bak", "4913", "notes.txt"):
            (file.parent / name).write_bytes(b"06:00 A02 isolated by NOISE\n")
        deep = file.parent / ".hidden" / "deep"
        deep.mkdir(parents=True, exist_ok=True)
        (deep / "x.log").write_bytes(b"2026-11-02T06:00 A02 isolated by NOISE\n")

    def _folder_moved(self, _: str, file: Path) -> None:
        """The whole sub-folder is away for a moment."""
        if file.parent == self._folder:
            return
        away = self._folder / ".away"
        with self._between_states():
            file.parent.rename(away)
            self._pause()
            away.rename(file.parent)

    def _save_canary(self) -> None:
        dice = self._dice
        self._canary_tail += (
            f"2026-11-02T06:{dice.randrange(60):02} A01 note {self.saves}\n".encode()
        )
        if len(self._canary_tail) > 2_000:
            self._canary_tail = b""
        data = canary_lines() + self._canary_tail
        way = dice.randrange(4)
        if way == 0:
            self._write(self.canary, data)
        elif way == 1:
            beside = self.canary.with_name(".canary.tmp")
            beside.write_bytes(data)
            beside.replace(self.canary)
        elif way == 2:
            with self._between_states():
                self.canary.unlink()
                self._pause()
                self.canary.write_bytes(data)
        else:
            with self._between_states():
                aside = self.canary.with_name("canary.log~")
                self.canary.rename(aside)
                self._pause()
                self.canary.write_bytes(data)
            aside.unlink()
        self.saves += 1
        self.by_kind["canary"] = self.by_kind.get("canary", 0) + 1

    def _write(self, file: Path, data: bytes) -> None:
        """Truncated and written again in pieces, as most editors do."""
        with self._between_states(), file.open("wb", buffering=0) as log:
            self._pause()
            cut = self._dice.randrange(len(data) + 1)
            for piece in (data[:cut], data[cut:]):
                log.write(piece)
                self._pause()

    def _pause(self) -> None:
        if self._dice.random() < 0.3:
            time.sleep(self._dice.random() * 0.03)

    @contextmanager
    def _between_states(self) -> Iterator[None]:
        begun = time.monotonic()
        yield
        ended = time.monotonic()
        if ended - begun > BRIDGED_S:
            self.slow_until = ended + 2.0

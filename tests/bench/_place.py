"""Where a row is measured: a shed's logs of one size, a copy to write into, and its index."""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from pathlib import Path

from tests.bench._process import loomslate
from tests.bench.generate import AS_OF, SIZES, Size, write_folder


class NotMeasured(Exception):
    """Why a row could not be measured, in a few words."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """``sheds`` holds the logs of each size and is only read; ``scratch`` is written into."""

    sheds: Path
    scratch: Path
    name: str
    passes: int

    @property
    def size(self) -> Size:
        """How much the logs hold."""
        return SIZES[self.name]

    @property
    def folder(self) -> Path:
        """The logs as they were made."""
        return self.sheds / self.name

    @property
    def copy(self) -> Path:
        """The logs to write into."""
        return self.scratch / self.name / "logs"

    @property
    def index(self) -> Path:
        """The index of the copy."""
        return self.scratch / self.name / "index.sqlite"

    @property
    def environ(self) -> dict[str, str]:
        """What a command needs so that it keeps nothing outside of the scratch folder."""
        return {
            "XDG_CACHE_HOME": str(self.scratch / "cache"),
            "PYTHONUTF8": "1",
            "PYTHONDONTWRITEBYTECODE": "",  # as where it is installed
            "TZ": "UTC",
            "COLUMNS": "160",
            "LINES": "60",
        }

    def make(self) -> None:
        """Makes the logs where they are not there whole."""
        whole = self.sheds / f"READY-{self.name}"
        if not whole.exists():
            shutil.rmtree(self.folder, ignore_errors=True)
            write_folder(self.folder, self.size)
            whole.touch()

    def copied(self) -> Path:
        """The copy, made when it is first asked for. Copies are as old as what they copy."""
        whole = self.copy.with_name("copied")
        if not whole.exists():
            shutil.rmtree(self.copy, ignore_errors=True)
            shutil.copytree(self.folder, self.copy)
            whole.touch()
        return self.copy

    def needs_index(self) -> None:
        """Raises NotMeasured while the program has no index."""
        if not has_index(self.environ):
            raise NotMeasured("not measured: no index")

    def indexed(self) -> list[str]:
        """The options that name the copy and its index, which is built when first asked for."""
        self.needs_index()
        options = ["--folder", str(self.copied()), "--index", str(self.index)]
        if self._failed.exists():
            raise NotMeasured(self._failed.read_text("utf-8"))
        whole = self.index.with_name("indexed")
        if not whole.exists():
            loomslate(["board", *options, "--at", AS_OF], self.environ)
            whole.touch()
        return options

    def cannot_be_indexed(self, why: str) -> None:
        """Keeps the rows that need the index of the copy from trying again."""
        self._failed.parent.mkdir(parents=True, exist_ok=True)
        self._failed.write_text(why, "utf-8")

    @property
    def _failed(self) -> Path:
        return self.index.with_name("no-index")

    def warm_grammar(self) -> None:
        """Has the program keep its built grammar, as every run but the first one finds it."""
        log = next(iter(sorted(self.folder.rglob("*.log"))))
        loomslate(["check", str(log), "--folder", str(self.folder), "--at", AS_OF],
                  self.environ, fine=(0, 1))  # fmt: skip


def has_index(environ: dict[str, str]) -> bool:
    """Whether the commands have the option."""
    return "--index" in loomslate(["board", "--help"], environ).out

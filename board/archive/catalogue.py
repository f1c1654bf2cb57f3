"""The catalogue of an archive: its mills, and the partitions that together are their record.

One JSON file, written whole. It decides which partitions count: a new one stands hidden beside
the old until the catalogue names it, so that a build that is killed leaves the record as it was.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import asdict, dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

from board.archive.mill_names import is_name

NAME = "catalogue.json"
VERSION = 1


class NoCatalogue(Exception):
    """There is no catalogue that can be read; ``sentence`` says why."""

    def __init__(self, sentence: str, *, damaged: bool) -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.damaged = damaged


@dataclass(frozen=True, slots=True, kw_only=True)
class Partition:
    """One table of one mill and year; ``first`` and ``last`` are its times, ``bytes`` its size.

    ``digest`` is that of the file. Year 0 holds lines of which no time is known.
    """

    table: str
    year: int
    rows: int
    bytes: int
    first: str | None
    last: str | None
    digest: str

    def folder(self, out: Path, mill: str) -> Path:
        """The folder that it stands in, as the hive layout has it."""
        return out / "tables" / self.table / f"mill={mill}" / f"year={self.year}"

    def file(self, out: Path, mill: str) -> Path:
        """Where it stands."""
        return self.folder(out, mill) / "part.parquet"

    def hidden(self, out: Path, mill: str) -> Path:
        """Where it stands until it takes the place of the one before it."""
        return self.folder(out, mill) / f".part-{self.digest[:16]}.parquet"


@dataclass(frozen=True, slots=True, kw_only=True)
class MillKept:
    """One mill as the archive saw it at a moment; ``marks`` tell what each year was made from."""

    name: str
    folder: str
    shed: str
    zone: str
    as_of: str
    entries: int
    lines: int
    refused: int
    notices: tuple[str, ...] = ()
    partitions: tuple[Partition, ...] = ()
    marks: Mapping[str, str] = field(default_factory=dict)

    @property
    def moment(self) -> datetime:
        """The moment that it was brought up to, in UTC."""
        return datetime.fromisoformat(self.as_of)

    def of(self, table: str) -> tuple[Partition, ...]:
        """The partitions of a table, by year."""
        return tuple(p for p in self.partitions if p.table == table)


@dataclass(frozen=True, slots=True, kw_only=True)
class Catalogue:
    """The mills of an archive, by name."""

    mills: tuple[MillKept, ...] = ()

    def with_mill(self, mill: MillKept) -> Catalogue:
        """The catalogue with one mill as it is now."""
        others = [m for m in self.mills if m.name != mill.name]
        return Catalogue(mills=tuple(sorted([*others, mill], key=lambda m: m.name)))

    def mill(self, name: str) -> MillKept | None:
        """A mill by its name."""
        return next((m for m in self.mills if m.name == name), None)


def read_catalogue(out: Path) -> Catalogue:
    """The catalogue of an archive. Raises NoCatalogue."""
    try:
        text = (out / NAME).read_text(encoding="utf-8")
    except FileNotFoundError:
        raise NoCatalogue(f"there is no archive in {out}", damaged=False) from None
    except (OSError, ValueError) as error:
        reason = (getattr(error, "strerror", None) or "it is no text").lower()
        raise NoCatalogue(
            f"the catalogue of {out} cannot be read: {reason}", damaged=True
        ) from None
    try:
        found = json.loads(text)
        if found["version"] != VERSION:
            raise NoCatalogue(
                f"the catalogue of {out} was written by another version of loomslate", damaged=True
            )
        if found["digest"] != _digest(found["mills"]):
            raise ValueError("it is not what was written")
        return Catalogue(mills=tuple(_mill(record) for record in found["mills"]))
    except (ValueError, TypeError, LookupError, AttributeError, RecursionError):
        raise NoCatalogue(f"the catalogue of {out} is damaged", damaged=True) from None


def _mill(record: dict[str, Any]) -> MillKept:
    mill = MillKept(
        **record
        | {
            "notices": tuple(record["notices"]),
            "partitions": tuple(Partition(**each) for each in record["partitions"]),
        }
    )
    if not is_name(mill.name) or mill.moment.tzinfo is None:
        raise ValueError("no mill is called so")
    return mill


def write_catalogue(out: Path, catalogue: Catalogue) -> None:
    """Write the catalogue whole: what it names counts from here on. Raises OSError."""
    mills = [asdict(mill) for mill in catalogue.mills]
    document = {"archive": "loomslate", "version": VERSION, "digest": _digest(mills)}
    text = json.dumps({**document, "mills": mills}, indent=1) + "\n"
    replace_whole(out / NAME, text.encode())


def _digest(mills: object) -> str:
    told = json.dumps(mills, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(told.encode()).hexdigest()


def replace_whole(path: Path, data: bytes) -> None:
    """Put bytes in the place of a file: all of them are there, or the old ones. Raises OSError."""
    beside = path.with_name(f".{path.name}.{os.getpid()}.tmp")
    try:
        with beside.open("wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        beside.replace(path)
    except BaseException:
        with suppress(OSError):
            beside.unlink(missing_ok=True)
        raise

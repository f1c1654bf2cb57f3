"""Seeded damage to a log folder: what slips of the hand, editors, copies and bad disks do to files."""

from __future__ import annotations

import os
import random
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from tests.robust.hostile import PAYLOADS

Change = Callable[[random.Random, bytes], bytes]

_WORDS = (
    b"isolated by KM", b"lock removed by KM", b"lock seen by RB", b"stopped for fault", b"running",
    b"fault cleared all", b"note", b"struck 22:55 x", b"replaced left tape", b"left tape 2.35 mm",
    b"open no 3 x", b"done no 3", b"moved left head from A09", b"; by RB", b";", b"day 2026-11-24 night",
    b"shed taken over by RB; sealed 3 abcdef", b"counter 0 h new", b"gauge 0.3 mm enters", b"A01-A24",
    b"shed", b"torque 1.4 N.m", b"2026-03-29T01:30", b"2026-10-25T01:30", b"9999-12-31T23:59",
)  # fmt: skip


def _somewhere(dice: random.Random, data: bytes) -> int:
    return dice.randrange(len(data) + 1)


def _stretch(dice: random.Random, data: bytes, most: int = 200) -> tuple[int, int]:
    start = _somewhere(dice, data)
    return start, min(len(data), start + dice.randrange(1, most))


def _byte_changed(dice: random.Random, data: bytes) -> bytes:
    at = _somewhere(dice, data)
    return data[:at] + dice.randbytes(1) + data[at + 1 :]


def _cut_out(dice: random.Random, data: bytes) -> bytes:
    start, end = _stretch(dice, data)
    return data[:start] + data[end:]


def _doubled(dice: random.Random, data: bytes) -> bytes:
    start, end = _stretch(dice, data, 2_000)
    at = _somewhere(dice, data)
    return data[:at] + data[start:end] + data[at:]


def _truncated(dice: random.Random, data: bytes) -> bytes:
    return data[: _somewhere(dice, data)]


def _lines_shuffled(dice: random.Random, data: bytes) -> bytes:
    lines = data.split(b"\n")
    dice.shuffle(lines)
    return b"\n".join(lines)


def _line_repeated(dice: random.Random, data: bytes) -> bytes:
    lines = data.split(b"\n")
    lines.insert(dice.randrange(len(lines) + 1), dice.choice(lines))
    return b"\n".join(lines)


def _line_lost(dice: random.Random, data: bytes) -> bytes:
    lines = data.split(b"\n")
    del lines[dice.randrange(len(lines))]
    return b"\n".join(lines)


def _lines_joined(dice: random.Random, data: bytes) -> bytes:
    ends = [at for at, byte in enumerate(data) if byte == 10]
    if not ends:
        return data
    at = dice.choice(ends)
    return data[:at] + dice.choice((b"", b" ", b"\r", b";", b"\0")) + data[at + 1 :]


def _payload_put_in(dice: random.Random, data: bytes) -> bytes:
    at = _somewhere(dice, data)
    payload = dice.choice(sorted(PAYLOADS.values())).encode("utf-8", "surrogatepass")
    return data[:at] + payload + data[at:]


def _word_put_in(dice: random.Random, data: bytes) -> bytes:
    pieces = data.split(b" ")
    pieces.insert(dice.randrange(len(pieces) + 1), dice.choice(_WORDS))
    return b" ".join(pieces)


def _words_swapped(dice: random.Random, data: bytes) -> bytes:
    pieces = data.split(b" ")
    one, other = dice.randrange(len(pieces)), dice.randrange(len(pieces))
    pieces[one], pieces[other] = pieces[other], pieces[one]
    return b" ".join(pieces)


def _digits_changed(dice: random.Random, data: bytes) -> bytes:
    out = bytearray(data)
    for at in [at for at, byte in enumerate(out) if 48 <= byte <= 57 and dice.random() < 0.03]:
        out[at] = dice.randrange(48, 58)
    return bytes(out)


def _other_line_ends(dice: random.Random, data: bytes) -> bytes:
    return data.replace(b"\n", dice.choice((b"\r\n", b"\r", b"\n\n", b"\n \n", b"\n#")))


def _other_encoding(dice: random.Random, data: bytes) -> bytes:
    text = data.decode("utf-8", "replace") + "für"
    return text.encode(dice.choice(("latin-1", "utf-16", "utf-8-sig", "cp850")), "replace")


def _upper(_: random.Random, data: bytes) -> bytes:
    return data.upper()


def _zeros_behind(dice: random.Random, data: bytes) -> bytes:
    return data + bytes(dice.randrange(1, 6_000))  # as after a loss of power


CHANGES: tuple[Change, ...] = (
    _byte_changed, _byte_changed, _byte_changed, _cut_out, _doubled, _truncated, _lines_shuffled,
    _line_repeated, _line_lost, _lines_joined, _payload_put_in, _payload_put_in, _word_put_in,
    _word_put_in, _word_put_in, _words_swapped, _words_swapped, _digits_changed, _other_line_ends,
    _other_encoding, _upper, _zeros_behind,
)  # fmt: skip


def damaged(dice: random.Random, data: bytes, most: int = 8) -> bytes:
    """Bytes with one to so many changes."""
    for _ in range(dice.randint(1, most)):
        data = dice.choice(CHANGES)(dice, data)
    return data


@dataclass(frozen=True)
class Damaged:
    """A folder of damaged logs: its place and the bytes of each log by path."""

    folder: Path
    logs: dict[str, bytes]


def damaged_folder(seed: int, source: Path, folder: Path, now: datetime) -> Damaged:
    """Two to five logs of a folder, damaged, with its register whole. Made anew."""
    dice = random.Random(seed)
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    shutil.copy(source / "shed.toml", folder)
    logs = {}
    known = sorted(source.rglob("*.log"))
    start = dice.randrange(len(known) - 5)  # neighbours in time have more to do with one another
    for file in dice.sample(known[start : start + 8], k=dice.randint(2, 5)):
        data = damaged(dice, file.read_bytes())
        target = folder / file.name
        target.write_bytes(data)
        quiet_s = dice.choice((10.0, 3_600.0))  # still growing, or not
        os.utime(target, (now.timestamp() - quiet_s,) * 2)
        logs[file.name] = data
    return Damaged(folder, logs)

"""An invented shed's logs of any size, the same for the same seed, for measuring speed and scale.

    python -m tests.bench.generate FOLDER --entries 1000000 --looms 300 --parts 12 --files 5000

Writes ``shed.toml`` and one file a shift, the last of which ends at 06:00 on 2026-11-25 by the
shed's clock. Every line can be understood. Plain string work: nothing is parsed.
"""

from __future__ import annotations

import argparse
import os
from dataclasses import dataclass
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path
from random import Random
from time import monotonic

from tests.bench._calendar import ShiftTime, shifts
from tests.bench._life import Shed, check_density
from tests.bench._shed import register
from tests.bench._voices import Voice

AS_OF = "2026-11-25T06:00"
SEED = 20261125
_LOADS = {"early": 1.15, "late": 1.0, "night": 0.85}
_LEAST_A_SHIFT = 4  # with the two lines of handing over


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """How much is written."""

    entries: int
    files: int
    looms: int = 300
    parts: int = 12


SIZES = {
    "10k": Size(entries=10_000, files=50),
    "100k": Size(entries=100_000, files=500),
    "1m": Size(entries=1_000_000, files=5_000),
    "5m": Size(entries=5_000_000, files=20_000),
}


def write_folder(folder: Path, size: Size, seed: int = SEED) -> int:
    """Writes a log folder and returns its size [bytes].

    Raises ValueError where the entries do not fit the files and looms.
    """
    check_density(size.entries, size.looms, size.files)
    if size.entries < _LEAST_A_SHIFT * size.files:
        raise ValueError("too few entries for so many files")
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "shed.toml").write_text(register(size.looms, size.parts), "utf-8")
    shed = Shed(size.looms, size.parts, seed)
    times = shifts(size.files)
    written, sealed = 0, ""
    before: Voice | None = None
    for number, (when, entries) in enumerate(zip(times, _quotas(size, times, seed), strict=True)):
        voice = shed.voices[(number * 3 + number // len(shed.voices)) % len(shed.voices)]
        after = shed.voices[
            ((number + 1) * 3 + (number + 1) // len(shed.voices)) % len(shed.voices)
        ]
        if before is None:
            opening = _all_running(shed, when, voice)
        else:
            opening = (
                f"{voice.times[when.clock(when.start + 2)]} shed taken over by {voice.name}{sealed}"
            )
        lines = shed.shift(when, voice, entries - 2)
        last = voice.times[when.clock(when.start + when.minutes - 1)]
        closing = f"{last} shed handed over {voice.name} to {after.name}"
        counted = [opening, *lines] if before is None else lines
        sealed = f"; sealed {len(counted)} {_seal(counted)}"
        text = "\n".join(
            (f"day {when.day} {when.name} by {voice.name}", opening, *lines, closing, "")
        )
        written += _save(folder, when, voice, text)
        before = voice
    return written


def _all_running(shed: Shed, when: ShiftTime, voice: Voice) -> str:
    """The first entry of the log: it tells the motion of every loom."""
    for loom in shed.looms:
        loom.run(when.start + 2)
    return f"{voice.times[when.clock(when.start + 2)]} shed {voice.w['running']}"


def _quotas(size: Size, times: list[ShiftTime], seed: int) -> list[int]:
    """How many entries each shift has; their sum is what was asked for."""
    random = Random(seed + 1)
    weights = [_LOADS[when.name] * random.uniform(0.7, 1.3) for when in times]
    spare = size.entries - _LEAST_A_SHIFT * size.files
    total, given, quotas = sum(weights), 0, []
    reached = 0.0
    for weight in weights:
        reached += weight
        upto = round(spare * reached / total)
        quotas.append(_LEAST_A_SHIFT + upto - given)
        given = upto
    return quotas


def _seal(lines: list[str]) -> str:
    """The start of the hash of a shift's lines, sorted, as ``taken over`` carries it."""
    return sha256("\n".join(sorted(lines)).encode()).hexdigest()[:6]


def _save(folder: Path, when: ShiftTime, voice: Voice, text: str) -> int:
    """Writes a shift's file, as old as its shift, and returns its size [bytes]."""
    place = folder / f"{when.day:%Y/%m}"
    if not place.is_dir():
        place.mkdir(parents=True)
    data = text.encode()
    path = place / f"{when.day}-{when.name}-{voice.name}.log"
    path.write_bytes(data)
    ended = min((when.start + when.minutes) * 60, datetime.now(UTC).timestamp() - 60)
    os.utime(path, (ended, ended))
    return len(data)


def main() -> None:
    """The command line."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--entries", type=int, default=1_000_000)
    parser.add_argument("--looms", type=int, default=300)
    parser.add_argument("--parts", type=int, default=12)
    parser.add_argument("--files", type=int, default=5_000)
    parser.add_argument("--seed", type=int, default=SEED)
    options = parser.parse_args()
    size = Size(
        entries=options.entries, files=options.files, looms=options.looms, parts=options.parts
    )
    begun = monotonic()
    try:
        written = write_folder(options.folder, size, options.seed)
    except ValueError as error:
        parser.error(str(error))
    print(
        f"{size.entries:,} entries in {size.files:,} files, {written / 1e6:.1f} MB,"
        f" {monotonic() - begun:.1f} s"
    )


if __name__ == "__main__":
    main()

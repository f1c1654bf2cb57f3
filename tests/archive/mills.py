"""Small mills over several years, each with its own register, zone, words and looms."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path

from tests.conftest import SMALL_REGISTER

AT = "2026-11-25T06:00"

_FEW = SMALL_REGISTER.replace("A01-A12", "A01-A05")  # few looms are soon compared
NORTH = _FEW.replace('\n[section.B]\nlooms = ["B01-B04"]\n', "")
SOUTH = (
    _FEW.replace("Smallshed", "Southshed")
    .replace("Europe/London", "Europe/Berlin")
    .replace('words = ["band"]', 'words = ["belt"]')
    .replace('looms = ["B01-B04"]', 'looms = ["C01-C02"]')
    + '\n[part.hook]\n[part.hook.gap]\nunit = "mm"\nreplace_above = 0.4\nplausible = [0.0, 2.0]\n'
)
EAST = NORTH.replace("Smallshed", "Eastshed")
REGISTERS = {"north": NORTH, "south": SOUTH, "east": EAST}


def logs(first: int = 2024, last: int = 2026, wear: float = 0.10) -> dict[str, str]:
    """Logs of some years by path: running, worn and replaced tapes, faults that come again."""
    found: dict[str, str] = {}
    thick = 3.10
    for year in range(first, last + 1):
        for month in range(1, 12):
            lines = [f"day {year}-{month:02}-10 early by KM"]
            if (year, month) == (first, 1):
                lines += [f"06:0{n} A0{n} running" for n in range(1, 6)]
                lines += ["06:10 A02 style 4410", "06:11 A01 replaced left tape worn"]
            thick -= wear
            lines.append(f"07:00 A01 left tape {thick:.2f} mm")
            if thick < 2.45:
                why = "worn" if month % 2 else "early"
                lines.append(f"07:30 A01 replaced left tape {why}; batch H{month % 3}")
                thick = 3.10
            lines.append(f"08:00 A02 fault right tape frays at row {month}")
            lines.append("09:00 A02 replaced right tape broken; batch H1")
            lines.append("09:30 A02 fault cleared new tape")
            if month % 2:
                lines.append("10:00 A03 fault left tape frays")
                lines.append("11:00 A03 adjusted left tape; fault cleared")
            lines.append(f"12:00 A04 note band {month} of {year} looked at")
            if month in (4, 6):
                done = "open" if month == 4 else "done"
                lines.append(f"12:30 A04 {done} no {year} recheck right tape")
            found[f"{year}/{month:02}/{year}-{month:02}-10-early-KM.log"] = "\n".join(lines) + "\n"
    return found


# a strike after New Year of a line before it, a line of no time, and one that was not understood
NEW_YEAR = {
    "2025/2025-12-31-late-RB.log": "day 2025-12-31 late by RB\n21:50 A05 note old year band\n",
    "2026/2026-01-01-early-RB.log": (
        "day 2026-01-01 early by RB\n06:20 A05 struck 2025-12-31T21:50 wrong loom\n"
        "06:30 A05 left tpae 2.7 mm\n"
    ),
    "2026/loose.log": "A05 band without a day\n",
}


def write(folder: Path, files: Mapping[str, str], register: str) -> Path:
    """A log folder of a register and files by path, all long since saved."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "shed.toml").write_text(register, encoding="utf-8")
    for path, text in files.items():
        file = folder / path
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text, encoding="utf-8")
        os.utime(file, (1_760_000_000, 1_760_000_000))
    return folder


def write_all(top: Path, names: tuple[str, ...] = ("north", "south", "east")) -> dict[str, Path]:
    """The mills by name, each with more or less wear; one of them has a New Year of its own."""
    found = {}
    for n, name in enumerate(names):
        files = logs(wear=0.10 + 0.02 * n)
        if name == "north":
            files |= NEW_YEAR
        if name == "south":
            files["2026/hook.log"] = "day 2026-03-01 early by UB\n07:00 C01 hook gap 0.20 mm\n"
        found[name] = write(top / name, files, REGISTERS[name])
    return found

"""A small invented shed for tests of the state: texts of logs in, the fleet out."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from functools import cache
from zoneinfo import ZoneInfo

from board.mill import Mill
from board.record.register import read_register
from board.snapshot import FileReading, Snapshot, snapshot
from board.state.fleet import Fleet, LoomState
from grammar.reader import LastLine, Reader

LONDON = ZoneInfo("Europe/London")

REGISTER = """\
[shed]
name = "Testbank"
zone = "Europe/London"
shifts = { early = "06:00-14:00", late = "14:00-22:00", night = "22:00-06:00" }

[section.A]
looms = ["A01-A09"]
speed = 500

[section.B]
looms = ["B01-B03"]

[part.tape]
sides = ["left", "right"]
words = ["band"]

[part.tape.thickness]
unit = "mm"
new = 3.20
replace_below = 2.45
tool_uncertainty = 0.03
plausible = [1.8, 4.2]

[part.tape.after]
torque = { value = 1.40, tolerance = "10 %", unit = "N.m", tool_tolerance = "4 %" }
needs = ["thread-locked", "checked joint"]

[part.head]
sides = ["left", "right"]

[part.head.force]
unit = "N"
new = 34.0
replace_below = 22.0
tool_uncertainty = 0.8
plausible = [8.0, 60.0]

[part.head.after]
torque = { value = 2.20, tolerance = "10 %", unit = "N.m" }
recheck = "in 24 h"

[part.guide]
sides = ["left", "right"]

[part.guide.gap]
unit = "mm"
new = 0.12
replace_above = 0.40
tool_uncertainty = 0.02
plausible = [0.02, 1.8]

[part.guide.after]
needs = ["checked alignment"]

[part.cutter]

[part.cutter.play]
unit = "mm"
new = 0.04
replace_above = 0.22
tool_uncertainty = 0.01
plausible = [0.0, 0.9]

[part.cutter.blade]
unit = "mm"
new = 9.0
replace_below = 6.0
tool_uncertainty = 0.1
plausible = [3.0, 12.0]

[part.cutter.after]
recheck = "early"

[part.belt]

[part.belt.tension]
unit = "Hz"
new = 61.0
band = [47.0, 68.0]
tool_uncertainty = 1.0
plausible = [15.0, 140.0]

[symptom."drops weft"]
words = ["loses weft"]

[style.4410]
speed = 400

[calendar]
days = "mon-sun"
closed = ["2026-12-25"]
"""

NOW = "2026-11-25 06:00"
NIGHT = "day 2026-11-24 night by KM\n"


@cache
def mill(register: str = REGISTER) -> Mill:
    """The mill of a register's text."""
    read = read_register(register)
    assert isinstance(read, Mill), read
    return read


@cache
def _reader(register: str) -> Reader:
    return Reader(mill(register).vocabulary)


def at(written: str) -> datetime:
    """A moment, from local time in London; in an hour that came twice the first pass."""
    return datetime.fromisoformat(written).replace(tzinfo=LONDON).astimezone(ZoneInfo("UTC"))


def read(
    files: Mapping[str, str],
    now: str | datetime = NOW,
    *,
    register: str = REGISTER,
    last_line: LastLine = LastLine.SETTLED,
) -> Snapshot:
    """The shed that files (path to text) make, as of a moment (local time, or any instant)."""
    when = at(now) if isinstance(now, str) else now
    readings = [
        FileReading(path=path, reading=_reader(register).read(text, last_line))
        for path, text in files.items()
    ]
    return snapshot(readings, mill(register), when)


def night(*lines: str, now: str = NOW, register: str = REGISTER) -> Snapshot:
    """The shed that lines under the night's heading make at the end of that night."""
    return read({"a.log": NIGHT + "\n".join(lines) + "\n"}, now, register=register)


def loom(shed: Snapshot | Fleet, name: str = "A07") -> LoomState:
    """The state of one loom."""
    fleet = shed.fleet if isinstance(shed, Snapshot) else shed
    return fleet.looms[name]


def codes(shed: Snapshot) -> list[str]:
    """The codes of all complaints, in the order of files and lines."""
    return [c.diagnostic.code.value for c in shed.complaints]

"""Every complaint of sense, drawn: the lines of a case and the exact text that they draw.

A case is a text file in ``complaints``: an optional ``now`` line, the files each under its name,
and what is printed. The cases are complete against the codes that the state raises.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

import pytest

from board.show.problems import drawn_all
from grammar.diagnostics import Code
from tests.state.shed import NOW, read

FOLDER = Path(__file__).parent / "complaints"
STATE = Path(__file__).parents[2] / "board" / "state"

# codes that a clause may draw from its own text, and are the grammar's to test
OF_THE_GRAMMAR = {Code.IMPLAUSIBLE, Code.OUTSIDE_SHIFT, Code.ODD_ENCODING}


@dataclass(frozen=True)
class Case:
    now: str
    files: dict[str, str]
    printed: str


def _case(path: Path) -> Case:
    """``now: TIME`` first if it is not the usual one, then ``== NAME`` above each file."""
    text = path.read_text("utf-8")
    now = re.match(r"now: (.+)\n", text)
    parts = re.split(r"^== (.+)\n", text, flags=re.MULTILINE)
    named = dict(zip(parts[1::2], parts[2::2], strict=True))
    printed = named.pop("complaints")
    return Case(now=now[1] if now else NOW, files=named, printed=printed.strip())


CASES = sorted(FOLDER.glob("*.txt"))


@pytest.mark.parametrize("path", CASES, ids=[p.stem for p in CASES])
def test_the_printed_complaint(path: Path) -> None:
    case = _case(path)
    shed = read(case.files, case.now)
    assert drawn_all(shed.complaints) == case.printed
    code = next(
        c for c in sorted(Code, key=lambda c: -len(c.value)) if path.stem.startswith(c.value)
    )
    assert code in {c.diagnostic.code for c in shed.complaints}


def test_every_code_that_the_state_raises_has_a_case() -> None:
    raised = {
        Code[name]
        for path in STATE.glob("*.py")
        for name in re.findall(r"Code\.([A-Z_]+)", path.read_text("utf-8"))
    }
    shown = {code for path in CASES for code in Code if path.stem.startswith(code.value)}
    assert raised - shown == set()
    assert raised & OF_THE_GRAMMAR == set()

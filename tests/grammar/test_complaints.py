"""Every complaint that the reader raises, drawn: a log and the exact text that it draws.

A case is a text file in ``complaints``, named after its code: the log, then what is printed, then
the lines that may hide an isolation. ``\\t`` and ``\\xNN`` in a log are written so to be seen.
"""

from __future__ import annotations

import codecs
import os
import re
from pathlib import Path

import pytest

from board.show.problems import drawn_all
from board.state.fleet import Complaint
from grammar.diagnostics import CATALOGUE, Code, Severity
from tests.grammar.mills import READER

FOLDER = Path(__file__).parent / "complaints"
GRAMMAR = Path(__file__).parents[2] / "grammar"
CASES = sorted(FOLDER.glob("*.txt"))
SENSE = Path(__file__).parents[1] / "state" / "complaints"

# Raised by what several entries say together: their cases stand beside the tests of the state.
OF_THE_STATE = {
    Code.NO_SUCH_ACTION,
    Code.WHICH_FAULT,
    Code.WHICH_ENTRY,
    Code.WHICH_PART,
    Code.NO_LOCK,
    Code.LINE_TWICE,
    Code.IN_THE_FUTURE,
    Code.RUNNING_WHILE_ISOLATED,
    Code.ISOLATED_BELOW,
    Code.BETTER_WITHOUT_WORK,
    Code.COUNTER_BACKWARDS,
    Code.COUNTER_DISAGREES,
    Code.NUMBER_TAKEN,
    Code.SAME_MINUTE,
    Code.CHANGED_AFTER_HANDOVER,
}


def as_bytes(log: str) -> bytes:
    """The log of a case: escapes as the bytes that they stand for."""
    pieces = re.split(r"(\\x[0-9a-f]{2}|\\t)", log)
    return b"".join(
        codecs.escape_decode(piece.encode())[0] if index % 2 else piece.encode()
        for index, piece in enumerate(pieces)
    )


def drawing(log: str) -> str:
    """What a case's log draws, and the lines that may hide an isolation."""
    reading = READER.read(as_bytes(log))
    drawn = drawn_all(Complaint(path="a.log", diagnostic=d) for d in reading.diagnostics)
    hidden = "".join(f"\nline {unread.line} may be an isolation" for unread in reading.may_isolate)
    return drawn + ("\n" + hidden if hidden else "")


def code_of(path: Path) -> Code:
    """The code that a case is named after: the longest that its name begins with."""
    named = (code for code in Code if path.stem.startswith(code.value))
    return max(named, key=lambda code: len(code.value))


@pytest.mark.parametrize("path", CASES, ids=[p.stem for p in CASES])
def test_the_printed_complaint(path: Path) -> None:
    log, expected = path.read_text("utf-8").split("== complaints\n")
    if os.environ.get("BLESS"):  # look at the difference before keeping it
        path.write_text(f"{log}== complaints\n{drawing(log)}\n", "utf-8")
        return
    assert drawing(log).strip() == expected.strip()
    raised = {d.code for d in READER.read(as_bytes(log)).diagnostics}
    assert code_of(path) in raised


def test_every_code_of_the_reader_has_a_case() -> None:
    assert {code_of(path) for path in CASES} == set(Code) - OF_THE_STATE


def test_every_other_code_has_a_case_beside_the_state() -> None:
    names = [path.stem for path in SENSE.glob("*.txt")]
    for code in OF_THE_STATE:
        assert any(name.startswith(code.value) for name in names), code


def test_the_reader_raises_no_code_of_the_state() -> None:
    text = "".join(
        path.read_text("utf-8") for path in GRAMMAR.glob("*.py") if path.name != "diagnostics.py"
    )
    raised = {Code[name] for name in re.findall(r"\bCode\.([A-Z_]+)\b", text)}
    assert raised == set(Code) - OF_THE_STATE


def test_the_catalogue_is_complete() -> None:
    assert set(CATALOGUE) == set(Code)
    refused = {code for code, case in CATALOGUE.items() if case.severity is Severity.REFUSED}
    assert len(refused) == 16
    for case in CATALOGUE.values():
        assert case.summary[0].islower()
        assert not case.summary.endswith(".")
        assert case.remedy


@pytest.mark.parametrize("path", CASES, ids=[p.stem for p in CASES])
def test_the_wording(path: Path) -> None:
    """Lower case, no full stop, no name of a terminal, three alternatives at most, a whole span."""
    log = as_bytes(path.read_text("utf-8").split("== complaints\n")[0])
    for d in READER.read(log).diagnostics:
        assert not d.message.endswith("."), d.message
        first = d.message.split()[0]
        assert first[0].islower() or first in d.text or not first[0].isalpha(), d.message
        assert not re.search(r"\b[A-Z]+_[A-Z]+\b|\$END|Token", d.message + d.help), d
        if d.help.startswith("write one of fault, warp"):
            continue  # there are just ten reasons: all are told
        named = d.help.partition(": ")[2] or d.help
        assert len(re.split(", | or ", named)) <= 4, d.help  # three, or three and how many more
        assert 0 <= d.span.start < d.span.end <= max(len(d.text), 1), d

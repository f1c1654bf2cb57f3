"""What must hold of any text, of texts drawn by hypothesis; long runs of the same in tests/bench.

`tests.bench.fuzz_lines` tries a million lines, `tests.bench.fuzz_coverage` what libFuzzer finds.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from board.show import lines as showing
from grammar.reader import LastLine, Reading
from tests.robust.any_text import BEFORE, HEADING, Judge
from tests.robust.hostile import LONG, PAYLOADS
from tests.robust.mutated_lines import Mutator

few = settings(max_examples=80, deadline=None)


@pytest.fixture(scope="module")
def judge(tmp_path_factory: pytest.TempPathFactory) -> Judge:
    return Judge(tmp_path_factory.mktemp("cache"))


@few
@given(text=st.binary(max_size=300))
def test_any_bytes(judge: Judge, text: bytes) -> None:
    judge.must_hold(text)


@few
@given(seed=st.integers(0, 2**32), lines=st.integers(1, 6))
def test_any_damaged_lines(judge: Judge, seed: int, lines: int) -> None:
    judge.must_hold(next(Mutator(seed).texts(lines)))


@pytest.mark.parametrize("name", sorted(PAYLOADS))
def test_hostile_text_in_every_place_of_free_text(judge: Judge, name: str) -> None:
    payload = PAYLOADS[name]
    said = ("note {}", "fault {}", "open {}", "isolated by X {}", "style {}", "done no 1 {}", "{}")
    text = "\n".join(f"22:{n:02} A07 {one.format(payload)}" for n, one in enumerate(said, 10))
    data = text.encode("utf-8", "surrogatepass")
    shed = judge.is_folded(data, judge.is_read(data)[1])
    judge.is_read_alone(data)
    judge.is_shown(shed)


@pytest.mark.parametrize("name", sorted(LONG))
def test_endless_lines(judge: Judge, name: str) -> None:
    count, reading = judge.is_read(LONG[name])
    assert count.lines == 5
    judge.is_shown(judge.is_folded(LONG[name], reading))


# -- the judge itself ----------------------------------------------------------------------


def test_the_judge_sees_a_control_that_is_let_through(
    judge: Judge, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = b"22:10 A07 fault \x1b[2J"
    shed = judge.is_folded(text, judge.is_read(text)[1])
    judge.is_shown(shed)
    monkeypatch.setattr(showing, "clean", lambda text: text)
    with pytest.raises(AssertionError, match="x1b"):
        judge.is_shown(shed)


@pytest.mark.parametrize("lost", ["a line", "a neighbour", "an isolation"])
def test_the_judge_sees_what_is_lost(
    judge: Judge, monkeypatch: pytest.MonkeyPatch, lost: str
) -> None:
    read = judge._reader.read

    def losing(data: bytes, last_line: LastLine) -> Reading:
        reading = read(data, last_line)
        if lost == "a line":
            return replace(reading, diagnostics=())
        entries = [e for e in reading.entries if lost != "a neighbour" or e.text != BEFORE]
        if lost == "an isolation":
            entries = [replace(e, clauses=e.clauses[:0]) for e in entries]
        return replace(reading, entries=tuple(entries))

    text = f"22:10 A07 nonsense\n{HEADING}\n22:11 A07 stopped".encode()
    judge.is_folded(text, judge.is_read(text)[1])
    monkeypatch.setattr(judge, "_reader", type("Losing", (), {"read": staticmethod(losing)}))
    with pytest.raises(AssertionError):
        judge.is_folded(text, judge.is_read(text)[1])

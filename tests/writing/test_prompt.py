"""The prompt, asked by a script: who writes, what is shown before Enter, what becomes of a line."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterable, Mapping
from datetime import UTC, datetime
from itertools import chain
from pathlib import Path

import pytest

from board.desk import Desk
from board.line_editor import CutShort
from board.loading import read_mill
from board.mill import Mill
from board.prompt import Prompt
from board.record.unwritten import keep_unwritten, take_unwritten
from board.shell import Shell
from board.terminal import SignalledToEnd
from grammar.reader import Reader
from tests.writing.conftest import LOG

NIGHT = "day 2026-11-24 night by KM\n"
END = object()


def utc(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


class Script:
    """Answers what is asked from a list; an exception in it cuts the typing short there."""

    def __init__(self, answers: list[object]) -> None:
        self._answers = iter(answers)
        self.asked: list[tuple[str, str]] = []
        self.remembered: list[str] = []
        self.ahead: list[tuple[int, object]] = []  # what came before it was asked for, and when

    def _next(self, question: str, begun: str) -> str:
        self.asked.append((question, begun))
        answer = next(self._answers, END)
        if answer is END:
            raise CutShort("", EOFError())
        if isinstance(answer, CutShort):
            raise answer
        if callable(answer):
            return str(answer())
        return str(answer)

    def ask(self, question: str, begun: str = "") -> str:
        return self._next(question, begun)

    def choose(self, question: str) -> str:
        return self._next(question, "")

    def waiting(self) -> bool:
        if not self.ahead or len(self.asked) < self.ahead[0][0]:
            return False
        self._answers = chain([self.ahead.pop(0)[1]], self._answers)
        return True

    def remember(self, line: str) -> None:
        self.remembered.append(line)


class Sitting:
    """A prompt in a folder with a clock that the script can put forward."""

    def __init__(self, folder: Path, now: datetime) -> None:
        mill = read_mill(folder)
        assert isinstance(mill, Mill), mill
        self.folder, self.now, self.out = folder, now, io.StringIO()
        self.environ = {"XDG_CACHE_HOME": str(folder.parent / "cache"), "PYTHONUTF8": "1"}
        self.shell = Shell(
            stdin=None, stdout=self.out, stderr=io.StringIO(), environ=self.environ,
            clock=lambda: self.now,
        )  # fmt: skip
        self.desk = Desk(folder, mill, Reader(mill.vocabulary), self.shell.clock)
        self.script = Script([])

    def run(
        self, *answers: object, who: str | None = None, ahead: Iterable[tuple[int, object]] = ()
    ) -> int:
        self.script = Script(list(answers))
        self.script.ahead = list(ahead)
        return Prompt(desk=self.desk, shell=self.shell, editor=self.script, who=who).run()

    def later(self, time: str, answer: str) -> Callable[[], str]:
        """An answer that is given at a later time."""

        def given() -> str:
            self.now = utc(time)
            return answer

        return given

    @property
    def shown(self) -> str:
        return " ".join(self.out.getvalue().split())

    @property
    def logs(self) -> dict[str, str]:
        found = sorted(self.folder.rglob("*.log"))
        return {f.relative_to(self.folder).as_posix(): f.read_text("utf-8") for f in found}


@pytest.fixture
def sitting(folder: Callable[[Mapping[str, str]], Path]) -> Callable[..., Sitting]:
    return lambda files=None, now="2026-11-25T02:40": Sitting(folder(files or {}), utc(now))


def test_an_entry_is_shown_and_written_on_enter(sitting: Callable[..., Sitting]) -> None:
    at = sitting()
    assert at.run("KM", "A07 left tape 2.35 mm", "") == 0
    assert at.logs == {LOG: NIGHT + "02:40 A07 left tape 2.35 mm\n"}
    assert [q for q, _ in at.script.asked] == [
        "who writes (initials)? ", "night KM> ", "Enter writes it; e edits, x drops: ", "night KM> ",
    ]  # fmt: skip
    assert at.shown.index("PAST LIMIT, replace") < at.shown.index("written: ")


def test_nothing_is_written_without_an_enter(sitting: Callable[..., Sitting]) -> None:
    at = sitting()
    assert at.run("KM", "A07 stopped", "A08 stopped", "yes", "x", "x") == 0
    assert at.logs == {}
    first, second = "answer this first; what you typed is kept", "that is no answer to this"
    assert at.shown.count(f"nothing was written yet: {first} and comes after it") == 1
    assert at.shown.count(f"nothing was written yet: {second}; Up brings it back later") == 1
    assert "not written: A07 stopped" in at.shown
    assert "not written: A08 stopped" in at.shown  # typed too early, and asked by itself


TOO_EARLY = ["A07 stopped", "A08 stopped", "A09 isolated by KM lock 7"]


def test_what_came_before_a_question_answers_none(sitting: Callable[..., Sitting]) -> None:
    """After how many questions, and what was waiting then."""
    at = sitting()
    ahead = [(1, ""), (1, "B02 isolated by KM lock 2"), (1, ""), (1, "  ")]
    assert at.run("B01 left tape 2.7 mm", who="KM", ahead=ahead) == 1
    assert at.logs == {}
    assert at.shown.endswith(
        "1 line came with it, to be asked after it, each by itself B01 Wed 25 Nov 02:40, night of"
        " 2026-11-24, by KM left tape of B01: 2.7 mm, 0.30 mm inside the limit of 2.40: within"
        " limit NOT WRITTEN, and it stands nowhere else: B01 left tape 2.7 mm B02 isolated by KM"
        " lock 2 NO ISOLATION IS ON RECORD from this line"
    )
    assert at.run("B01 left tape 2.7 mm", "", "", who="KM", ahead=ahead) == 0
    assert at.logs[LOG].count("\n") == 3


def test_what_came_before_a_refused_line_is_edited_is_not_glued_to_it(
    sitting: Callable[..., Sitting],
) -> None:
    at = sitting()
    ahead = [(1, ""), (1, "B02 stopped"), (5, "B03 stopped"), (5, "x y")]
    answers = ["B01 left taep 2.7 mm", "", "B01 left tape 2.7 mm", "", "", "", "x"]
    assert at.run(*answers, who="KM", ahead=ahead) == 0
    assert at.script.asked[3] == ("Enter edits it; s edits 'B01 left tape 2.7 mm', a keeps it"
                                  " anyway, x drops: ", "")  # fmt: skip
    assert ("night KM> ", "B01 left taep 2.7 mm") in at.script.asked
    assert [x.split(" ", 1)[1] for x in at.logs[LOG].splitlines()[1:]] == [
        "B01 left tape 2.7 mm", "B02 stopped", "B03 stopped",
    ]  # fmt: skip


@pytest.mark.parametrize("begun", ["", "B03 st"])
def test_the_line_in_hand_is_told_when_the_taking_of_others_is_cut_short(
    begun: str, sitting: Callable[..., Sitting]
) -> None:
    at = sitting()
    ahead = [(1, "B02 stopped"), (1, CutShort(begun, EOFError()))]
    assert at.run("B01 isolated by KM", who="KM", ahead=ahead) == 1
    told = f"NOT WRITTEN, and it stands nowhere else: B01 isolated by KM B02 stopped {begun}"
    assert told.strip() in at.shown


def test_lines_typed_too_early_are_told_at_the_end(sitting: Callable[..., Sitting]) -> None:
    at = sitting()
    assert at.run("KM", *TOO_EARLY, "x", "x", CutShort("", EOFError())) == 1
    told = "NOT WRITTEN, and it stands nowhere else: A09 isolated by KM lock 7 NO ISOLATION IS ON"
    assert f"{told} RECORD" in at.shown
    assert at.shown.count("NOT WRITTEN") == 1
    at = sitting()
    assert at.run("KM", *TOO_EARLY, "", "", "") == 0
    assert at.logs == {LOG: NIGHT + "".join(f"02:40 {line}\n" for line in TOO_EARLY)}


def test_a_line_typed_where_the_writer_is_asked_for_is_asked_afterwards(
    sitting: Callable[..., Sitting],
) -> None:
    at = sitting()
    assert at.run("A07 stopped", "KM", "") == 0
    assert at.logs == {LOG: NIGHT + "02:40 A07 stopped\n"}
    assert "first who writes, like KM; what was typed is asked after that" in at.shown
    at = sitting()
    assert at.run("A08 isolated by KM") == 1
    assert "NOT WRITTEN, and it stands nowhere else: A08 isolated by KM" in at.shown


@pytest.mark.parametrize("cause", [KeyboardInterrupt(), EOFError()], ids=["ctrl-c", "end"])
def test_what_stands_behind_a_question_is_told_when_it_is_cut_short(
    cause: BaseException, sitting: Callable[..., Sitting]
) -> None:
    at = sitting()
    assert at.run("KM", "A07 stopped", CutShort("A09 isolated by K", cause)) != 0
    assert "NOT WRITTEN, and it stands nowhere else: A07 stopped A09 isolated by K" in at.shown
    assert "NO ISOLATION IS ON RECORD" in at.shown


def test_a_line_typed_where_a_lost_one_is_tried_again_is_asked_afterwards(
    sitting: Callable[..., Sitting], monkeypatch: pytest.MonkeyPatch
) -> None:
    at = sitting()

    def full(descriptor: int, data: bytes) -> int:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("board.record.writer.os.write", full)
    assert at.run("KM", "A07 stopped", "", "A08 isolated by KM", "x") == 1
    assert at.shown.endswith(
        "NOT WRITTEN, and it stands nowhere else: A08 isolated by KM NO ISOLATION IS ON RECORD"
        " from this line"
    )


def test_the_writer_is_asked_until_there_is_one(sitting: Callable[..., Sitting]) -> None:
    at = sitting()
    at.run("", "  ", "a7", "K M", "KM", "A07 stopped", "")
    assert "a7 is a place in the shed" in at.shown
    assert "K M is no name" in at.shown
    assert list(at.logs) == [LOG]


def test_a_refused_line_is_edited_and_a_suggestion_offered_not_taken(
    sitting: Callable[..., Sitting],
) -> None:
    at = sitting()
    at.run("KM", "A07 left tpae 2.35 mm", "", "A07 left tape 2.35 mm", "")
    question, begun = at.script.asked[2]
    assert "s edits 'A07 left tape 2.35 mm'" in question
    assert at.script.asked[3] == ("night KM> ", "A07 left tpae 2.35 mm")
    assert at.logs == {LOG: NIGHT + "02:40 A07 left tape 2.35 mm\n"}

    at = sitting()
    at.run("KM", "A07 left tpae 2.35 mm", "s")
    assert at.script.asked[3] == ("night KM> ", "A07 left tape 2.35 mm")
    assert begun == ""
    assert at.logs[LOG].count("\n") == 2  # offered once more to be edited, and not written


@pytest.mark.parametrize(
    ("typed", "offered"),
    [
        ("22:39 A07 left tape 2.3", "'22:39 A07 left tape 2.3 mm'"),
        ("22.39 A07 stopped", "'22:39 A07 stopped'"),
        ("a7 isolatd by KM", "'a7 isolated by KM'"),
        ("x07 stopped", "'A07 stopped'"),
        ("x07 isolated by KM", None),  # the loom of a lock is typed by whoever put it on
        ("a7 filter pressure 1,050 bar", None),  # two readings: nobody's to choose but the writer's
        ("a7 lock removed by KM", None),
        ("a7 left guide2 gap 0.2 mm", "'a7 left guide 2 gap 0.2 mm'"),
        ("a7 isolated KM", None),  # how it is written, not what to put in
        ("a7 gesperrt von JO", None),
    ],
)
def test_what_is_offered(typed: str, offered: str | None, sitting: Callable[..., Sitting]) -> None:
    at = sitting()
    at.run("KM", typed, "x")
    question = at.script.asked[2][0]
    if offered is None:
        assert "s edits" not in question
    else:
        assert f"s edits {offered}" in question


def test_a_removal_that_was_dropped_says_that_the_lock_stays(
    sitting: Callable[..., Sitting],
) -> None:
    at = sitting({LOG: NIGHT + "02:00 A07 isolated by KM\n"})
    at.run("RB", "A07 lock removd by KM", "x")
    assert "NO LOCK WAS TAKEN OFF by this line: a lock on record there stays" in at.shown
    assert "NO ISOLATION" not in at.shown
    at.run("RB", "A07 lock removed by RB", "x")
    assert "NO LOCK WAS TAKEN OFF by this line: the lock of KM on A07 stays" in at.shown
    assert "NO ISOLATION" not in at.shown


def test_bytes_of_another_encoding_are_read_as_in_a_log(sitting: Callable[..., Sitting]) -> None:
    at = sitting()
    assert at.run("J\udcfc", "A07 note \udcfc", "") == 0
    assert at.shown.count("the line is not UTF-8 and was read as Windows-1252") == 2
    (text,) = at.logs.values()
    assert text == "day 2026-11-24 night by J\u00fc\n02:40 A07 note \u00fc\n"


@pytest.mark.parametrize("answer", ["x", CutShort("", EOFError())], ids=["dropped", "end"])
def test_a_line_that_stands_already_is_not_told_as_lost(
    answer: object, sitting: Callable[..., Sitting]
) -> None:
    at = sitting({LOG: NIGHT + "02:40 A07 isolated by KM\n"})
    assert at.run("KM", "A07 isolated by KM", answer) == 0
    assert "the lock of KM on A07 is on record nothing was written" in at.shown
    assert "NO ISOLATION" not in at.shown
    assert "NOT WRITTEN" not in at.shown


def test_kept_anyway(sitting: Callable[..., Sitting]) -> None:
    at = sitting()
    at.run("KM", "A07 lefft tape 2 mm", "a")
    assert at.logs == {LOG: NIGHT + "02:40 A07 lefft tape 2 mm; note kept anyway\n"}


def test_headings_and_comments_come_back_for_editing(sitting: Callable[..., Sitting]) -> None:
    at = sitting()
    at.run("KM", "day 2026-11-25 early by KM", "# hm", "A07 stopped", "")
    assert at.script.asked[2] == ("night KM> ", "day 2026-11-25 early by KM")
    assert at.script.asked[3] == ("night KM> ", "# hm")
    assert at.logs == {LOG: NIGHT + "02:40 A07 stopped\n"}


def test_the_writer_is_not_remembered_past_the_shift(sitting: Callable[..., Sitting]) -> None:
    at = sitting(now="2026-11-25T05:58")
    at.run("KM", "A07 running", "", at.later("2026-11-25T06:00", "A07 stopped"), "RB", "")
    early = LOG.replace("24-night-KM", "25-early-RB")
    assert at.logs == {
        LOG: NIGHT + "05:58 A07 running\n",
        early: "day 2026-11-25 early by RB\n06:00 A07 stopped\n",
    }
    assert "the early has begun: who writes now?" in at.shown
    assert "it will be written by RB" in at.shown


def test_the_shift_changes_while_a_line_waits_for_enter(sitting: Callable[..., Sitting]) -> None:
    at = sitting(now="2026-11-25T05:59")
    at.run("KM", "A07 stopped", at.later("2026-11-25T06:01", ""), "RB")
    assert at.logs == {}  # shown again with its new writer first
    assert "NOT WRITTEN" in at.shown
    at = sitting(now="2026-11-25T05:59")
    at.run("KM", "A07 stopped", at.later("2026-11-25T06:01", ""), "RB", "")
    early = LOG.replace("24-night-KM", "25-early-RB")
    assert at.logs == {early: "day 2026-11-25 early by RB\n06:01 A07 stopped\n"}


def test_the_writer_given_as_an_option_lasts_for_this_shift(
    sitting: Callable[..., Sitting],
) -> None:
    at = sitting(now="2026-11-25T05:58")
    at.run("A07 running", "", at.later("2026-11-25T06:00", "A07 stopped"), "RB", "", who="KM")
    assert len(at.logs) == 2


def test_a_log_that_changes_meanwhile_is_looked_at_again(sitting: Callable[..., Sitting]) -> None:
    at = sitting({LOG: NIGHT + "22:10 A07 open no 3 look\n"})
    other = at.folder / LOG.replace("KM", "RB")

    def meanwhile() -> str:
        other.write_text("day 2026-11-24 night by RB\n02:39 A07 done no 3\n", encoding="utf-8")
        return ""

    at.run("KM", "A07 done no 3 dry", meanwhile, "x")
    assert "the log has changed meanwhile; look again" in at.shown
    assert "no action no 3 is open" in at.shown
    assert "done no 3 dry" not in at.logs[LOG]


def test_a_number_given_away_meanwhile_is_shown_anew(sitting: Callable[..., Sitting]) -> None:
    at = sitting()
    other = at.folder / "b.log"

    def meanwhile() -> str:
        other.write_text("day 2026-11-24 night by RB\n02:39 A01 open no 1 x\n", encoding="utf-8")
        return ""

    at.run("KM", "A07 open look", meanwhile, "")
    assert at.shown.index("action no 1 of A07") < at.shown.index("action no 2 of A07")
    assert at.logs[LOG] == NIGHT + "02:40 A07 open no 2 look\n"


def test_lines_pasted_together_are_asked_one_by_one(sitting: Callable[..., Sitting]) -> None:
    at = sitting()
    at.run("KM", "A07 stopped\nA08 stopped\n\nA09 stopped", "", "x", CutShort("", EOFError()))
    assert at.logs == {LOG: NIGHT + "02:40 A07 stopped\n"}
    assert "not written: A08 stopped" in at.shown
    assert at.shown.endswith("NOT WRITTEN, and it stands nowhere else: A09 stopped")


@pytest.mark.parametrize(
    ("cause", "code"), [(KeyboardInterrupt(), 130), (EOFError(), 1)], ids=["ctrl-c", "end"]
)
@pytest.mark.parametrize("where", ["typing", "asked"])
def test_cut_short_the_line_is_shown(
    cause: BaseException, code: int, where: str, sitting: Callable[..., Sitting]
) -> None:
    at = sitting()
    line = "A07 isolated by KM lock 14"
    cut = CutShort(line if where == "typing" else "", cause)
    answers = ["KM", cut] if where == "typing" else ["KM", line, cut]
    assert at.run(*answers) == code
    assert at.logs == {}
    assert f"NOT WRITTEN, and it stands nowhere else: {line} NO ISOLATION IS ON RECORD" in at.shown


def test_the_end_without_a_line_is_fine(sitting: Callable[..., Sitting]) -> None:
    at = sitting()
    assert at.run("KM") == 0
    assert "NOT WRITTEN" not in at.shown
    assert at.run("KM", CutShort("", KeyboardInterrupt())) == 130


def test_a_line_cut_off_by_a_signal_comes_back_once(sitting: Callable[..., Sitting]) -> None:
    at = sitting()
    with pytest.raises(SignalledToEnd):
        at.run("KM", CutShort("A07 isolated by KM", SignalledToEnd(1)))
    at.out.truncate(0)
    at.run("KM")
    assert "NOT WRITTEN when the line broke, Wed 25 Nov 02:40" in at.shown
    assert at.script.remembered == ["A07 isolated by KM"]
    at.run("KM")
    assert at.script.remembered == []


def test_all_lines_cut_off_by_a_signal_come_back(sitting: Callable[..., Sitting]) -> None:
    at = sitting()
    with pytest.raises(SignalledToEnd):
        at.run("KM", "A07 stopped\nA08 isolated by KM", CutShort("", SignalledToEnd(1)))
    at.run("KM")
    assert at.script.remembered == ["A07 stopped", "A08 isolated by KM"]


def test_an_unwritten_line_belongs_to_its_folder(tmp_path: Path) -> None:
    environ = {"XDG_CACHE_HOME": str(tmp_path / "cache")}
    now = utc("2026-11-25T02:40")
    assert keep_unwritten(["A07 stopped", "A08 running"], now, tmp_path / "one", environ)
    assert take_unwritten(tmp_path / "two", environ) is None
    found = take_unwritten(tmp_path / "one", environ)
    assert found is not None
    assert (found.lines, found.when) == (("A07 stopped", "A08 running"), now)
    assert take_unwritten(tmp_path / "one", environ) is None
    assert not keep_unwritten(["A07 stopped", "A08 running"], now, tmp_path, {})
    cache = tmp_path / "cache" / "loomslate"
    assert keep_unwritten(["x"], now, tmp_path, environ)
    (file,) = cache.iterdir()
    assert file.stat().st_mode & 0o077 == 0
    file.write_text("{damaged", encoding="utf-8")
    assert take_unwritten(tmp_path, environ) is None


def test_a_full_disk_can_be_tried_again(
    sitting: Callable[..., Sitting], monkeypatch: pytest.MonkeyPatch
) -> None:
    at = sitting()

    def full(descriptor: int, data: bytes) -> int:
        raise OSError(28, "No space left on device")

    def room() -> str:
        monkeypatch.undo()
        return ""

    monkeypatch.setattr("board.record.writer.os.write", full)
    at.run("KM", "A07 stopped", "", room, "")
    assert "the disk is full" in at.shown
    assert "NOT WRITTEN, and it stands nowhere else: 02:40 A07 stopped" in at.shown
    assert at.logs == {LOG: NIGHT + "02:40 A07 stopped\n"}


@pytest.mark.parametrize("typed", ["A07 isolated by KM lock 7", "A07 isolated by KM; open look"])
def test_a_folder_that_goes_away_before_enter_can_come_back(
    typed: str, sitting: Callable[..., Sitting]
) -> None:
    at = sitting()
    away = at.folder.with_name("away")

    def gone() -> str:
        at.folder.rename(away)
        return ""

    def back() -> str:
        away.rename(at.folder)
        return ""

    assert at.run("KM", typed, gone, "", back, "") == 0
    assert "NOT WRITTEN, and it stands nowhere else: 02:40 A07 isolated by KM" in at.shown
    assert at.shown.count("NO ISOLATION IS ON RECORD from this line") == 1
    assert at.shown.count("there is no folder") == 2
    assert at.logs[LOG].startswith(NIGHT + "02:40 A07 isolated by KM")

    assert at.run("KM", typed.replace("A07", "A08"), gone) == 1
    assert at.shown.endswith("NO ISOLATION IS ON RECORD from this line")


def test_a_fault_of_the_program_keeps_the_line_in_hand(
    sitting: Callable[..., Sitting], monkeypatch: pytest.MonkeyPatch
) -> None:
    at = sitting()

    def broken(*_: object) -> None:
        raise RuntimeError

    monkeypatch.setattr(Desk, "write", broken)
    with pytest.raises(RuntimeError):
        at.run("KM", "A07 isolated by KM", "")
    assert "NOT WRITTEN, and it stands nowhere else: A07 isolated by KM" in at.shown
    at.run("KM")
    assert at.script.remembered == ["A07 isolated by KM"]

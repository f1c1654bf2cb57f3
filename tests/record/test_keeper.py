"""The keeper with a fake clock and a fake observer; only the folder is real."""

import errno
import os
import shutil
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path

import pytest

from board.record.account import Account, Batch, Clock, Pace
from board.record.keeper import Keeper, Listener, Manner, Observation
from board.record.sweep import sweep

START = datetime(2026, 11, 25, 6, 0, tzinfo=UTC)


class FakeTime:
    def __init__(self) -> None:
        self.ticks = 1000.0

    def clock(self) -> Clock:
        return Clock(
            wall=lambda: START + timedelta(seconds=self.ticks - 1000.0), ticks=lambda: self.ticks
        )


class FakeObservation:
    def __init__(self, folder: str, listener: Listener) -> None:
        self.folder = folder
        self.listener = listener
        self.running = True

    def alive(self) -> bool:
        return self.running

    def stop(self) -> None:
        self.running = False


class Shed:
    """A keeper of `folder` with everything around it faked."""

    def __init__(
        self,
        folder: Path,
        *,
        manner: Manner = Manner.AUTOMATIC,
        mounts: str = "",
        remembered: tuple[Path, ...] = (),
        refusal: OSError | RuntimeError | None = None,
    ) -> None:
        self.time = FakeTime()
        self.refusal = refusal
        self.started: list[FakeObservation] = []
        self.asked = 0
        pace = Pace()
        self.account = Account(
            str(folder), clock=self.time.clock(), pace=pace, remembered=remembered
        )
        self.keeper = Keeper(
            self.account,
            clock=self.time.clock(),
            pace=pace,
            observe=self._observe,
            manner=manner,
            mounts=lambda: mounts,
        )

    def _observe(self, folder: str, listener: Listener) -> Observation:
        self.asked += 1
        if self.refusal is not None:
            raise self.refusal
        self.started.append(FakeObservation(folder, listener))
        return self.started[-1]

    @property
    def observation(self) -> FakeObservation:
        return self.started[-1]

    def run(self, seconds: float, each: Callable[[], None] = lambda: None) -> list[Batch]:
        """Let fake time pass as the shell would; answers every batch that tells something."""
        until = self.time.ticks + seconds
        batches = []
        while self.time.ticks <= until:
            call_at = self.keeper.tick()
            each()
            ready = self.account.ready_at()
            if ready is not None and ready <= self.time.ticks:
                batches.append(self.account.take())
                continue
            sooner = min(call_at, ready if ready is not None else call_at)
            assert sooner > self.time.ticks, "the keeper would spin"
            self.time.ticks = sooner
        self.time.ticks = until
        return batches


def manner_of(watching: Keeper) -> Manner:
    """The manner at the moment; asked anew each time, as the type checker cannot know."""
    return watching.manner


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    logs = tmp_path / "logs"
    (logs / "2026").mkdir(parents=True)
    (logs / "shed.toml").write_text("x\n", encoding="utf-8")
    (logs / "2026" / "a.log").write_text("one\n", encoding="utf-8")
    return logs


def grow(path: Path) -> None:
    with path.open("a", encoding="utf-8") as log:
        log.write("more\n")


def test_the_first_look_tells_everything_once(folder: Path) -> None:
    shed = Shed(folder, remembered=(folder / "deleted.log", folder / "2026" / "a.log"))
    (first,) = shed.run(44)
    assert first.swept
    assert first.trouble is None
    assert first.notices == ()
    assert first.paths == {folder / "2026" / "a.log", folder / "deleted.log"}
    assert first.register_changed
    assert manner_of(shed.keeper) is Manner.SIGNALS


def test_an_empty_folder_is_told_as_looked_at(tmp_path: Path) -> None:
    assert Shed(tmp_path).run(1) == [Batch(swept=True)]


def test_an_empty_folder_in_the_place_of_the_logs_is_not_taken_for_it(folder: Path) -> None:
    """As where a drive is away: the place that it was put into is empty."""
    shed = Shed(folder)
    shed.run(44)
    away = folder.rename(folder.with_name("away"))
    folder.mkdir()
    lost = shed.run(60)
    assert [batch.paths for batch in lost if batch.paths] == []
    assert lost[-1].trouble is not None
    assert "neither a register nor a log" in lost[-1].trouble.sentence
    folder.rmdir()
    grow(away / "2026" / "a.log")
    away.rename(folder)
    back = shed.run(60)
    assert [path for batch in back for path in batch.paths] == [folder / "2026" / "a.log"]
    assert back[-1].trouble is None


def test_a_signal_of_a_log_whose_folder_is_away_does_not_tell_it_as_gone(folder: Path) -> None:
    shed = Shed(folder)
    shed.run(44)
    log = folder / "2026" / "a.log"
    grow(log)
    away = folder.rename(folder.with_name("away"))
    shed.observation.listener.touched(str(log))
    told = shed.run(60)
    assert [batch.paths for batch in told if batch.paths] == []
    away.rename(folder)
    assert [path for batch in shed.run(60) for path in batch.paths] == [log]


def test_a_signal_is_told_at_once_and_names_are_as_the_reader_knows_them(
    folder: Path, tmp_path: Path
) -> None:
    link = tmp_path / "link"
    link.symlink_to(folder)
    shed = Shed(link)
    shed.run(5)
    assert shed.observation.folder == os.path.realpath(folder)
    grow(folder / "2026" / "a.log")
    shed.observation.listener.touched(str(folder / "2026" / "a.log"))
    assert shed.account.ready_at() == shed.time.ticks
    assert shed.account.take().paths == {link / "2026" / "a.log"}


def test_what_concerns_no_log_is_no_news(folder: Path) -> None:
    shed = Shed(folder)
    shed.run(5)
    for name in (".a.log.swp", "a.log~", "4913", "2026", "2026/shed.toml", "../other/b.log"):
        shed.observation.listener.touched(str(folder / name))
    assert shed.run(5) == []


def test_the_register_is_told_apart(folder: Path) -> None:
    shed = Shed(folder)
    shed.run(5)
    grow(folder / "shed.toml")
    shed.observation.listener.touched(str(folder / "shed.toml"))
    (batch,) = shed.run(1)
    assert batch.register_changed
    assert not batch.paths


def test_a_folder_moved_in_is_looked_through(folder: Path) -> None:
    shed = Shed(folder)
    shed.run(5)
    new = folder / "2027"
    new.mkdir()
    (new / "b.log").write_text("x", encoding="utf-8")
    shed.observation.listener.tree_changed()
    (batch,) = shed.run(1)
    assert batch.paths == {new / "b.log"}
    assert batch.swept


def test_folders_moved_away_take_their_logs_with_them(folder: Path, tmp_path: Path) -> None:
    shed = Shed(folder)
    shed.run(5)
    (folder / "2026").rename(tmp_path / "away")
    shed.observation.listener.tree_changed()
    (batch,) = shed.run(1)
    assert batch.paths == {folder / "2026" / "a.log"}
    assert batch.trouble is None


def test_the_regular_look_finds_a_missed_save_and_ends_the_trust_in_signals(folder: Path) -> None:
    shed = Shed(folder)
    shed.run(1)
    grow(folder / "2026" / "a.log")
    found, noticed = shed.run(50)
    assert found.paths == {folder / "2026" / "a.log"}
    assert found.notices == ()
    assert noticed.notices == (
        "the log folder is looked at again and again, without signals:"
        " saves came without a signal (1)",
    )
    assert not shed.observation.running
    assert manner_of(shed.keeper) is Manner.POLLING
    grow(folder / "2026" / "a.log")
    (batch,) = shed.run(1.1)
    assert batch.paths == {folder / "2026" / "a.log"}


def test_a_late_signal_is_not_a_missed_one(folder: Path) -> None:
    shed = Shed(folder)
    shed.run(44.5)
    grow(folder / "2026" / "a.log")
    shed.run(1)
    shed.observation.listener.touched(str(folder / "2026" / "a.log"))
    shed.run(50)
    assert manner_of(shed.keeper) is Manner.SIGNALS


def test_a_new_date_without_new_text_needs_no_signal(folder: Path) -> None:
    shed = Shed(folder)
    shed.run(1)
    os.utime(folder / "2026" / "a.log", ns=(1, 1))
    (batch,) = shed.run(50)
    assert batch.paths == {folder / "2026" / "a.log"}
    assert manner_of(shed.keeper) is Manner.SIGNALS


def test_a_dead_observer_is_replaced_and_said(folder: Path) -> None:
    shed = Shed(folder)
    shed.run(10)
    shed.observation.running = False
    grow(folder / "2026" / "a.log")
    batches = shed.run(2)
    assert [batch.trouble is not None for batch in batches] == [True, False]
    trouble = batches[0].trouble
    assert trouble is not None
    assert trouble.sentence == "the folder watcher stopped and was replaced"
    assert START + timedelta(seconds=8) <= trouble.since <= START + timedelta(seconds=10)
    assert frozenset().union(*(batch.paths for batch in batches)) == {folder / "2026" / "a.log"}
    assert len(shed.started) == 2
    assert shed.observation.running


def test_an_observer_that_keeps_dying_is_given_up_and_tried_again_later(folder: Path) -> None:
    shed = Shed(folder)

    def kill() -> None:
        shed.observation.running = False

    shed.run(20, each=kill)
    assert manner_of(shed.keeper) is Manner.POLLING
    assert len(shed.started) == 3
    notices = shed.account.take().notices
    assert notices == (
        "the log folder is looked at again and again, without signals:"
        " the folder watcher failed 3 times within a minute",
    )
    shed.run(310)
    assert len(shed.started) == 4
    assert manner_of(shed.keeper) is Manner.SIGNALS
    assert shed.account.take().notices == ()


def test_lost_signals_bring_a_new_observer_and_a_look(folder: Path) -> None:
    shed = Shed(folder)
    shed.run(5)
    grow(folder / "2026" / "a.log")
    shed.observation.listener.signals_lost()
    (batch,) = shed.run(0.5)
    assert batch.paths == {folder / "2026" / "a.log"}
    assert batch.swept
    assert len(shed.started) == 2
    assert not shed.started[0].running


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EMFILE])
def test_no_watches_left_means_polling_with_a_notice(folder: Path, number: int) -> None:
    shed = Shed(folder, refusal=OSError(number, os.strerror(number)))
    (first,) = shed.run(5)
    assert first.paths
    assert first.trouble is None
    assert first.notices == (
        "the log folder is looked at again and again, without signals:"
        " the system has no more file watches to give",
    )
    assert manner_of(shed.keeper) is Manner.POLLING
    grow(folder / "2026" / "a.log")
    (batch,) = shed.run(1.1)
    assert batch.paths == {folder / "2026" / "a.log"}
    assert batch.notices == first.notices
    shed.refusal = None
    shed.run(310)
    assert manner_of(shed.keeper) is Manner.SIGNALS


@pytest.mark.parametrize(
    ("refusal", "words"),
    [
        (OSError(errno.ENOSYS, "x"), "this system has no file watches"),
        (OSError(errno.EIO, "Input/output error"), "could not be started (input/output error)"),
        (RuntimeError("can't start new thread"), "could not be started (can't start new thread)"),
    ],
)
def test_why_there_are_no_signals(
    folder: Path, refusal: OSError | RuntimeError, words: str
) -> None:
    (first,) = Shed(folder, refusal=refusal).run(1)
    assert first.notices[0].endswith(words)


def test_a_network_drive_is_polled_by_itself(folder: Path) -> None:
    shed = Shed(folder, mounts=f"mill:/x {folder} nfs4 rw 0 0\n")
    (first,) = shed.run(700)
    assert first.notices[0].endswith("it lies on a network drive (nfs4)")
    assert shed.asked == 0
    assert (
        Shed(folder, manner=Manner.SIGNALS, mounts=f"m:/x {folder} nfs4 rw 0 0").run(1)[0].notices
        == ()
    )


def test_polling_as_asked(folder: Path) -> None:
    shed = Shed(folder, manner=Manner.POLLING)
    (first,) = shed.run(700)
    assert first.notices[0].endswith("as asked")
    assert shed.asked == 0


def test_polling_slows_down_where_a_look_takes_long(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """100 times the duration of a look: under 1 % of a core."""
    shed = Shed(folder, manner=Manner.POLLING)
    looks = []
    real_sweep = sweep

    def slow(path: Path) -> object:
        looks.append(shed.time.ticks)
        shed.time.ticks += 0.1
        return real_sweep(path)

    monkeypatch.setattr("board.record.keeper.sweep", slow)
    shed.run(100)
    gaps = [later - sooner for sooner, later in pairwise(looks[1:])]
    assert len(gaps) >= 7
    assert all(gap == pytest.approx(10.1) for gap in gaps)


def test_the_loss_and_return_of_the_folder(folder: Path, tmp_path: Path) -> None:
    shed = Shed(folder)
    shed.run(10)
    folder.rename(tmp_path / "aside")
    (lost,) = shed.run(30)
    assert lost.trouble is not None
    assert lost.trouble.sentence == f"the log folder {folder} is gone"
    assert START + timedelta(seconds=8) <= lost.trouble.since <= START + timedelta(seconds=10)
    assert lost.paths == frozenset(), "a folder that cannot be seen has not lost its logs"
    (tmp_path / "aside").rename(folder)
    (folder / "2026" / "a.log").unlink()
    (folder / "b.log").write_text("x", encoding="utf-8")
    batches = shed.run(2)
    assert batches[-1].trouble is None
    told = frozenset().union(*(batch.paths for batch in batches))
    assert told == {folder / "2026" / "a.log", folder / "b.log"}
    assert len(shed.started) == 2


def test_a_folder_replaced_within_a_second_is_noticed(folder: Path, tmp_path: Path) -> None:
    shed = Shed(folder)
    shed.run(10)
    folder.rename(tmp_path / "aside")
    shutil.copytree(tmp_path / "aside", folder)
    (batch,) = shed.run(2)
    assert batch.paths == {folder / "2026" / "a.log"}
    assert batch.trouble is None
    assert len(shed.started) == 2


def test_a_folder_that_is_not_there_at_the_start_is_awaited(tmp_path: Path) -> None:
    shed = Shed(tmp_path / "logs")
    (batch,) = shed.run(5)
    assert batch.trouble is not None
    assert not batch.swept
    assert batch.trouble.since == START
    (tmp_path / "logs").mkdir()
    (back,) = shed.run(2)
    assert back.trouble is None
    assert back.swept


def test_a_file_in_the_place_of_the_folder_is_a_trouble(tmp_path: Path) -> None:
    (tmp_path / "logs").write_text("", encoding="utf-8")
    (batch,) = Shed(tmp_path / "logs").run(3)
    assert batch.trouble is not None
    assert (
        batch.trouble.sentence
        == f"the log folder {tmp_path / 'logs'} cannot be read: not a directory"
    )


def test_a_part_that_cannot_be_read_is_a_trouble_and_its_logs_are_kept(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shed = Shed(folder, manner=Manner.POLLING)
    shed.run(5)
    listing = os.scandir

    def refusing(path: str) -> object:
        if path.endswith("2026"):
            raise OSError(errno.EIO, "Input/output error")
        return listing(path)

    monkeypatch.setattr(os, "scandir", refusing)
    (batch,) = shed.run(3)
    assert batch.trouble is not None
    assert batch.paths == frozenset()
    assert batch.trouble.sentence == f"cannot read {folder / '2026'}: input/output error"
    monkeypatch.setattr(os, "scandir", listing)
    (back,) = shed.run(3)
    assert back.trouble is None


def test_a_drive_that_does_not_answer_is_said_while_it_is_awaited(folder: Path) -> None:
    shed = Shed(folder)
    shed.run(5)
    with shed.account.asking_the_drive():
        assert shed.account.ready_at() == shed.time.ticks + 10
        shed.time.ticks += 9
        assert shed.account.take().trouble is None
        shed.time.ticks += 1
        trouble = shed.account.take().trouble
        assert trouble is not None
        assert trouble.sentence == f"the log folder {folder} does not answer"
        assert trouble.since <= START + timedelta(seconds=5)
    assert shed.account.take().trouble is None


def test_a_link_is_noticed(folder: Path, tmp_path: Path) -> None:
    (folder / "far.log").symlink_to(tmp_path / "elsewhere.log")
    (batch,) = Shed(folder).run(1)
    assert batch.notices == (f"links are not followed: {folder / 'far.log'}",)


def test_a_signal_for_a_log_that_cannot_be_asked_brings_a_look(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shed = Shed(folder)
    shed.run(5)
    grow(folder / "2026" / "a.log")

    def failing(path: str) -> None:
        raise OSError(errno.EIO, "Input/output error")

    monkeypatch.setattr("board.record.account.stamp", failing)
    shed.observation.listener.touched(str(folder / "2026" / "a.log"))
    (batch,) = shed.run(1)
    assert batch.paths == {folder / "2026" / "a.log"}

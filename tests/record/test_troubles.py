"""Troubles: the first time holds, each is shown once, and the gravest comes first."""

from datetime import UTC, datetime, timedelta

from board.record.troubles import Cause, Suspects, Trouble, Troubles

NOON = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)


def trouble(minutes: int, sentence: str) -> Trouble:
    return Trouble(since=NOON + timedelta(minutes=minutes), sentence=sentence)


def test_no_trouble() -> None:
    troubles = Troubles()
    assert troubles.take() is None
    assert not troubles.changed
    assert not troubles.standing


def test_the_first_time_holds() -> None:
    troubles = Troubles()
    troubles.put(Cause.FOLDER, trouble(0, "gone"))
    troubles.put(Cause.FOLDER, trouble(5, "still gone"))
    assert troubles.take() == trouble(0, "still gone")


def test_gravest_first_with_the_earliest_time() -> None:
    troubles = Troubles()
    troubles.put(Cause.WATCHER, trouble(1, "watcher stopped"))
    troubles.put(Cause.FOLDER, trouble(3, "folder gone"))
    assert troubles.take() == trouble(1, "folder gone; watcher stopped")
    troubles.lift(Cause.WATCHER)
    assert troubles.changed
    assert troubles.take() == trouble(3, "folder gone")


def test_a_trouble_lifted_before_anyone_asked_is_shown_once() -> None:
    troubles = Troubles()
    troubles.put(Cause.WATCHER, trouble(1, "watcher stopped"))
    troubles.lift(Cause.WATCHER)
    assert troubles.changed
    assert not troubles.standing
    assert troubles.take() == trouble(1, "watcher stopped")
    assert troubles.changed
    assert troubles.take() is None
    assert not troubles.changed


def test_a_trouble_put_again_after_it_was_shown_is_over_when_lifted() -> None:
    troubles = Troubles()
    troubles.put(Cause.FOLDER, trouble(1, "gone"))
    troubles.take()
    troubles.put(Cause.FOLDER, trouble(2, "gone"))
    assert not troubles.changed
    troubles.lift(Cause.FOLDER)
    assert troubles.changed
    assert troubles.take() is None


def test_suspects() -> None:
    suspects = Suspects(grace_s=2.0)
    suspects.suspect("late.log", 10.0)
    suspects.suspect("missed.log", 10.0)
    suspects.suspect("missed.log", 11.0)
    suspects.heard("late.log")
    assert suspects.missed(11.9) == 0
    assert suspects.missed(12.0) == 1
    assert suspects.missed(99.0) == 0
    for number in range(5000):
        suspects.suspect(f"{number}.log", 100.0)
    assert suspects.missed(200.0) == 1000

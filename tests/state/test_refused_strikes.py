"""A strike that is refused, where a lock was taken off that it may be about."""

from __future__ import annotations

import pytest

from board.state.fleet import Isolation
from tests.state.shed import NIGHT, loom, night, read

OFF = ("22:40 A03 isolated by TN lock 3", "23:10 A03 lock removed by TN", "23:10 A03 running")


def asked(*lines: str, now: str = "2026-11-25 05:59") -> list[str]:
    """The lines that may hide an isolation."""
    return [may.text for may in night(*lines, now=now).fleet.may_isolate]


@pytest.mark.parametrize(
    "strike",
    [
        "23:20 A03 struck 23:10 was A04, TN still in",  # two entries stand at that time
        "23:20 A03 struck 23:11 was A04",  # none stands there
        "23:20 A03 struck 23:10",
        "23:20 A03 struck was A04",
        "23:20 A03 struck 2026-11-24T23:10",
        "23:20 A03 strike 23:10 was A04",
        "23:20 A03 struk 23:10 was A04",
        "23:20 A03 stopped; please strike 23:10",
        "23:20 A04 struck 23:10 was A04",  # written on another loom
        "23:20 A33 struck 23:10 was A04",
        "23:20 A03 struck 23:10 was A04; left tpae 2 mm",
        "23:20 B struck 23:10 was A04",
    ],
)
def test_a_refused_strike_of_a_removal_is_asked_about(strike: str) -> None:
    shed = night(*OFF, strike, now="2026-11-25 05:59")
    assert loom(shed, "A03").isolation is Isolation.NONE_RECORDED
    (may,) = shed.fleet.may_isolate
    assert (may.text, may.understood, may.shift is not None) == (strike, False, True)


@pytest.mark.parametrize(
    "line",
    [
        "23:20 A04 struck 23:11 was A05",  # of a loom without a removal
        "23:20 A04 struck 22:50",
        "23:05 A03 struck 22:40",  # nothing was taken off yet
        "23:20 A03 stuck shuttle guard",  # no time behind a word that is only near
        "23:20 A03 left tpae 2 mm",
        "23:20 A03 struck 22:40 wrong; done no 99",  # the strike of it was understood
    ],
)
def test_another_line_is_not(line: str) -> None:
    assert line not in asked(*OFF, line)


def test_a_strike_that_is_understood_gives_the_lock_back_and_asks_nothing() -> None:
    shed = night(*OFF[:2], "23:20 A03 struck 23:10 was A04, TN still in")
    assert loom(shed, "A03").isolation is Isolation.ISOLATED
    assert shed.fleet.may_isolate == ()
    shed = night(*OFF[:2], "23:20 A03 struck 23:11", "23:21 A03 struck 23:10 was A04")
    assert loom(shed, "A03").isolation is Isolation.ISOLATED
    assert shed.fleet.may_isolate == ()  # as no removal is left


def test_it_is_asked_for_two_days_after_it_was_written() -> None:
    strike = "23:20 A03 struck 23:10"
    assert asked(*OFF, strike, now="2026-11-26 23:20") == [strike]
    assert asked(*OFF, strike, now="2026-11-26 23:21") == []


def test_it_reaches_two_days_back() -> None:
    for day, found in (("2026-11-26", True), ("2026-11-28", False)):
        strike = f"{day}T22:00 A03 struck 2026-11-24T23:10"
        shed = night(*OFF, strike, now=f"{day} 23:00")
        assert [may.text for may in shed.fleet.may_isolate] == [strike] * found


def test_one_of_no_known_day_is_asked_about_while_a_removal_is_near() -> None:
    logs = {"a.log": NIGHT + "\n".join(OFF) + "\n", "b.log": "23:20 A03 struck 23:10 wrong\n"}
    assert len(read(logs, "2026-11-25 05:59").fleet.may_isolate) == 1
    assert read(logs, "2026-11-28 05:59").fleet.may_isolate == ()


def test_the_words_of_a_mill_are_known() -> None:
    from tests.state.shed import REGISTER

    register = REGISTER.replace('zone = "', 'languages = ["de"]\nzone = "', 1)
    register += '\n[words.de]\n"gestrichen wird" = "struck"\n'
    logs = {"a.log": NIGHT + "\n".join((*OFF, "23:20 A03 gestrichen wird 23:10")) + "\n"}
    assert len(read(logs, "2026-11-25 05:59", register=register).fleet.may_isolate) == 1

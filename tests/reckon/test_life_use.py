"""The use of many parts at once against the use of one after the other, to the last bit."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

from hypothesis import given
from hypothesis import strategies as st

from board.mill import Calendar
from board.reckon.life_use import use_between, uses_between
from board.reckon.refusal import Refusal
from board.state.history import PartLife, Stay
from board.state.usage import UsageClock
from board.state.use_line import UseLine
from grammar.entries import PartAt
from grammar.frozen import dataclass

BEGIN = datetime(2026, 11, 1, tzinfo=UTC)
LOOMS = ("A01", "A02", "A03")


@dataclass(frozen=True, slots=True)
class Uses:
    """The lines of one loom."""

    hours: UseLine
    picks: UseLine

    def line(self, unit: str) -> UseLine:
        """The use in running ``h`` or ``picks``."""
        return self.hours if unit == "h" else self.picks


MOMENTS = st.integers(0, 600).map(lambda hours: BEGIN + timedelta(hours=hours, minutes=7))


@st.composite
def use_lines(draw: st.DrawFn) -> UseLine:
    """A rising line of up to eight points, one stretch of it dark; or none at all."""
    hours = sorted(draw(st.sets(st.integers(0, 500), max_size=8)))
    if len(hours) < 2:
        return UseLine()
    times = [BEGIN.timestamp() + 3600.0 * hour for hour in hours]
    rises = st.floats(0.0, 30.0)
    values = [0.0]
    for _ in times[1:]:
        values.append(values[-1] + draw(rises))
    dark = draw(st.sampled_from([None, *range(len(times) - 1)]))
    if dark is None:
        return UseLine(times=times, values=values)
    return UseLine(
        times=times, values=values, dark_from=[times[dark]], dark_to=[times[dark + 1]]
    )  # fmt: skip


@st.composite
def lives(draw: st.DrawFn) -> tuple[PartLife, datetime, datetime]:
    """A part with up to four stays on looms, and from when to when it is asked about."""
    count = draw(st.integers(1, 4))
    edges = sorted(draw(st.lists(MOMENTS, min_size=count + 1, max_size=count + 1)))
    stays = tuple(
        Stay(
            loom=draw(st.sampled_from(LOOMS)),
            start=None if n == 0 and draw(st.booleans()) else edges[n],
            end=None if n == count - 1 and draw(st.booleans()) else edges[n + 1],
        )
        for n in range(count)
    )
    life = PartLife(at=PartAt(part="tape", side="left", number=None), stays=stays)
    return life, draw(MOMENTS), draw(MOMENTS)


@given(
    st.lists(lives(), max_size=12),
    st.lists(use_lines(), min_size=6, max_size=6),
    st.sampled_from(["h", "picks"]),
)
def test_many_parts_at_once_are_told_what_each_is_told_alone(
    asked: list[tuple[PartLife, datetime, datetime]], lines: list[UseLine], unit: str
) -> None:
    clocks = {
        loom: UsageClock(
            loom=loom,
            uses=Uses(hours, picks),
            zone=ZoneInfo("UTC"),
            calendar=Calendar(),
            day_begins=time(6),
        )
        for loom, hours, picks in zip(LOOMS, lines[:3], lines[3:], strict=True)
    }
    alone = [use_between(life, start, end, clocks, unit) for life, start, end in asked]
    together = uses_between(asked, clocks, unit)
    assert [_plain(one) for one in together] == [_plain(one) for one in alone]


def _plain(use: float | Refusal) -> float | str:
    return use.reason if isinstance(use, Refusal) else use

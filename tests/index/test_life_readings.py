"""The readings of a part's life as bytes: the same when they are looked into, and not before."""

from __future__ import annotations

import pickle
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from board.index import life_readings
from board.index.life_readings import Unread, later, packed
from board.index.packing import Damaged, pack, unpack
from board.loading import load, read_mill
from board.mill import Mill
from board.shell import Shell
from board.state.fleet import Source
from board.state.history import Bound, PartLife, ReadingAt, Stay
from board.state.kept_readings import first_counted, numbers_of
from board.state.spells import micros
from grammar.entries import PartAt
from tests.conftest import EXAMPLE, NOW

_EARLY = datetime(1, 1, 2, tzinfo=UTC)
_TEXTS = st.text(max_size=8)
READINGS = st.builds(
    ReadingAt,
    when=st.timedeltas(min_value=timedelta(0), max_value=timedelta(days=3_000_000)).map(
        lambda since: _EARLY + since
    ),
    value=st.one_of(st.integers(), st.floats(allow_nan=False)),
    unit=_TEXTS,
    bound=st.sampled_from(Bound),
    written=_TEXTS,
    level=st.integers(min_value=0, max_value=9),
    by=st.none() | _TEXTS,
    source=st.builds(Source, path=_TEXTS, line=st.integers(min_value=1), text=_TEXTS),
    counts=st.booleans(),
)


@given(st.dictionaries(_TEXTS, st.lists(READINGS, max_size=3).map(tuple), max_size=3))
def test_they_come_back_as_they_were(readings: dict[str, tuple[ReadingAt, ...]]) -> None:
    back = later(packed(readings))
    assert packed(back) == packed(readings)
    assert (back, readings) == (readings, back)  # whichever of them is asked
    assert list(back.items()) == list(readings.items())
    assert all(
        type(mine.value) is type(its.value)
        for quantity in readings
        for mine, its in zip(back[quantity], readings[quantity], strict=True)
    )


@given(st.dictionaries(_TEXTS, st.lists(READINGS, max_size=3).map(tuple), max_size=3))
def test_their_numbers_are_those_of_the_readings(
    readings: dict[str, tuple[ReadingAt, ...]],
) -> None:
    back = Unread(packed(readings))
    for quantity, series in readings.items():
        assert numbers_of(back, quantity) == numbers_of(readings, quantity)
        assert back.last(quantity) == (series[-1] if series else None)
    moments = [micros(r.when) for series in readings.values() for r in series if r.counts]
    assert first_counted(back) == min(moments, default=None)
    assert back.last("none of them") is None
    assert not numbers_of(back, "none of them")


def test_a_life_is_unpacked_without_them(shell: Shell, monkeypatch: pytest.MonkeyPatch) -> None:
    mill = read_mill(EXAMPLE)
    assert isinstance(mill, Mill)
    fleet = load(EXAMPLE, mill, NOW, shell, "none").snapshot.fleet
    lives = tuple(life for state in fleet.looms.values() for life in state.parts.values())
    assert sum(len(series) for life in lives for series in life.readings.values()) > 500
    data = pack(lives)
    with monkeypatch.context() as patch:
        patch.delattr(life_readings, "_columns")
        back: tuple[PartLife, ...] = unpack(data)
        assert [life.at for life in back] == [life.at for life in lives]
        assert pack(back) == data  # nor are they packed a second time
    assert back == lives


def test_no_class_is_taken_from_their_bytes() -> None:
    foreign = pickle.dumps({"thickness": [Path("x")]})
    life = PartLife(
        at=PartAt(part="tape", side="left", number=None),
        stays=(Stay(loom="A01", start=None),),
        readings=Unread(foreign),
    )
    back: PartLife = unpack(pack(life))
    with pytest.raises(Damaged):
        back.readings.get("thickness")

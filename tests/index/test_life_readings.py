"""The readings of a part's life as bytes: the same when they are looked into, and not before."""

from __future__ import annotations

import pickle
from copy import copy
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from board.index import life_readings
from board.index.life_readings import Unread, later, packed
from board.index.packing import Damaged, pack, unpack
from board.loading import load, read_mill
from board.mill import Limits, Mill, Quantity
from board.reckon.which_stands import standing_of
from board.shell import Shell
from board.state.fleet import Source
from board.state.history import Bound, PartLife, ReadingAt, Stay
from board.state.kept_readings import Kept, first_counted, newest_first, numbers_of, with_last
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


@given(
    st.dictionaries(st.sampled_from("ab"), st.lists(READINGS, max_size=3).map(tuple), max_size=2),
    st.lists(
        st.tuples(
            st.sampled_from("abc"), st.lists(READINGS, min_size=1, max_size=2), st.integers(0, 3)
        ),
        min_size=1,
        max_size=4,
    ),
)
def test_new_ones_stand_behind_them(
    readings: dict[str, tuple[ReadingAt, ...]], steps: list[tuple[str, list[ReadingAt], int]]
) -> None:
    plain, grown = dict(readings), later(packed(readings))
    for quantity, added, instead_of in steps:
        before = dict(grown)
        longer = with_last(grown, quantity, tuple(added), instead_of)
        assert dict(grown) == before  # the one before stays as it was
        series = plain.get(quantity, ())
        plain[quantity] = (*series[: max(len(series) - instead_of, 0)], *added)
        grown = longer
        assert isinstance(grown, Kept)
        for each in "abc":
            own = plain.get(each, ())
            assert tuple(newest_first(grown, each)) == tuple(reversed(own))
            assert numbers_of(grown, each) == numbers_of(plain, each)
            assert grown.last(each) == (own[-1] if own else None)
    assert list(grown.items()) == list(plain.items())
    assert len(grown) == len(plain)
    assert packed(grown) == packed(plain)
    assert dict(copy(grown)) == plain
    assert with_last(readings, *_last_of(steps)) == with_last(
        later(packed(readings)), *_last_of(steps)
    )


@given(st.lists(READINGS, max_size=4).map(tuple), st.integers(min_value=0, max_value=3))
def test_the_one_that_stands_is_the_same_of_them(series: tuple[ReadingAt, ...], level: int) -> None:
    """Though of most parts only the last reading is looked at."""
    life = PartLife(
        at=PartAt(part="guide"),
        stays=(Stay(loom="A01", start=None),),
        level=level,
        readings={"gap": series},
    )
    gap = Quantity(name="gap", unit="mm", limits=Limits(high=0.4), tool_uncertainty=0.02)
    kept = replace(life, readings=later(packed(life.readings)))
    assert standing_of(kept, gap) == standing_of(life, gap)


def _last_of(
    steps: list[tuple[str, list[ReadingAt], int]],
) -> tuple[str, tuple[ReadingAt, ...], int]:
    quantity, added, instead_of = steps[-1]
    return quantity, tuple(added), instead_of


def test_the_last_of_them_is_known_without_the_others(monkeypatch: pytest.MonkeyPatch) -> None:
    source = Source(path="a.log", line=1, text="A01 left tape 2.8 mm")
    one = ReadingAt(
        when=NOW, value=2.8, unit="mm", bound=Bound.EXACT, written="2.8 mm", level=0, by=None,
        source=source,
    )  # fmt: skip
    kept = later(packed({"": (one, one)}))
    monkeypatch.delattr(life_readings, "_series")
    grown = with_last(kept, "", (one,))
    assert next(newest_first(grown, "")) == next(newest_first(kept, "")) == one
    assert len(numbers_of(grown, "")) == 3
    looked_into = copy(kept)
    monkeypatch.undo()
    assert len(looked_into[""]) == 2
    assert not kept._made  # type: ignore[attr-defined]


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

"""Laws of the fold: what a shed's state does not depend on, and what alone ends an isolation."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import FrozenInstanceError, replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from board.snapshot import FileReading, Snapshot, snapshot
from board.state.fleet import Isolation, LoomState
from board.state.fold import fold
from board.state.happening import happenings_of
from board.state.logged import Logged
from board.state.step import step
from grammar import entries as e
from grammar.diagnostics import Severity
from grammar.reader import LastLine, Reader
from tests.state.shed import NIGHT, NOW, at, loom, mill, night, read
from tests.state.writing import (
    LINES,
    LOOM_LINES,
    LOOMS,
    MINUTES,
    Line,
    in_files,
    in_one_file,
    told,
)

many = settings(max_examples=150, deadline=None)
NAMES = ("a.log", "b.log", "c.log")


def _logged(shed: Snapshot) -> list[Logged]:
    return [replace(x, struck_by=None, struck_for=frozenset()) for x in shed.entries]


# -- what the state does not depend on -----------------------------------------------------


@many
@given(LINES, st.lists(st.sampled_from(NAMES), min_size=14, max_size=14), st.permutations(NAMES))
def test_it_does_not_matter_what_the_files_are_called(
    lines: list[Line], files: list[str], names: list[str]
) -> None:
    files = files[: len(lines)]
    renamed = dict(zip(NAMES, names, strict=True))
    one = read(in_files(lines, files))
    other = read(in_files(lines, [renamed[name] for name in files]))
    assert told(one.fleet) == told(other.fleet)


@many
@given(LINES, st.randoms(use_true_random=False))
def test_it_does_not_matter_in_which_order_entries_are_given(
    lines: list[Line], random: object
) -> None:
    logged = _logged(read(in_one_file(lines)))
    shuffled = list(logged)
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    assert fold(shuffled, mill(), at(NOW)) == fold(logged, mill(), at(NOW))


@many
@given(LINES, st.data())
def test_it_does_not_matter_how_lines_are_split_into_files(
    lines: list[Line], data: st.DataObject
) -> None:
    """Any split that keeps together what is said of a loom in a minute, by groups too."""
    with_group = {line.minute for line in lines if line.place not in LOOMS}
    file_of: dict[tuple[str, str], str] = {}
    files = []
    for line in lines:
        key = (line.minute, "all" if line.minute in with_group else line.place)
        if key not in file_of:
            file_of[key] = data.draw(st.sampled_from(NAMES))
        files.append(file_of[key])
    one, split = read(in_one_file(lines)), read(in_files(lines, files))
    assert told(one.fleet) == told(split.fleet)


@many
@given(LINES)
def test_reading_again_gives_the_same(lines: list[Line]) -> None:
    assert read(in_one_file(lines)) == read(in_one_file(lines))


@many
@given(LINES, st.sampled_from(MINUTES))
def test_up_to_a_moment_is_as_if_later_entries_were_cut_but_for_their_isolations(
    lines: list[Line], minute: str
) -> None:
    now = at(f"2026-11-24 {minute}")
    logged = _logged(read(in_one_file(lines)))
    cut = []
    for x in logged:
        if x.entry.when > now:
            locks = tuple(c for c in x.entry.clauses if isinstance(c, e.Isolated))
            if not locks:
                continue
            x = replace(x, entry=replace(x.entry, clauses=locks))
        cut.append(x)
    whole, short = fold(logged, mill(), now), fold(cut, mill(), now)
    assert told(whole.looms) == told(short.looms)
    assert told(whole.shed) == told(short.shed)
    assert told(whole.history) == told(short.history)
    assert whole.last_entry == short.last_entry


# -- isolations ----------------------------------------------------------------------------

GARBAGE = st.sampled_from(
    ["", "", "; left tpae 2 mm", "; gibberish", "; left tape 2.9", " lock 14"]
)


@many
@given(
    st.lists(st.tuples(LOOM_LINES, GARBAGE, st.sampled_from(NAMES)), max_size=12),
    st.sampled_from(["2026-11-24 22:05", "2026-11-24 22:30", NOW]),
    st.sampled_from(LastLine),
)
def test_only_lock_removed_ends_an_isolation(
    lines: list[tuple[Line, str, str]], now: str, last_line: LastLine
) -> None:
    """Whatever else is written, later than now, struck, doubled, refused or unfinished."""
    texts: dict[str, list[str]] = defaultdict(list)
    isolated: dict[str, set[str]] = defaultdict(set)
    for line, garbage, name in lines:
        words = [w for w in line.words.split("; ") if not w.startswith("lock removed")]
        if not words:
            continue
        texts[name].append(f"{line.minute} {line.place} {'; '.join(words)}{garbage}")
        isolated[line.place] |= {w.split()[2] for w in words if w.startswith("isolated")}
    files = {name: NIGHT + "\n".join(said) for name, said in texts.items()}
    shed = read(files, now, last_line=last_line)
    for name in LOOMS:
        assert {lock.by for lock in loom(shed, name).locks} == isolated[name]


OPS = st.sampled_from(
    [
        "isolated by KM", "isolated by RB", "lock removed by KM", "lock removed by RB",
        "lock removed by KM for RB", "lock removed by TN for KM", "running", "stopped",
        "lock seen by TN", "struck",
    ]
)  # fmt: skip


def _by_the_model(ops: list[str], strikes: dict[int, int]) -> tuple[set[str], bool]:
    """Owners of the locks, and whether the loom is a conflict: by nothing but sets."""
    struck = set(strikes.values())
    owners: set[str] = set()
    conflict = False
    for index, op in enumerate(ops):
        if op.startswith("isolated"):
            owners.add(op.split()[2])
        elif index in struck:
            continue
        elif op.startswith("lock removed"):
            owners.discard(op.split()[-1])
            conflict = conflict and bool(owners)
        elif op == "running":
            conflict = conflict or bool(owners)
        elif op == "stopped":
            conflict = False
    return owners, conflict


@settings(max_examples=400, deadline=None)
@given(st.lists(OPS, min_size=1, max_size=16), st.data())
def test_locks_against_a_model_of_sets(ops: list[str], data: st.DataObject) -> None:
    strikes: dict[int, int] = {}
    lines = []
    for index, op in enumerate(ops):
        words = op
        if op == "struck":
            earlier = [i for i in range(index) if ops[i] != "struck"]
            words = "note nothing to strike"
            if earlier:
                strikes[index] = data.draw(st.sampled_from(earlier))
                words = f"struck 22:{strikes[index]:02d} wrong"
        lines.append(f"22:{index:02d} A07 {words}")
    state = loom(night(*lines))
    owners, conflict = _by_the_model(ops, strikes)
    assert {lock.by for lock in state.locks} == owners
    assert (state.isolation is Isolation.CONFLICT) == conflict
    assert (state.isolation is Isolation.NONE_RECORDED) == (not owners)


# -- steps ---------------------------------------------------------------------------------


@many
@given(st.lists(LOOM_LINES, max_size=14))
def test_a_refused_clause_leaves_the_state_as_it_was(lines: list[Line]) -> None:
    reading = Reader(mill().vocabulary).read(in_one_file(lines)["a.log"])
    states = {name: LoomState(loom=name) for name in LOOMS}
    for entry in reading.entries:
        name = entry.place.name
        for happening in happenings_of(Logged(path="a.log", entry=entry), name):
            before = states[name]
            stepped = step(before, happening, mill())
            if any(d.severity is Severity.REFUSED for d in stepped.complaints):
                assert (stepped.state, stepped.facts) == (before, ())
            states[name] = stepped.state


def test_states_are_frozen() -> None:
    shed = night("22:10 A07 isolated by KM; left tape 2.90 mm; open look", "22:11 shed open sweep")
    state = loom(shed)
    values = [
        shed, shed.fleet, shed.fleet.shed, shed.fleet.history, state, state.locks[0],
        state.actions[0], next(iter(state.parts.values())), shed.entries[0], shed.entries[0].entry,
    ]  # fmt: skip
    for value in values:
        name = next(iter(value.__slots__))
        with pytest.raises(FrozenInstanceError):
            setattr(value, name, None)


def test_an_earlier_state_is_not_changed_by_a_later_step() -> None:
    lines = ["22:10 A07 left tape 2.90 mm", "22:20 A07 left tape 2.80 mm; replaced left head"]
    logged = _logged(night(*lines))
    first = fold(logged[:1], mill(), at(NOW))
    kept = repr(first)
    fold(logged, mill(), at(NOW))
    assert repr(first) == kept


def test_a_snapshot_does_not_mind_the_order_of_its_files() -> None:
    reader = Reader(mill().vocabulary)
    files = [
        FileReading(
            path=f"{n}.log", reading=reader.read(NIGHT + f"22:1{n} A07 left tape 2.{9 - n}0 mm\n")
        )
        for n in range(4)
    ]
    assert snapshot(files, mill(), at(NOW)) == snapshot(files[::-1], mill(), at(NOW))

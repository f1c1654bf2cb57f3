"""Jobs give one answer wherever they are done and in whatever order they end."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from concurrent.futures import Executor, ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from board.archive import asking, spreading
from board.archive.asking import Archive, archive_of, ask, grouped
from board.archive.finding import Found, find_in, merge
from board.archive.spreading import DIED, Here, Spread, carried_out, processes, spread
from board.archive.tree import Tree, tree_reduce
from tests.archive.conftest import Answer, command
from tests.archive.dying import answer, both
from tests.archive.mills import AT

HERE = ("--workers", "1")
ASKED = [
    ("find", "tape", "--around", "1"),
    ("repeats", "--window", "60 days"),
    ("lives", "--by", "mill", "--by", "batch"),
    ("wear", "--audit"),
    ("lives", "--at", "2025-07-01T06:00"),
]


def in_threads(executor: Executor) -> Spread:
    return Spread(executor=executor, fresh=None, count=2, environ=())


# -- the tree ------------------------------------------------------------------------------


@given(st.lists(st.text(max_size=3), max_size=40), st.randoms(use_true_random=False))
def test_any_order_of_coming_gives_one_answer(values: list[str], random: Any) -> None:
    """Joining texts is associative and keeps their order, so a wrong neighbour would show."""
    tree: Tree[str] = Tree(lambda a, b: a + b)
    places = list(range(len(values)))
    random.shuffle(places)
    for place in places:
        tree.take(place, values[place])
    assert (tree.all() or "") == "".join(values)
    assert (tree_reduce(values, lambda a, b: a + b) or "") == "".join(values)


@given(st.sets(st.integers(0, 30)), st.integers(0, 31))
def test_a_place_that_never_comes_leaves_the_others(gone: set[int], count: int) -> None:
    tree: Tree[tuple[int, ...]] = Tree(lambda a, b: a + b)
    for place in reversed(range(count)):
        if place not in gone:
            tree.take(place, (place,))
    assert (tree.all() or ()) == tuple(n for n in range(count) if n not in gone)


_HITS = st.lists(
    st.tuples(st.floats(0, 99) | st.just(float("inf")), st.integers(0, 5), st.text(max_size=2)),
    max_size=6,
)
_COUNTS = st.dictionaries(st.sampled_from("abc"), st.integers(1, 9), max_size=3)


@st.composite
def answers(draw: st.DrawFn, mill: str, most: int) -> Found:
    """What a job may answer of one mill."""
    hits = tuple(sorted((when, mill, place, text) for when, place, text in draw(_HITS)))
    counts = tuple(sorted(draw(_COUNTS).items(), key=lambda c: (-c[1], c[0])))
    hits = hits[-most:] if most else hits
    near = ((mill, "wrd", ("word",)),) if draw(st.booleans()) else ()
    lost = ((mill, "away"),) if draw(st.booleans()) else ()
    return hits, ((mill, "UTC", len(hits), ""),), (counts, (), counts), near, lost, most


@given(st.data(), st.integers(0, 4))
def test_merging_hits_is_associative_and_the_same_either_way_round(
    data: st.DataObject, most: int
) -> None:
    a, b, c = (data.draw(answers(mill, most)) for mill in ("east", "north", "south"))
    assert merge(merge(a, b), c) == merge(a, merge(b, c))
    assert merge(a, b) == merge(b, a)


def test_jobs_are_worth_giving_out_and_enough_for_all() -> None:
    mills = [(f"m{n}", "", "") for n in range(6)]

    def sizes(entries: list[int], workers: int) -> list[int]:
        return [len(group) for group in grouped(mills[: len(entries)], entries, workers)]

    assert sizes([60_000] * 6, 2) == [2, 2, 2]
    assert sizes([10] * 6, 2) == [3, 3]  # less than a job is worth, but two can share it
    assert sizes([5_000_000, 10, 10, 200_000], 1) == [1, 3]
    assert sizes([], 4) == []


# -- where jobs are done -------------------------------------------------------------------


@pytest.fixture(scope="module")
def alone(kept: Path, group: Path) -> dict[tuple[str, ...], object]:
    """What each question is answered in one process."""
    found = {}
    for words in ASKED:
        done = command(kept, *words, "--archive", str(group), *HERE, "--json")
        assert (done.code, done.err) == (0, "")
        found[words] = json.loads(done.out)
    return found


@pytest.mark.parametrize("words", ASKED, ids=" ".join)
def test_processes_answer_what_one_process_answers(
    group: Path, asked: Answer, alone: dict[tuple[str, ...], object], words: tuple[str, ...]
) -> None:
    assert asked(*words, "--archive", str(group), "--workers", "2") == alone[words]


def test_threads_answer_what_one_process_answers(group: Path) -> None:
    archive: Archive = archive_of(str(group), None)
    names = ("words", "loom", "part", "side", "kind", "by", "style", "since", "until", "at")
    question = (
        *((n, None if n != "words" else ("tape",)) for n in names),
        ("around", 0),
        ("most", 0),
    )
    alone = Spread(executor=Here(), fresh=None, count=1, environ=())
    with ThreadPoolExecutor(3) as pool:
        threads = ask(in_threads(pool), archive, find_in, question, merge)
    assert threads == ask(alone, archive, find_in, question, merge)
    assert threads.answer is not None
    assert len(threads.answer[0]) > 100
    assert threads.lost == ()


def test_a_build_by_processes_is_that_of_one(
    kept: Path, mills: dict[str, Path], group: Path, tmp_path: Path
) -> None:
    out = tmp_path / "group"
    named = [f"--mill={name}={folder}" for name, folder in mills.items()]
    done = command(kept, "archive", str(out), *named, "--at", AT, "--workers", "2")
    assert (done.code, done.err) == (0, "")
    assert (out / "catalogue.json").read_text() == (group / "catalogue.json").read_text()


# -- what goes wrong -----------------------------------------------------------------------


def test_a_process_that_dies_takes_only_its_own_job_along() -> None:
    tasks = [(name, name) for name in ("a", "dies b", "c", "fails d", "e")]
    with spread(2, None, len(tasks), {}) as where:
        outcome = carried_out(where, answer, tasks, both)
    assert outcome.answer == ("a", "c", "e")
    assert outcome.lost == (("dies b", DIED), ("fails d", "no\u241b[31m fails d"))


def test_no_process_is_begun_while_another_may_die() -> None:
    with processes(3) as pool:
        assert pool.submit(int).result() == 0
        begun = set(vars(pool)["_processes"])
        assert len(begun) == 3
        assert [pool.submit(int).result() for _ in range(5)] == [0] * 5
        assert set(vars(pool)["_processes"]) == begun


def test_a_job_that_fails_in_this_process_leaves_the_others() -> None:
    with spread(1, None, 2, {}) as where:
        outcome = carried_out(where, answer, [("a", "a"), ("b", "fails")], both)
    assert outcome.answer == ("a",)
    assert outcome.lost == (("b", "no\u241b[31m fails"),)


def test_a_job_of_several_mills_that_is_lost_is_tried_mill_by_mill(group: Path) -> None:
    """The three small mills share one job here; one of them cannot be worked on."""
    calls: list[tuple[str, ...]] = []

    def job(task: asking.Task) -> tuple[str, ...]:
        names = tuple(mill[0] for mill in task[2])
        calls.append(names)
        if "north" in names:
            raise RuntimeError("no more memory")
        return names

    alone = Spread(executor=Here(), fresh=None, count=1, environ=())
    outcome = ask(alone, archive_of(str(group), None), job, (), both)
    assert calls == [("east", "north", "south"), ("east",), ("north",), ("south",)]
    assert outcome.answer == ("east", "south")
    assert outcome.lost == (("north", "no more memory"),)


def test_without_the_extra_a_scheduler_is_refused(
    group: Path, kept: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    words = ("find", "tape", "--archive", str(group), "--scheduler", "tcp://127.0.0.1:1")
    done = command(kept, *words)
    assert (done.code, done.out) == (2, "")
    assert done.err == (
        "loomslate: --scheduler needs the extra [cluster]: pip install 'loomslate[cluster]'\n"
    )


def test_workers_and_a_scheduler_are_not_both(group: Path, kept: Path) -> None:
    words = ("lives", "--archive", str(group), "--scheduler", "tcp://127.0.0.1:1", *HERE)
    done = command(kept, *words)
    assert (done.code, done.out, done.err.count("\n")) == (2, "", 1)


# -- a cluster -----------------------------------------------------------------------------


@pytest.fixture(scope="module")
def scheduler() -> Iterator[str]:
    """The address of a cluster of two processes on this machine."""
    distributed = pytest.importorskip("distributed")
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=":0",
        host="127.0.0.1",
    ) as cluster:  # fmt: skip
        yield cluster.scheduler_address
        # one that is still being begun in the place of a dead one cannot be ended in good order
        with distributed.Client(cluster) as client:
            client.wait_for_workers(2, timeout=30)


@pytest.mark.parametrize("words", ASKED, ids=" ".join)
def test_a_cluster_answers_what_one_process_answers(
    group: Path,
    asked: Answer,
    alone: dict[tuple[str, ...], object],
    scheduler: str,
    words: tuple[str, ...],
) -> None:
    assert asked(*words, "--archive", str(group), "--scheduler", scheduler) == alone[words]


def test_a_cluster_builds_what_one_process_builds(
    kept: Path, mills: dict[str, Path], group: Path, scheduler: str, tmp_path: Path
) -> None:
    out = tmp_path / "group"
    named = [f"--mill={name}={folder}" for name, folder in mills.items()]
    done = command(kept, "archive", str(out), *named, "--at", AT, "--scheduler", scheduler)
    assert (done.code, done.err) == (0, "")
    assert (out / "catalogue.json").read_text() == (group / "catalogue.json").read_text()


def test_two_alike_jobs_are_both_done_by_a_cluster(scheduler: str) -> None:
    """A cluster that takes alike jobs for one would answer the first again."""
    with spread(None, scheduler, 2, {}) as where:
        outcome = carried_out(where, answer, [("a", "same"), ("b", "same")], both)
        lost = carried_out(where, answer, [("a", "fails"), ("b", "well")], both)
    assert (outcome.answer, outcome.lost) == (("same", "same"), ())
    assert (lost.answer, lost.lost) == (("well",), (("a", "no\u241b[31m fails"),))


def test_a_process_of_a_cluster_that_dies_takes_only_its_own_job_along(scheduler: str) -> None:
    tasks = [(name, name) for name in ("a", "dies b", "c")]
    with spread(None, scheduler, len(tasks), {}) as where:
        outcome = carried_out(where, answer, tasks, both)
    assert (outcome.answer, outcome.lost) == (("a", "c"), (("dies b", DIED),))


def test_a_scheduler_that_is_not_there_is_one_sentence(
    group: Path, kept: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(spreading, "ANSWERS_WITHIN_S", 0.5)
    for address in ("tcp://127.0.0.1:9", "nonsense\x1b[31m"):
        words = ("find", "tape", "--archive", str(group), "--scheduler", address)
        done = command(kept, *words)
        assert (done.code, done.out, done.err.count("\n")) == (2, "", 1), done.err
        assert "no scheduler answers at" in done.err
        assert "\x1b" not in done.err

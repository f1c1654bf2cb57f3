"""Jobs spread over processes of this machine or of a cluster, and what became of each.

Any ``concurrent.futures.Executor`` does. A job is a function at the top of its module that takes
and answers plain values. A process that dies takes only its own job along: what was lost with it
is tried again alone, so that the one that dies again is told by name.
"""

from __future__ import annotations

import multiprocessing
import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import BrokenExecutor, Executor, Future, as_completed
from contextlib import AbstractContextManager, contextmanager, nullcontext
from dataclasses import dataclass
from importlib import import_module
from typing import Any, Generic, TypeVar

from board.archive.tree import Tree
from board.shell import CannotRun
from board.show.text import clean

T = TypeVar("T")
A = TypeVar("A")

ANSWERS_WITHIN_S = 10.0  # [s] a scheduler, or there is none
DIED = "the process that worked on it died"
_CACHE_NAMES = ("XDG_CACHE_HOME", "HOME", "LOCALAPPDATA", "USERPROFILE")


class Here(Executor):
    """Does each job at once, in this process."""

    def submit(self, fn: Callable[..., T], /, *args: Any, **kwargs: Any) -> Future[T]:
        """Do it, and answer it as done."""
        future: Future[T] = Future()
        try:
            future.set_result(fn(*args, **kwargs))
        except Exception as error:
            future.set_exception(error)
        return future


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """Where jobs are done; ``fresh`` gives one for a job alone, ``count`` says how many at once.

    ``environ`` goes along with a job: where a process of this machine may keep a grammar.
    """

    executor: Executor
    fresh: Callable[[], AbstractContextManager[Executor]] | None
    count: int
    environ: tuple[tuple[str, str], ...]
    scheduler: str = ""
    compute: Callable[[list[Any]], list[Any]] = list  # of a cluster: what dask's tables hold


@contextmanager
def spread(
    workers: int | None, scheduler: str | None, jobs: int, environ: Mapping[str, str]
) -> Iterator[Spread]:
    """Where so many jobs are done, until they are done. Raises CannotRun."""
    if workers is not None and workers < 1:
        raise CannotRun("--workers takes a count, 1 or more")
    if scheduler is not None:
        if workers is not None:
            raise CannotRun("--workers or --scheduler: a cluster has as many workers as it has")
        with _cluster(scheduler) as found:
            yield found
        return
    known = tuple((name, environ[name]) for name in _CACHE_NAMES if name in environ)
    count = min(workers or cores(), max(jobs, 1))
    if count == 1:
        yield Spread(executor=Here(), fresh=None, count=1, environ=known)
        return
    with processes(count) as pool:
        yield Spread(executor=pool, fresh=lambda: processes(1), count=count, environ=known)


def cores() -> int:
    """How many jobs this machine does at once."""
    affinity = getattr(os, "sched_getaffinity", None)
    return len(affinity(0)) if affinity is not None else os.cpu_count() or 1


def processes(count: int) -> Executor:
    """So many processes of this machine."""
    from concurrent.futures import ProcessPoolExecutor

    # forked from a process without threads of its own where that can be, else begun anew
    manner = "forkserver" if "forkserver" in multiprocessing.get_all_start_methods() else "spawn"
    context = multiprocessing.get_context(manner)
    if manner == "forkserver":
        context.set_forkserver_preload(["board.archive.building", "board.archive.finding"])
    pool = ProcessPoolExecutor(count, mp_context=context)
    # All are begun with the first job: one that is begun just when another dies is neither ended
    # nor given anything to do by Python's pool, which then waits for it for ever.
    vars(pool)["_safe_to_dynamically_spawn_children"] = False
    return pool


@contextmanager
def _cluster(address: str) -> Iterator[Spread]:
    try:
        # the extra [cluster], which is slow to load
        distributed: Any = import_module("distributed")
    except ImportError:
        raise CannotRun(
            "--scheduler needs the extra [cluster]: pip install 'loomslate[cluster]'"
        ) from None
    try:
        client = distributed.Client(address, timeout=ANSWERS_WITHIN_S, set_as_default=False)
    except (OSError, ValueError, TypeError) as error:
        reason = clean(str(error) or type(error).__name__).split(" after ")[0]
        raise CannotRun(f"no scheduler answers at {clean(address)}: {reason}") from None
    with client:
        # a job has effects and may be asked for again: two alike are still two
        executor = client.get_executor(pure=False)
        count = max(sum(client.nthreads().values()), 1)
        yield Spread(
            executor=executor,
            fresh=lambda: nullcontext(executor),  # which begins its processes anew by itself
            count=count,
            environ=(),
            scheduler=address,
            compute=lambda lazy: list(client.gather(client.compute(lazy))),
        )


Lost = tuple[tuple[str, str], ...]  # what a job was about, and why it was lost


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome(Generic[T]):
    """What jobs answered, merged, None where none did; and the jobs that were lost."""

    answer: T | None
    lost: Lost


def carried_out(
    where: Spread,
    job: Callable[[A], T],
    tasks: Sequence[tuple[str, A]],
    merge: Callable[[T, T], T],
    done: Callable[[T], None] | None = None,
) -> Outcome[T]:
    """Do a job for every task, and merge what they answer; tasks come with what they are about.

    ``done`` is told each answer as it comes. Answers are merged by the places of their tasks: the
    order in which they come is all one.
    """
    tree: Tree[T] = Tree(merge)
    lost: list[int] = []
    told: dict[int, str] = {}
    futures: dict[Future[T], int] = {}
    for place, (_, task) in enumerate(tasks):
        try:
            futures[where.executor.submit(job, task)] = place
        except BrokenExecutor:
            lost.append(place)

    def take(place: int, future: Future[T]) -> None:
        value = future.result()
        tree.take(place, value)
        if done is not None:
            done(value)

    for future in as_completed(futures):
        place = futures[future]
        try:
            take(place, future)
        except Exception as error:
            if _died(error):
                lost.append(place)  # it, or one that shared the processes with it
            else:
                told[place] = _reason(error)
    for place in sorted(lost):
        if where.fresh is None:
            told[place] = DIED
            continue
        with where.fresh() as alone:
            try:
                take(place, alone.submit(job, tasks[place][1]))
            except Exception as error:
                told[place] = DIED if _died(error) else _reason(error)
    lost_ones = tuple((tasks[place][0], told[place]) for place in sorted(told))
    return Outcome(answer=tree.all(), lost=lost_ones)


def _died(error: Exception) -> bool:
    """Whether a job was lost with its process; a cluster's own word for it may not be loaded."""
    return isinstance(error, BrokenExecutor) or type(error).__name__ == "KilledWorker"


def _reason(error: Exception) -> str:
    """Why a job was lost, in one sentence."""
    if isinstance(error, OSError) and error.strerror:
        return error.strerror.lower()
    return " ".join(clean(str(error) or type(error).__name__).split())[:200]

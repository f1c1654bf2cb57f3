"""Rows of the live board: from a save to the committed state, one by one and five hundred at once."""

from __future__ import annotations

import time
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from random import Random
from statistics import correlation, median, quantiles
from time import perf_counter

from tests.bench._memory import peak_mib
from tests.bench._place import NotMeasured, Place
from tests.bench._process import ENOUGH_S
from tests.bench._row import Reached
from tests.bench._watched import (
    LONGEST_S,
    Waiting,
    Watched,
    saved_by_appending,
    saved_by_renaming,
    saved_in_place,
)

SAVES, LEAST = 12, 3  # for each pass, and where they take long
BETWEEN_S = 2.5  # [s] until the picture of a save is reckoned: the next one would wait for it
AT_ONCE = 500

Save = Callable[[Path, bytes], float]


def appends(place: Place) -> Reached:
    """A line added to the newest log."""
    return _saves(place, (saved_by_appending,))


def editors(place: Place) -> Reached:
    """A log saved anew by renaming, or in its place."""
    return _saves(place, (saved_by_renaming, saved_in_place))


def _saves(place: Place, manners: tuple[Save, ...]) -> Reached:
    with Watched(place) as board:
        log = max(place.copy.rglob("*.log"))
        path = log.relative_to(place.copy).as_posix()
        times = []
        for number in range(SAVES * place.passes):
            # of another hand than the shed's, so that no line stands twice
            save = manners[number % len(manners)]
            begun = save(log, f"05:{number % 60:02d} B02 note watched {perf_counter()}\n".encode())
            times.append(board.committed_after(begun, path, log.stat().st_size) * 1e3)
            board.steady(BETWEEN_S)
            if sum(times) > ENOUGH_S * 1e3 and len(times) >= LEAST:
                break
        peak = peak_mib(board.process.pid)
    return Reached(
        figures={"median": median(times), "p95": quantiles(times, n=20, method="inclusive")[-1]},
        units={"median": "ms", "p95": "ms"},
        peak_mib=peak,
        more=f"{len(times)} saves, the longest {max(times):.0f} ms",
    )


def at_once(place: Place) -> Reached:
    """The newest five hundred logs saved without a pause, in no order.

    The longest commit is told by how long another program that wants to write has to wait.
    """
    with Watched(place) as board:
        logs = sorted(place.copy.rglob("*.log"), reverse=True)[:AT_ONCE]
        newest = [log.relative_to(place.copy).as_posix() for log in logs]
        Random(AT_ONCE).shuffle(logs)
        wanted = {}
        begun = perf_counter()
        for number, log in enumerate(logs):
            line = (
                f"{_last_time(log)} A{number % 20 + 1:02d} note saved at once {number}\n".encode()
            )
            wanted[log.relative_to(place.copy).as_posix()] = log.stat().st_size + len(line)
            with log.open("ab") as opened:
                opened.write(line)
        saved = perf_counter()
        with Waiting(place.index) as another:
            seen, commits = _all_seen(board, wanted)
        peak = peak_mib(board.process.pid)
    gaps = [b - a for a, b in pairwise(commits)] or [commits[0] - begun]
    return Reached(
        figures={"": commits[-1] - begun, "longest commit": another.longest_s * 1e3},
        units={"": "s", "longest commit": "ms"},
        peak_mib=peak,
        more=f"{len(logs)} files in {len(commits)} commits{_order(newest, seen)}, at most"
        f" {max(gaps) * 1e3:.0f} ms apart; saving them took {(saved - begun) * 1e3:.0f} ms",
    )


def _last_time(log: Path) -> str:
    """A time near the end of a log's shift."""
    return {"early": "13:50", "late": "21:50", "night": "05:50"}[log.stem.split("-")[3]]


def _order(newest: list[str], seen: list[list[str]]) -> str:
    """How far the first commits brought the newest logs: 1, in no order 0."""
    if len(seen) == 1:
        return ""
    ranks = {path: rank for rank, path in enumerate(newest)}
    came = [(ranks[path], number) for number, paths in enumerate(seen) for path in paths]
    return f", newest first {correlation(*map(list, zip(*came, strict=True))):.2f}"


def _all_seen(board: Watched, wanted: dict[str, int]) -> tuple[list[list[str]], list[float]]:
    """The files that each commit brought, and when it was seen [s, perf_counter]."""
    left = dict(wanted)
    seen: list[list[str]] = []
    commits: list[float] = []
    until = perf_counter() + LONGEST_S
    while left:
        if perf_counter() > until:
            raise NotMeasured(f"not measured: {len(left)} of the files were not committed")
        if board.has_committed():
            at = perf_counter()
            sizes = board.sizes()
            here = [path for path, size in left.items() if sizes.get(path) == size]
            for path in here:
                del left[path]
            if here:
                seen.append(here)
                commits.append(at)
        time.sleep(0.0005)
    return seen, commits

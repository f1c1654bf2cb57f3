"""Rows of whole commands, each run as a process of its own, seen from outside."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from statistics import median
from time import perf_counter

from tests.bench._memory import own_peak_mib
from tests.bench._place import NotMeasured, Place, has_index
from tests.bench._process import Ran, computed, loomslate, middle, most, several
from tests.bench._row import Reached
from tests.bench._yardsticks import grep_s, import_rich_s
from tests.bench.generate import AS_OF

WORD = "sprocket"
RICH = 'python -c "import rich"'
SCREEN = ("--at", AS_OF, "--width", "120", "--height", "40")
QUESTIONS = (
    ("frays", "sprocket"),
    ("drops", "weft", "--loom", "B04"),
    ("--part", "tape", "--kind", "work", "--loom", "A17"),
    ("--kind", "isolated", "--from", "2026-11-20"),
    ("struck", "--most", "20"),
)


def cold(place: Place, cores: int) -> tuple[list[Ran], float]:
    """`board` with no index there, and the size of the index that it leaves [MB]."""
    place.needs_index()
    place.warm_grammar()
    file = place.scratch / place.name / "cold.sqlite"
    file.parent.mkdir(parents=True, exist_ok=True)
    runs, size = [], 0
    for _ in range(place.passes if place.size.entries <= 1_000_000 else 1):
        _without(place, "cold.sqlite")
        runs.append(
            loomslate(["board", str(place.folder), *SCREEN, "--index", str(file)],
                      place.environ, cores=cores)
        )  # fmt: skip
        size = sum(part.stat().st_size for part in file.parent.glob("cold.sqlite*"))
    _without(place, "cold.sqlite")
    return runs, size / 1e6


def _without(place: Place, name: str) -> None:
    for part in (place.scratch / place.name).glob(f"{name}*"):
        part.unlink()


def cold_on_one(place: Place) -> Reached:
    """The first build on one core."""
    return _cold(place, 1)


def cold_on_two(place: Place) -> Reached:
    """The first build on two cores."""
    return _cold(place, 2)


def _cold(place: Place, cores: int) -> Reached:
    runs, size = cold(place, cores)
    took = min(run.seconds for run in runs)
    yardstick = grep_s(place.folder, WORD, place.passes)
    return Reached(
        figures={"": took},
        units={"": "s"},
        against="grep -rn over the folder",
        ratio=took / yardstick,
        peak_mib=most(runs),
        more=f"{computed(runs)}, {place.size.entries / took:,.0f} entries/s, index {size:,.0f} MB",
    )


def memory(place: Place) -> Reached:
    """The most memory that the first build holds, its workers' with it."""
    once = Place(sheds=place.sheds, scratch=place.scratch, name=place.name, passes=1)
    peak = most(cold(once, 2)[0])
    return Reached(figures={"": peak}, units={"": "MiB"}, peak_mib=peak)


def warm(place: Place) -> Reached:
    """`board` where nothing changed since."""
    options = place.indexed()
    runs = several(
        lambda _: loomslate(["board", *options, *SCREEN], place.environ), 2 * place.passes
    )
    return _beside_rich(runs, place)


def answer(*asked: str) -> Callable[[Place], Reached]:
    """A row of one command of those that ask what was, at rest."""

    def measure(place: Place) -> Reached:
        command, *others = asked
        given = [command, *others, *place.indexed(), "--at", AS_OF]
        runs = several(lambda _: loomslate(given, place.environ), place.passes)
        return _beside_rich(runs, place)

    return measure


def write(place: Place) -> Reached:
    """`write` of one reading."""
    runs = [_written(place, READ, number) for number in range(2 * place.passes)]
    reached = _beside_rich(runs, place)
    without = "" if has_index(place.environ) else ", without index"
    return replace(reached, more=reached.more + without)


def write_others(place: Place) -> Reached:
    """`write` of what needs more than a loom's own lines, the slowest of several entries."""
    first = 2 * place.passes
    runs = [
        [_written(place, entry, first + place.passes * at + n) for n in range(place.passes)]
        for at, entry in enumerate(OTHERS)
    ]
    slowest = max(range(len(OTHERS)), key=lambda at: middle(runs[at]))
    reached = _beside_rich(runs[slowest], place)
    return replace(reached, more=f"{reached.more}, {OTHERS[slowest]!r}")


READ = "A{loom:02d} left tape {gap:.2f} mm"
OTHERS = ("A04 open look at the cover; due early", "shed taken over by QX", "A04 righht tape 2 mm")


def _written(place: Place, entry: str, number: int) -> Ran:
    """One `write`, its text and its minute by a number.

    Nobody of the shed writes as QX: the copy keeps as it was but for a file of these lines.
    """
    options = ["--folder", str(place.copied())]
    if has_index(place.environ):
        options = place.indexed()
    else:
        place.warm_grammar()
    text = entry.format(loom=number % 20 + 1, gap=2.90 - number / 1000)
    at = f"2026-11-25T05:{10 + number:02d}"
    given = ["write", text, "--by", "QX", "--at", at, *options]
    return loomslate(given, place.environ, fine=(0, 1))


def tab(place: Place) -> Reached:
    """What a key at the prompt of `write` waits for where it completes an open action's number."""
    import os
    from datetime import UTC, datetime

    from board.bearing import Bearing
    from board.desk import Desk
    from board.loading import mill_or_stop, reader_for
    from grammar.continuing import Continuations

    *_, index = place.indexed()
    os.environ.update(place.environ)
    at = datetime.fromisoformat(AS_OF).replace(tzinfo=UTC)
    mill = mill_or_stop(place.copied())
    reader = reader_for(mill.vocabulary, place.environ)
    bearing = Bearing(place.copied(), mill, reader, index, place.environ, lambda: datetime.now(UTC))
    desk = Desk(place.copied(), mill, reader, lambda: at, lambda: bearing)
    words = Continuations(mill.vocabulary)

    def pressed(loom: str) -> float:
        begun = perf_counter()
        line = f"{loom} done no "
        words.of(line, desk.writers(), lambda: desk.open_numbers(line.split()))
        return perf_counter() - begun

    first = pressed(mill.looms[0])
    times = [pressed(loom) for loom in mill.looms[:10]]
    bearing.close()
    return Reached(
        figures={"": median(times), "first": first},
        units={"": "s", "first": "s"},
        peak_mib=own_peak_mib(),
        more="completion and all",
    )


def _beside_rich(runs: list[Ran], place: Place) -> Reached:
    took = middle(runs)
    return Reached(
        figures={"": took},
        units={"": "s"},
        against=RICH,
        ratio=took / import_rich_s(place.passes),
        peak_mib=most(runs),
        more=computed(runs),
    )


def find(place: Place) -> Reached:
    """`find` in a fresh process, the slowest of several questions."""
    options = place.indexed()
    slowest: list[Ran] = []
    for question in QUESTIONS:

        def one(_: int, asked: tuple[str, ...] = question) -> Ran:
            return loomslate(["find", *asked, *options, "--at", AS_OF], place.environ, fine=(0, 1))

        runs = several(one, place.passes)
        slowest = max(slowest, runs, key=lambda r: middle(r) if r else 0.0)
    took = middle(slowest)
    yardstick = grep_s(place.folder, WORD, place.passes)
    return Reached(
        figures={"": took},
        units={"": "s"},
        against="grep -rn over the folder",
        ratio=took / yardstick,
        peak_mib=most(slowest),
        more=f"the slowest of {len(QUESTIONS)} questions, {computed(slowest)}",
    )


def find_again(place: Place) -> Reached:
    """`find` again and again in one process, imports over, the slowest of several questions."""
    import io
    import os
    from datetime import UTC, datetime
    from functools import partial

    from board import cli
    from board.shell import Shell

    options = place.indexed()
    os.environ.update(place.environ)

    def asked(question: tuple[str, ...]) -> float:
        shell = Shell(
            stdin=io.StringIO(), stdout=io.StringIO(), stderr=io.StringIO(),
            environ=place.environ, clock=partial(datetime.now, UTC),
        )  # fmt: skip
        begun = perf_counter()
        code = cli.run(["find", *question, *options, "--at", AS_OF], shell)
        took = perf_counter() - begun
        if code not in (0, 1):
            raise NotMeasured(f"not measured: find ended with {code}")
        return took

    first = max(asked(question) for question in QUESTIONS)
    often = 4 * place.passes + 1 if first < 1.0 else 1
    times = [median(asked(question) for _ in range(often)) for question in QUESTIONS]
    peak = own_peak_mib()
    yardstick = grep_s(place.folder, WORD, place.passes)
    return Reached(
        figures={"": max(times) * 1e3},
        units={"": "ms"},
        against="grep -rn over the folder",
        ratio=max(times) / yardstick,
        peak_mib=peak,
        more="the whole command but for imports: options, register, folder swept, question, screen",
    )

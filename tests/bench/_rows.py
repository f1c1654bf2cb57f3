"""The rows of the benchmark in their order, each with what must be reached, in one table."""

from __future__ import annotations

from tests.bench import _command_rows as command
from tests.bench import _reading_rows as reading
from tests.bench import _watching_rows as watching
from tests.bench._row import Row, Target

# what the lead and the supervisor ask of the years, and what each must take at most [s]
_ASKED = {
    ("loom", "A03"): 2,
    ("handover",): 2,
    ("repeats",): 5,
    ("figures",): 5,
    ("lives",): 5,
    ("spares",): 5,
    ("wear", "--audit"): 10,
}
_ANSWERS = tuple(
    Row(
        key=asked[0],
        what=f"{' '.join(asked)}, whole process",
        targets=(Target(figure="", bound=bound, unit="s"),),
        measure=command.answer(*asked),
        indexed=True,
        grows=True,
    )
    for asked, bound in _ASKED.items()
)

ROWS = (
    Row(
        key="reading-lark",
        what="reading, Lark alone",
        targets=(Target(figure="", bound=50_000, unit="lines/s", at_least=True),),
        measure=reading.reading_lark,
    ),
    Row(
        key="reading-derived",
        what="reading through expressions derived from the grammar",
        targets=(
            Target(figure="of Lark", bound=8, unit="x", at_least=True),
            Target(figure="of orjson", bound=0.5, unit="x", at_least=True),
        ),
        measure=reading.reading_derived,
    ),
    Row(
        key="cold-one",
        what="cold build of the index, on one core",
        targets=(Target(figure="", bound=8, unit="s"),),
        measure=command.cold_on_one,
        grows=True,
    ),
    Row(
        key="cold-two",
        what="cold build of the index, on two cores",
        targets=(Target(figure="", bound=5, unit="s"),),
        measure=command.cold_on_two,
        grows=True,
    ),
    Row(
        key="memory",
        what="peak memory of it",
        targets=(Target(figure="", bound=400, unit="MiB"),),
        measure=command.memory,
        grows=True,
    ),
    Row(
        key="memory-5m",
        what="peak memory of it, flat from there",
        targets=(Target(figure="", bound=400, unit="MiB"),),
        measure=command.memory,
        at="5m",
    ),
    Row(
        key="warm",
        what="warm board, nothing changed, whole process",
        targets=(Target(figure="", bound=0.25, unit="s"),),
        measure=command.warm,
        indexed=True,
        at="5m",
        grows=True,
    ),
    Row(
        key="write",
        what="write, whole process",
        targets=(Target(figure="", bound=0.15, unit="s"),),
        measure=command.write,
        indexed=True,
        grows=True,
    ),
    Row(
        key="write-others",
        what="write of a new action, a taking over, a line not understood: the slowest",
        targets=(Target(figure="", bound=0.5, unit="s"),),
        measure=command.write_others,
        indexed=True,
        grows=True,
    ),
    Row(
        key="tab",
        what="Tab behind `done no` at the prompt",
        targets=(
            Target(figure="", bound=0.1, unit="s"),
            Target(figure="first", bound=1, unit="s"),
        ),
        measure=command.tab,
        indexed=True,
        grows=True,
    ),
    Row(
        key="save-append",
        what="save to committed state, a line appended",
        targets=(
            Target(figure="median", bound=10, unit="ms"),
            Target(figure="p95", bound=50, unit="ms"),
        ),
        measure=watching.appends,
        indexed=True,
        grows=True,
    ),
    Row(
        key="save-editor",
        what="save to committed state, editors' saves",
        targets=(
            Target(figure="median", bound=10, unit="ms"),
            Target(figure="p95", bound=50, unit="ms"),
        ),
        measure=watching.editors,
        indexed=True,
    ),
    Row(
        key="save-500",
        what="500 files saved at once",
        targets=(
            Target(figure="", bound=2, unit="s"),
            Target(figure="longest commit", bound=100, unit="ms"),
        ),
        measure=watching.at_once,
        indexed=True,
    ),
    Row(
        key="find-open",
        what="find, open process",
        targets=(Target(figure="", bound=5, unit="ms"),),
        measure=command.find_again,
        indexed=True,
    ),
    Row(
        key="find",
        what="find, whole process",
        targets=(Target(figure="", bound=0.15, unit="s"),),
        measure=command.find,
        indexed=True,
        grows=True,
    ),
    Row(
        key="forecasts",
        what="the shed's forecasts, 300 looms x 12 parts",
        targets=(Target(figure="", bound=0.5, unit="s"),),
        measure=reading.forecasting,
    ),
    Row(
        key="fold",
        what="full fold of all entries",
        targets=(Target(figure="", bound=1.5, unit="s"),),
        measure=reading.folding,
        grows=True,
    ),
    *_ANSWERS,
)

BY_KEY = {row.key: row for row in ROWS}

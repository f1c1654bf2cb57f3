"""The keys of ``archive``, and of what an archive answers."""

from __future__ import annotations

from board.show.json_keys import Key, Record, key
from board.show.json_keys_board import RECORDS as OF_BOARD
from board.show.json_keys_reckoned import LIVES as OF_LIVES
from board.show.json_keys_repeats import RECORDS as OF_REPEATS
from board.show.json_keys_repeats import REPEATS as OF_ONE_REPORT
from board.show.json_keys_sheets import RECORDS as OF_SHEETS

_ARCHIVE = key("archive", "text", "the archive's folder")
_MILL = key("mill", "text", "the mill's name in the archive")
_AS_OF = key("as_of", "time", "the moment that it is looked at, by its own clock")
_MISSING = key("missing", "[{mill missing}]", "mills that are not in the answer")
_UNKNOWN = key("unknown_in", "[{mill missing}]", "mills in which the question means nothing")
_HELD = (
    key("judged", "count", "lives that came to their limit, so that a band could be judged"),
    key("held", "count", "bands that held"),
    key("replaced_before_judgement", "count", "lives that ended before their limit"),
)


def _keys(name: str, records: tuple[Record, ...], *without: str) -> tuple[Key, ...]:
    """The keys of a record that is told elsewhere."""
    (found,) = (record for record in records if record.name == name)
    return tuple(key for key in found.keys if key.name not in without)


ARCHIVE = (
    _ARCHIVE,
    key("mills", "[{mill kept}]", "every mill of the archive"),
    _MISSING,
    key("written", "count", "partitions written anew"),
)

FIND = (
    _ARCHIVE,
    key("hits", "[{hit of a mill}]", "what was found, in the order of time"),
    key("total", "count", "how much was found, before --most"),
    key("totals", "{totals of mills}", "how the hits are spread"),
    key("near", "words", "for words found nowhere, near ones of the records"),
    _UNKNOWN,
    _MISSING,
)

REPEATS = (
    _ARCHIVE,
    key("mills", "[{mill of repeats}]", "each mill with its own report"),
    key("chains", "[{chain of a mill}]", "faults that came again, in one order for all mills"),
    _UNKNOWN,
    _MISSING,
)

LIVES = (
    _ARCHIVE,
    key("mills", "[{mill of lives}]", "the mills that are pooled"),
    *(key for key in OF_LIVES if key.name != "as_of"),
    _UNKNOWN,
    _MISSING,
)

AUDIT = (
    _ARCHIVE,
    key("level", "share", "how often the bands were to hold the truth"),
    key("groups", "[{pooled group}]", "one record a part, side and quantity"),
    key("mills", "[{mill of forecasts}]", "the same of each mill, over all its groups"),
    *_HELD,
    _UNKNOWN,
    _MISSING,
)

RECORDS = (
    Record(
        name="mill kept",
        keys=(
            _MILL,
            key("folder", "text", "its log folder"),
            key("shed", "text", "the shed's name in its register"),
            _AS_OF,
            key("entries", "count", "entries that were understood"),
            key("lines", "count", "lines in its logs"),
            key("refused", "count", "lines that were not understood"),
            key("not_read", "[text]", "files that were passed over, a sentence each"),
            key("partitions", "[{partition}]", "its tables, by table and year"),
        ),
    ),
    Record(
        name="partition",
        keys=(
            key("table", "text", "the table"),
            key("year", "count", "the year of its times in UTC; 0 where no time is known"),
            key("rows", "count", "its rows"),
            key("bytes", "count", "the size of its file in bytes"),
            key("first", "time?", "its first time; null where none is known"),
            key("last", "time?", "its last time"),
            key("digest", "text", "the SHA-256 of its file, in hexadecimal digits"),
        ),
    ),
    Record(
        name="mill missing",
        keys=(_MILL, key("reason", "text", "why, in one sentence")),
    ),
    Record(name="hit of a mill", keys=(_MILL, *_keys("hit", OF_SHEETS))),
    Record(
        name="totals of mills",
        keys=(
            key("mill", "counts", "hits by mill"),
            key("loom", "counts", "hits by mill and loom"),
            key("part", "counts", "hits by part"),
            key("symptom", "counts", "hits by symptom"),
        ),
    ),
    Record(
        name="mill of repeats",
        keys=(
            _MILL,
            _AS_OF,
            key("looms", "count", "looms that are asked about"),
            key("chains", "count", "its chains"),
            key("running_h", "number", "running hours of these looms"),
            key("days", "number", "the length of the time looked at, in days"),
            key("faults", "count", "faults in that time"),
            key("repeats", "count", "of these, repeats"),
            key("faults_per_1000_h", "{rate with limits}?", "null without running hours"),
            key("repeats_per_1000_h", "{rate with limits}?", "null without running hours"),
            key("report", "{report of a mill}", "its own report but for its chains"),
        ),
    ),
    Record(
        name="rate with limits",
        keys=(key("rate", "number", "in 1000 running hours"), *_keys("limits", OF_REPEATS)),
    ),
    Record(
        name="report of a mill", keys=tuple(k for k in OF_ONE_REPORT if k.name != "chains")
    ),
    Record(name="chain of a mill", keys=(_MILL, *_keys("chain", OF_REPEATS))),
    Record(
        name="mill of lives",
        keys=(_MILL, _AS_OF, key("lives", "count", "its lives on record")),
    ),
    Record(
        name="pooled group",
        keys=(
            *_keys("audited group", OF_BOARD, "limit", "judged", "held", "no_forecast",
                   "replaced_before_judgement", "median_error_percent", "own_line_percent",
                   "ignoring_readings_percent", "reason", "by_left"),
            key("limits", "[number]", "its limits, which may differ between registers"),
            *_HELD,
            key("no_forecast", "count", "lives without a forecast"),
            key("median_error_percent", "number?", "median error of the forecasts"),
            key("ignoring_readings_percent", "number?", "the same without readings"),
            key("own_line_percent", "number?", "the same by a part's own line"),
            key("reason", "text?", "null: they could be judged"),
            key("by_left", "[{audited stretch}]", "the same by how much was left"),
            key("mills", "[{mill in a group}]", "the same in each mill"),
        ),
    ),
    Record(name="mill in a group", keys=(_MILL, *_HELD)),
    Record(name="mill of forecasts", keys=(_MILL, _AS_OF, *_HELD)),
)  # fmt: skip

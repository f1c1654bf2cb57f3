"""The keys of ``handover``, ``round``, ``check``, ``find``, ``write`` and ``tables``."""

from __future__ import annotations

from board.show.json_keys import PART, Record, key
from board.show.json_keys_board import AS_OF
from board.show.json_keys_board import RECORDS as SHARED

_NAMED = {record.name: record.keys for record in SHARED}
_LOOM = key("loom", "text", "the loom")

HANDOVER = (
    AS_OF,
    key("from_shift", "{shift}", "the shift that hands over"),
    key("to_shift", "{shift}", "the shift that takes over"),
    key("counts", "{counts}", "the counts of the board"),
    key("read", "{read}", "how much was read to make this"),
    key("isolations", "[{lock of a loom}]", "every lock on record, one record each"),
    key("may_be_isolation", "[{doubtful line}]", "refused lines that may hide an isolation"),
    key("locks_removed_for_others", "[{lock removed of a loom}]", "locks others took off"),
    key("conflicts", "[{conflict}]", "looms written as running under a lock"),
    key("down", "[{stopped loom}]", "looms that stand for maintenance"),
    key("waiting", "[{stopped loom}]", "looms that wait for something else"),
    key("laid_up", "[{stopped loom}]", "looms out of use"),
    key(
        "running_with_faults",
        "[{stopped loom}]",
        "looms with an open fault that run, or whose motion is unknown",
    ),
    key("worn", "[{wear of a loom}]", "readings past or at their limit, the farthest gone first"),
    key(
        "passing_limit",
        "[{wear of a loom}]",
        "those expected to pass it in the coming shift, the surest first",
    ),
    key("near_limit", "[{wear of a loom}]", "the others near their limit, the farthest gone first"),
    key("half_done", "[{proof missing of a loom}]", "jobs with a proof missing"),
    key("actions", "[{pressing action}]", "open actions, overdue ones first"),
    key("changed_since", "time", "since when changes are listed"),
    key("changed", "[{change}]", "what changed since then, the newest first"),
    key("notes", "[{note}]", "notes written since then, the oldest first"),
    key(
        "not_understood",
        "[{complaint}]",
        "complaints about lines since then but those of may_be_isolation",
    ),
    key("older_not_understood", "count", "refused lines older than that"),
    key("unfinished", "[{line}]", "last lines without their end, not counted yet"),
    key("not_read", "[text]", "files that were passed over, a sentence each"),
    key("questions", "[{question}]", "what the incoming lead has to ask"),
    key("handover", "[{handover of the sheet}]", "what the log says of handing over"),
)

ROUND = (
    AS_OF,
    key("shift", "text", "the shift of the round"),
    key("day", "date", "the day that it belongs to"),
    key("starts", "time", "when it starts"),
    key("ends", "time", "when it ends"),
    key("until", "time", "until when chances are reckoned: the end of the shift after it"),
    key("lines", "[{to measure}]", "what to measure, in walking order"),
    key("left_off", "[{to measure}]", "what found no room, the most urgent first"),
    key("also_due", "[{due action}]", "actions that are due, or may fall due, in the shift"),
    key("past_limit", "[{part past its limit}]", "parts known to be past their limit"),
    key("laid_up", "[text]", "looms that are laid up and left out"),
    key("never_told", "[{never told}]", "parts that no entry has ever told of"),
    key("may_be_isolation", "[{doubtful line}]", "refused lines that may hide an isolation"),
)

CHECK = (
    key("files", "count", "files read"),
    key("lines", "count", "lines in them"),
    key("entries", "count", "entries that were understood"),
    key("partly_refused", "count", "of these, entries of which something or all was refused"),
    key("complaints", "[{complaint}]", "every complaint, in the order of files and lines"),
    key("not_read", "[text]", "files that were passed over, a sentence each"),
)

FIND = (
    key("hits", "[{hit}]", "what was found, in the order of time"),
    key("total", "count", "how much was found, before --most"),
    key("totals", "{totals}", "how the hits are spread; a hit counts for each that it names"),
    key("near", "words", "for words found nowhere, near ones of the record"),
)

WRITE = (
    key("written", "truth", "whether the line stands in the log now"),
    key("reason", "text?", "why not, else null"),
    key("path", "text?", "the file it stands in, or would; null while nobody is named"),
    key("line", "count?", "its line there; null if it was not written"),
    key("text", "text", "the line as written, with its time and number"),
    key("understood", "[text]", "what it was understood to say and do"),
    key("doubts", "[text]", "what speaks against it without refusing it"),
    key("cautions", "[text]", "what to look out for"),
    key("complaints", "[{complaint}]", "complaints about it, and about other lines because of it"),
)

WRITE_PIPED = (key("entries", "[{entry written}]", "one record for each line of the pipe"),)

TABLES = (
    key("folder", "text", "the folder they were written to"),
    key("rows", "counts", "the rows of each table, by its name"),
)

_FOUND = (
    key("path", "text", "the file, within the log folder"),
    key("line", "count", "the line in it, from 1"),
    key("when", "time?", "the entry's time; null where it was not understood"),
    key("loom", "text?", "the loom or other place; null where it was not understood"),
    key("by", "text?", "who wrote it"),
    key("text", "text", "the line as written"),
    key("kinds", "[text]", "the kinds of its clauses"),
    key("struck", "truth", "whether a later line struck it"),
    key(
        "standing",
        "text",
        "counts, struck, not understood, refused in part, still being written or later than now",
    ),
    key("shift", "text?", "day and name of the shift it is filed under"),
    key("reason", "text", "why it has no time", when="`when` is null"),
    key(
        "written",
        "time?",
        "the time that the line begins with all the same; null where it tells none",
        when="`when` is null",
    ),
)

RECORDS = (
    Record(
        name="doubtful line",
        keys=(
            key("path", "text", "the file, within the log folder"),
            key("line", "count", "the line in it, from 1"),
            key("text", "text", "the line as written; of one too long to be read, parts of it"),
            key("when", "time?", "about when: its own time, else the start of its shift"),
            key("still_to_come", "truth", "whether that is a time that is to come"),
            key("day", "date?", "the day of the heading that it stands under"),
            key("shift", "text?", "the shift of that heading"),
            key("by", "text?", "who wrote it: who stands at its end, else in the heading"),
            key("gone_since", "time?", "since when a lock is missed whose line is in no log now"),
            key(
                "looms",
                "[text]",
                "the looms named at its head and behind a word of isolation, none if none is known",
            ),
        ),
    ),
    Record(
        name="shift",
        keys=(
            key("name", "text", "its name"),
            key("day", "date", "the day that it began on"),
        ),
    ),
    Record(
        name="lock of a loom",
        keys=(
            _LOOM,
            *_NAMED["lock"],
            key("conflict", "truth", "whether the loom is written as running"),
        ),
    ),
    Record(name="lock removed of a loom", keys=(_LOOM, *_NAMED["lock removed"])),
    Record(
        name="conflict",
        keys=(
            _LOOM,
            key("since", "time", "when running was written"),
            key("by", "text?", "by whom"),
            key("locks", "[text]", "whose locks are on record"),
        ),
    ),
    Record(
        name="stopped loom",
        keys=(
            _LOOM,
            key("motion", "text", "RUNNING, STOPPED or UNKNOWN"),
            key("since", "time?", "since when"),
            key("stopped_for", "text?", "the reason written with the stop"),
            key("by", "text?", "who wrote it"),
            key("isolation", "text", "ISOLATED, CONFLICT or none recorded"),
            key("faults", "[{fault}]", "faults that are open"),
        ),
    ),
    Record(name="proof missing of a loom", keys=(_LOOM, *_NAMED["proof missing"])),
    Record(
        name="pressing action",
        keys=(
            *_NAMED["action"],
            key("pressing", "text", "how it stands to the coming shift"),
        ),
    ),
    Record(
        name="note",
        keys=(
            key("when", "time", "when it was written"),
            key("place", "text", "what it is about"),
            key("text", "text", "the note"),
            key("by", "text?", "who wrote it"),
        ),
    ),
    Record(
        name="complaint",
        keys=(
            key("path", "text", "the file; - for an entry that is in none yet"),
            key("line", "count", "the line in it, from 1"),
            key("column", "count", "the first character it is about, from 1"),
            key("end_column", "count", "the one behind the last"),
            key("code", "text", "its code, as `grammar/LANGUAGE.md` lists them"),
            key("severity", "text", "refused, or flagged where the line counts"),
            key("message", "text", "what is wrong"),
            key("help", "text", "what to do; empty where there is nothing to advise"),
            key("text", "text", "the line as written"),
        ),
    ),
    Record(
        name="question",
        keys=(
            key("about", "text", "what it is about"),
            key("words", "text", "the question in words"),
            key("looms", "[{asked loom}]", "the looms it is about"),
            key("what", "text", "the shed or section of a handover, or the text of a line"),
            key("by", "text?", "who is asked, or whose it is"),
            key("to", "text?", "to whom it was handed over"),
            key("taken_by", "text?", "who took it over instead"),
            key("when", "time?", "the time it is about"),
            key("message", "text", "what is told of a line"),
            key("path", "text?", "the file of that line"),
            key("line", "count?", "the line in it"),
        ),
    ),
    Record(
        name="asked loom",
        keys=(_LOOM, key("detail", "text", "more of it, such as how long")),
    ),
    Record(
        name="handover of the sheet",
        keys=(
            *_NAMED["handover said"],
            key("of_this_change", "truth", "whether it belongs to this change of shift"),
        ),
    ),
    Record(
        name="to measure",
        keys=(
            key("section", "text", "the section"),
            _LOOM,
            *PART,
            key("quantity", "text", "what to measure"),
            key("unit", "text", "its unit"),
            key("why", "text", "why it is on the round"),
            key("last", "number?", "the last reading; null if never measured since it was fitted"),
            key("bound", "text?", "exact; at least or at most where a gauge gave it"),
            key("read_at", "time?", "when it was read"),
            key("stands", "number?", "the reading that a gauge left standing since; else null"),
            key("stands_bound", "text?", "exact, at least or at most, of that; else null"),
            key("since", "time?", "since when the interval of checks runs"),
            key("check_every", "text?", "the interval that the register asks for"),
            key("overdue_by", "number?", "in the interval's unit; below 0 not overdue yet"),
            key("overdue_reason", "text?", "why that is not known, else null"),
            key("limit_low", "number?", "its lower limit, if it has one"),
            key("limit_high", "number?", "its upper limit, if it has one"),
            key("p", "share?", "the chance that it passes its limit before `until`"),
            key("p_reason", "text?", "why that is not known, else null"),
            key("isolated", "truth", "whether a lock is on record on the loom"),
            key("locks_by", "[text]", "whose"),
            key("caution", "text?", "the register's caution for this part"),
        ),
    ),
    Record(
        name="due action",
        keys=(
            key("place", "text", "the loom, range, section or shed"),
            key("number", "count?", "its number, if it has one"),
            key("text", "text", "what is to be done"),
            key("by", "text?", "who opened it"),
            key("for", "text?", "whom it is for"),
            key("opened", "time", "when it was opened"),
            key("due", "text", "when it is due, in words"),
            key("pressing", "text", "how it stands to the coming shift"),
            key("isolated", "truth", "whether a lock is on record on its loom"),
        ),
    ),
    Record(
        name="part past its limit",
        keys=(_LOOM, *PART, key("quantity", "text", "what is past its limit")),
    ),
    Record(
        name="never told",
        keys=(
            key("part", "text", "the part"),
            key("side", "text?", "its side; null: the part has none"),
            key("looms", "[text]", "the looms on which no entry has told of it"),
        ),
    ),
    Record(
        name="hit",
        keys=(
            *_FOUND,
            key("before", "[{found line}]", "lines before it", when="lines around are asked for"),
            key("after", "[{found line}]", "lines after it", when="lines around are asked for"),
        ),
    ),
    Record(name="found line", keys=_FOUND),
    Record(
        name="totals",
        keys=(
            key("loom", "counts", "hits by loom"),
            key("part", "counts", "hits by part"),
            key("symptom", "counts", "hits by symptom"),
        ),
    ),
    Record(name="entry written", keys=WRITE),
)

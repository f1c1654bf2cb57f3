"""The keys of ``board``, ``loom`` and ``wear``, and of what other documents share with them."""

from __future__ import annotations

from board.show.json_keys import PART, Record, key
from board.show.json_keys_wear import WEAR_RECORDS

AS_OF = key("as_of", "time", "the moment that the record is looked at")

_LOOM = (
    key("loom", "text", "the loom, by the register's name"),
    key("section", "text", "the section it stands in"),
    key("motion", "text", "RUNNING, STOPPED or UNKNOWN"),
    key("motion_since", "time?", "since when; null while the motion is unknown"),
    key("motion_reason", "text?", "why the motion is unknown, else null"),
    key("stopped_for", "text?", "the reason written with the stop, else null"),
    key("isolation", "{isolation}", "the locks on record"),
    key("faults", "[{fault}]", "faults that are open"),
    key("actions", "[{action}]", "actions that are open on this loom"),
    key("proofs_missing", "[{proof missing}]", "proofs asked for after a job and not on record"),
    key("wear", "[{wear}]", "the last reading of every measured part in service"),
    key("style", "text?", "the style woven now; null if none is on record"),
    key("last_entry", "time?", "the last entry about this loom; null if there is none"),
    key("silent_shifts", "count?", "whole worked shifts since then; null without any entry"),
    key("silent_reason", "text?", "why that is null, else null"),
)

BOARD = (
    AS_OF,
    key("shift", "text?", "the shift that is on now; null in closed hours"),
    key("shift_reason", "text?", "why there is none, else null"),
    key("counts", "{counts}", "how many looms and parts are in each state"),
    key("read", "{read}", "how much was read to make this"),
    key("section", "text?", "the section asked for; null for the whole shed"),
    key("looms", "[{loom}]", "every loom asked for, in walking order"),
    key("isolated_elsewhere", "[{isolated elsewhere}]", "isolated looms of the other sections"),
    key("shed", "{shed}", "what belongs to no single loom"),
    key("handovers", "[{handover said}]", "the latest handover of the shed and of each section"),
    key(
        "changed_after_handover",
        "[{sealed otherwise}]",
        "takings-over of the last 14 days whose lines are no longer those that were sealed",
    ),
    key("changed_since", "time", "since when changes are listed"),
    key("changed", "[{change}]", "what changed since then, the newest first"),
    key("may_be_isolation", "[{doubtful line}]", "refused lines that may hide an isolation"),
    key("unfinished", "[{line}]", "last lines without their end, not counted yet"),
    key("not_understood", "count", "lines that were refused"),
    key("current", "truth", "whether this is what the files hold now"),
)

LOOM = (
    AS_OF,
    *_LOOM,
    key("series", "[{series}]", "the readings behind each record of wear, in the same order"),
)

WEAR = (
    AS_OF,
    key("wear", "[{wear of a loom}]", "every measured part asked for, the most urgent first"),
)

AUDIT = (
    AS_OF,
    key("level", "share", "how often the bands were to hold the truth"),
    key("groups", "[{audited group}]", "one record a part, side and quantity"),
    key("held", "count", "bands that held, of all groups"),
    key("judged", "count", "lives that came to their limit, so that a band could be judged"),
    key("replaced_before_judgement", "count", "lives that ended before their limit"),
)

RECORDS = (
    Record(
        name="counts",
        keys=(
            key("isolated", "count", "looms with a lock on record, those in conflict included"),
            key("conflict", "count", "looms written as running under a lock"),
            key("stopped", "count", "looms that stand"),
            key("running", "count", "looms that run"),
            key("unknown", "count", "looms whose motion is unknown"),
            key("past_limit", "count", "readings past their limit, by value or by gauge"),
            key("at_limit", "count", "readings at their limit, within what the tool can tell"),
            key("silent", "count", "looms without any entry, or without one for 3 worked shifts"),
            key("proofs_missing", "count", "proofs that are missing"),
            key("actions", "count", "actions that are open"),
            key("not_understood", "count", "lines that were refused"),
        ),
    ),
    Record(
        name="read",
        keys=(
            key("files", "count", "log files"),
            key("lines", "count", "lines in them"),
            key("entries", "count", "entries that were understood"),
            key("refused", "count", "lines that were not"),
            key("flagged", "count", "lines that count and are doubtful"),
            key("not_read", "[text]", "files that were passed over, a sentence each"),
        ),
    ),
    Record(name="loom", keys=_LOOM),
    Record(
        name="isolation",
        keys=(
            key("state", "text", "ISOLATED, CONFLICT or none recorded"),
            key("conflict_since", "time?", "since when running and a lock contradict each other"),
            key("locks", "[{lock}]", "the locks on record, one a person"),
            key(
                "removed_for_others",
                "[{lock removed}]",
                "locks taken off by somebody else: the last, and those of the 400 days before it",
            ),
            key("none_is_no_proof", "truth", "true where none is recorded, which proves nothing"),
            key("may_be_isolated", "truth", "whether a line of may_be_isolation names the loom"),
        ),
    ),
    Record(
        name="lock",
        keys=(
            key("by", "text", "whose lock it is"),
            key("text", "text", "what was written with it, such as its number"),
            key("since", "time", "when it was put on"),
            key("seen_this_shift", "truth", "whether the lock was looked at in this shift"),
            key("still_to_come", "truth", "whether it was written for a time that is to come"),
            key("seen_by", "text?", "who looked at it last"),
            key("seen", "time?", "when that was"),
        ),
    ),
    Record(
        name="lock removed",
        keys=(
            key("by", "text", "who took it off"),
            key("owner", "text", "whose lock it was"),
            key("when", "time", "when"),
        ),
    ),
    Record(
        name="fault",
        keys=(
            key("since", "time", "when it was written"),
            key("text", "text", "its words as written"),
            key("side", "text?", "the side found in them, else null"),
            key("part", "text?", "the part found in them, else null"),
            key("symptom", "text", "the register's symptom, else the text less side and part"),
            key("by", "text?", "who wrote it"),
        ),
    ),
    Record(
        name="action",
        keys=(
            key("number", "count?", "its number in the shed, if it has one"),
            key("place", "text", "the loom, range, section or shed that it is about"),
            key("text", "text", "what is to be done"),
            key(
                "due", "text?", "a time where it is due at one, else the words; null if open-ended"
            ),
            key("due_written", "text?", "when it is due, as written"),
            key("overdue", "truth?", "whether it is overdue"),
            key("overdue_reason", "text?", "why that cannot be told, else null"),
            key("opened", "time", "when it was opened"),
            key("opened_by", "text?", "who opened it"),
            key("for", "text?", "whom it is for, if it says so"),
            key("age_shifts", "count", "shifts that began since it was opened"),
        ),
    ),
    Record(
        name="proof missing",
        keys=(
            key("part", "text?", "the part of the job"),
            key("side", "text?", "its side"),
            key("number", "count?", "its number"),
            key("what", "text", "the proof that is asked for"),
            key("since", "time", "when the job was done"),
            key("by", "text?", "who did it"),
            key("failed", "truth", "whether it is on record and failed"),
            key("why", "text?", "what is wrong with the one on record, else null"),
        ),
    ),
    *WEAR_RECORDS,
    Record(
        name="isolated elsewhere",
        keys=(
            key("loom", "text", "the loom"),
            key("isolation", "{isolation}", "the locks on record"),
        ),
    ),
    Record(
        name="shed",
        keys=(key("actions", "[{action}]", "open actions of the shed, a section or a range"),),
    ),
    Record(
        name="handover said",
        keys=(
            key("what", "text", "shed, or the section handed over"),
            key("by", "text?", "who handed over"),
            key("to", "text?", "to whom"),
            key("said", "time?", "when that was written"),
            key("taken", "time?", "when it was taken over"),
            key("taken_by", "text?", "by whom"),
        ),
    ),
    Record(
        name="change",
        keys=(
            key("when", "time", "when it happened"),
            key("loom", "text?", "the loom or other place"),
            key("what", "text", "what kind of change it is"),
            key("text", "text", "the change in words"),
            key("by", "text?", "who wrote it"),
        ),
    ),
    Record(
        name="line",
        keys=(
            key("path", "text", "the file, within the log folder"),
            key("line", "count", "the line in it, from 1"),
            key("text", "text", "the line as written"),
        ),
    ),
    Record(
        name="sealed otherwise",
        keys=(
            key("path", "text", "the file of the taking over, within the log folder"),
            key("line", "count", "the line in it, from 1"),
            key("text", "text", "the line as written"),
            key("message", "text", "which shift changed, and how many lines it has now"),
            key("help", "text", "whom to ask, and which lines went and came where that is known"),
        ),
    ),
    Record(
        name="series",
        keys=(
            *PART,
            key("quantity", "text", "what was measured"),
            key("unit", "text", "the unit of its values"),
            key("hours_since", "text", "what hour 0 is: fitted or first reading", when="points"),
            key("now_h", "number", "running hours from there until now", when="points"),
            key("uncertainty", "number?", "the tool's expanded uncertainty, k = 2", when="points"),
            key("points", "[{point}]?", "the readings; null with a reason"),
            key("marks", "[{mark}]", "what was done to the part", when="points"),
            key("reason", "text", "why there are no points", when="no points"),
        ),
    ),
    Record(
        name="point",
        keys=(
            key("use_h", "number", "running hours since hour 0"),
            key("value", "number", "the reading"),
            key("bound", "text", "exact; at least or at most where a gauge gave it"),
            key(
                "level",
                "count",
                "adjustments and repairs since it was fitted; readings compare within a level",
            ),
            key("read_at", "time", "when it was read"),
        ),
    ),
    Record(
        name="mark",
        keys=(
            key("use_h", "number", "running hours since hour 0"),
            key("what", "text", "replaced, adjusted or repaired, or moved here"),
        ),
    ),
    Record(
        name="audited group",
        keys=(
            key("part", "text", "the part"),
            key("side", "text?", "its side"),
            key("quantity", "text", "what is measured"),
            key("limit", "number", "its limit, in the register's unit"),
            key("lives", "count", "past lives on record"),
            key("judged", "count?", "bands that could be judged; null with a reason"),
            key("held", "count", "bands that held", when="judged"),
            key("replaced_before_judgement", "count", "lives that ended early", when="judged"),
            key("no_forecast", "count", "lives without a forecast", when="judged"),
            key("median_error_percent", "number?", "median error of the forecasts", when="judged"),
            key("ignoring_readings_percent", "number?", "the same without readings", when="judged"),
            key("own_line_percent", "number?", "the same by a part's own line", when="judged"),
            key("reason", "text?", "why none could be judged, else null"),
            key("by_left", "[{audited stretch}]", "the same by how much was left", when="judged"),
        ),
    ),
    Record(
        name="audited stretch",
        keys=(
            key("left", "text", "how much was left, in running hours"),
            key("judged", "count", "bands judged"),
            key("held", "count", "bands that held"),
        ),
    ),
)

"""The keys of ``lives``, ``spares`` and ``figures``."""

from __future__ import annotations

from board.show.json_keys import Key, Record, key
from board.show.json_keys_board import AS_OF

_LEVEL = key("level", "share", "how often limits are to hold the truth")

LIVES = (
    AS_OF,
    key("unit", "text", "the unit of every age: h (running hours) or picks"),
    _LEVEL,
    key("lives", "[{lives}]", "one record a part"),
    key("comparisons", "[{comparison}]", "one record a part and --by"),
)

SPARES = (
    AS_OF,
    key("spares", "[{spare part}]", "one record a part with a stock in the register"),
    key("no_stock_given", "[text]", "parts without one"),
)

FIGURES = (
    AS_OF,
    key("from", "time", "from when it is counted"),
    key("to", "time", "to when"),
    _LEVEL,
    key("figures", "[{figure}]", "the figures, one record each"),
    key("lines", "{lines counted}", "how much of the record it rests on"),
)


def _limits(name: str, of: str) -> tuple[Key, ...]:
    return (
        key(name, "number", of),
        key(f"{name}_low", "number?", "its lower limit; null where not set"),
        key(f"{name}_high", "number?", "its upper limit; null where not set"),
    )


RECORDS = (
    Record(
        name="lives",
        keys=(
            key("part", "text", "the part"),
            key("group", "text?", "the group; null but in comparisons"),
            key("unit", "text", "the unit of its ages"),
            key("on_record", "count", "lives on record"),
            key("used", "count", "of these, used here"),
            key("failed", "count", "that ended by failing"),
            key("undecided", "count", "that ended, whether by failing is not told"),
            key("taken_out", "count", "that were taken out for another reason"),
            key("in_service", "count", "that are still in service"),
            key("before_the_log", "count", "left out: begun before the log"),
            key("age_unknown", "count", "left out: their age is not known"),
            key("endings", "[{ending}]", "how they ended, and why so"),
            key("ways", "[{way}]", "once for each way to take the undecided"),
        ),
    ),
    Record(
        name="ending",
        keys=(
            key("verdict", "text", "failed, undecided or unfinished"),
            key("why", "text", "why it is taken so"),
            key("count", "count", "lives"),
        ),
    ),
    Record(
        name="way",
        keys=(
            key("undecided_as", "text", "failures or unfinished"),
            key("failures", "count", "failures, taken so"),
            key("median", "{median life}?", "the age that half of them reach"),
            key("median_reason", "text?", "why there is none, else null"),
            key("weibull", "{weibull}?", "the Weibull law that fits them best"),
            key("weibull_reason", "text?", "why there is none, else null"),
            key("curve", "[{survival step}]?", "the survival curve, step by step"),
            key("curve_reason", "text?", "why there is none, else null"),
        ),
    ),
    Record(
        name="median life",
        keys=(
            key("age", "number", "the median"),
            key("low", "number", "its lower limit"),
            key("high", "number?", "its upper limit; null where not set"),
        ),
    ),
    Record(
        name="weibull",
        keys=(
            *_limits("shape", "above 1: the older, the likelier to fail"),
            *_limits("scale", "the age that 36.8 % reach"),
            *_limits("b10", "the age by which 10 % have failed"),
        ),
    ),
    Record(
        name="survival step",
        keys=(
            key("age", "number", "the age"),
            key("at_risk", "count", "lives that reached it"),
            key("failures", "count", "of these, failed at it"),
            key("surviving", "share", "the share that lives longer"),
            key("low", "share", "its lower limit"),
            key("high", "share", "its upper limit"),
        ),
    ),
    Record(
        name="comparison",
        keys=(
            key("part", "text", "the part"),
            key("by", "text", "side, batch or style"),
            key("unnamed", "count", "lives of which the group is not known"),
            key("groups", "[{lives}]", "one record a group"),
            key("tests", "[{test}]", "once for each way to take the undecided"),
            key("stands_out", "[{group that stands out}]", "groups that clearly differ"),
        ),
    ),
    Record(
        name="test",
        keys=(
            key("undecided_as", "text", "failures or unfinished"),
            key("chi_square", "number?", "the log-rank statistic"),
            key("degrees", "count?", "its degrees of freedom"),
            key("p", "share?", "the chance of such a difference by chance alone"),
            key("p_holm", "share?", "the same, adjusted for all that were tested"),
            key("expected", "numbers?", "failures by group, if all lived alike"),
            key("reason", "text?", "why there is no test, else null"),
        ),
    ),
    Record(
        name="group that stands out",
        keys=(
            key("group", "text", "the group"),
            key("fails", "text", "sooner or later than the others"),
            key("p_holm", "share", "the larger of both ways"),
            key("medians", "[number]", "its median life, one a way; empty where not known yet"),
            key("medians_of_others", "[number]", "that of the others"),
            key("failures", "[count]", "its failures, one a way"),
            key("expected", "[number]", "failures if all lived alike, one a way"),
        ),
    ),
    Record(
        name="spare part",
        keys=(
            key("part", "text", "the part"),
            key("stock", "count", "the stock that the register gives"),
            key("lead_time_days", "number", "days from an order to its delivery"),
            key("horizon_days", "number", "days that are looked ahead"),
            _LEVEL,
            key("risk", "share", "the risk of running out that is let pass"),
            key("in_service", "{in service}", "parts in service, by how they are reckoned"),
            key("replaced", "count", "replacements on record"),
            key("replaced_of_known_age", "count", "of these, of known age"),
            key("use_h", "number", "running hours they were replaced in"),
            key("adjusted", "count", "adjustments on record"),
            key("basis", "text", "what the demand rests on, in words"),
            key("order_at_least", "count?", "what the stock is short of; null if not known"),
            key("over_lead", "{demand}", "until a delivery ordered today comes"),
            key("over_horizon", "{demand}", "over the horizon"),
            key("order", "{order}", "when to order"),
        ),
    ),
    Record(
        name="in service",
        keys=(
            key("by_forecast", "count", "by their wear forecast"),
            key("by_age", "count", "by their age"),
            key("at_least", "count", "of these, older than the log tells"),
            key("left_out", "count", "left out, since their use is not known"),
            key("emptied", "count", "empty places, whose part was moved to another loom"),
            key("not_told", "count", "places that no entry told of"),
        ),
    ),
    Record(
        name="demand",
        keys=(
            key("days", "number", "days that are looked ahead"),
            key("mean", "number?", "parts wanted on average; null with a reason"),
            key("low", "count?", "the lower end of their range"),
            key("high", "count?", "its upper end"),
            key("runs_out", "share?", "the chance that the stock runs out"),
            key("stock_for_95", "count?", "the stock that suffices with 95 %"),
            key("more_for_95", "count?", "what is missing to it"),
            key("reason", "text?", "why it is not known, else null"),
        ),
    ),
    Record(
        name="order",
        keys=(
            key("due", "truth?", "whether an order is due now; null if not known"),
            key("by", "time?", "when it is due"),
            key("reason", "text?", "why there is no such time, else null"),
        ),
    ),
    Record(
        name="figure",
        keys=(
            key(
                "figure",
                "text",
                "availability, restoration_median, restoration_mean, pairs_complete,"
                " between_failures, repeat_ratio, checks_in_time, actions_open, action_age or"
                " days_to_done",
            ),
            key("of", "text", "shed, or a section"),
            key("value", "number?", "the figure, in `unit`; null with a reason"),
            key("unit", "text", "its unit"),
            key("low", "number?", "its lower limit; null where not set"),
            key("high", "number?", "its upper limit; null where not set"),
            key("reason", "text?", "why the value or its limits are null, else null"),
            key("counts", "{counts of a figure}", "what it rests on"),
        ),
    ),
    Record(
        name="counts of a figure",
        keys=tuple(
            key(name, kind, told, when=when)
            for when, counts in (
                (
                    "availability",
                    (
                        ("looms", "count", "looms"),
                        (
                            "not_told_h",
                            "number",
                            "shift hours laid up, or of which no motion is told",
                        ),
                    ),
                ),
                (
                    "availability is known",
                    (
                        ("down_h", "number", "hours stopped for maintenance"),
                        ("required_h", "number", "hours required"),
                    ),
                ),
                (
                    "availability is known, restoration_ and pairs_complete",
                    (("stops", "count", "stops for maintenance"),),
                ),
                ("availability is known", (("still_open", "count", "of these, not over yet"),)),
                (
                    "restoration_ and pairs_complete",
                    (("completed", "count", "of these, with their end on record"),),
                ),
                (
                    "between_failures",
                    (
                        ("stops_for_a_fault", "count", "stops for a fault"),
                        ("running_h", "number", "running hours"),
                        ("looms_of_unknown_use", "count", "looms whose use is not known"),
                    ),
                ),
                (
                    "repeat_ratio",
                    (
                        ("chains", "count", "chains of repeats"),
                        ("window", "text", "how soon it is a repeat"),
                    ),
                ),
                (
                    "repeat_ratio is known",
                    (
                        ("repeats", "count", "faults that are repeats"),
                        ("faults", "count", "all faults"),
                    ),
                ),
                (
                    "checks_in_time",
                    (
                        ("due", "count", "checks that fell due"),
                        ("in_time", "count", "done in time, in the second half of the interval"),
                        ("late", "count", "done late"),
                        (
                            "little_late",
                            "count",
                            "of these, by no more than a tenth of the interval",
                        ),
                        ("not_done", "count", "not done"),
                        ("unknown", "count", "not to be told"),
                    ),
                ),
                (
                    "actions_open, action_age and days_to_done",
                    (
                        ("open", "count", "actions open"),
                        ("overdue", "count", "of these, overdue"),
                        ("due_by_unknown_use", "count", "due by a use that is not known"),
                        ("oldest_shifts", "count?", "the oldest, in worked shifts"),
                        ("done", "count", "actions done in the time"),
                        ("dropped", "count", "actions dropped in it"),
                    ),
                ),
            )
            for name, kind, told in counts
        ),
    ),
    Record(
        name="lines counted",
        keys=(
            key("entries", "count", "entries that were understood"),
            key("not_understood", "count", "lines that were not"),
            key("of_no_shift", "count", "of these, known of no shift"),
            key(
                "partly_refused", "count", "of those not understood, entries partly or all refused"
            ),
        ),
    ),
)

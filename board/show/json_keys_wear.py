"""The keys of a measured part in service, of its forecast and of gauge verdicts."""

from __future__ import annotations

from board.show.json_keys import PART, Record, key

WEAR = (
    *PART,
    key("quantity", "text", "what was measured, by the register's name"),
    key("value", "number", "the reading that stands, in `unit`"),
    key("bound", "text", "exact; at least or at most where a gauge gave it"),
    key("unit", "text", "the unit of value, uncertainty, limit and margin"),
    key("uncertainty", "number?", "the tool's expanded uncertainty, k = 2"),
    key("read_at", "time", "when it was read"),
    key("verdicts_since", "[{verdict}]", "gauge verdicts since, which leave it standing"),
    key("uncertainty_reason", "text?", "why there is no uncertainty, else null"),
    key("old", "truth?", "whether its next check is overdue"),
    key("old_reason", "text?", "why that cannot be told, else null"),
    key("limit", "number?", "the limit that it nears; of a band the end forecast, else the next"),
    key("limit_reason", "text?", "why there is no limit, else null"),
    key("margin", "number?", "from the reading to the limit: above 0 inside, below 0 beyond"),
    key("margin_reason", "text?", "why there is no margin, else null"),
    key(
        "word",
        "text",
        "PAST LIMIT, AT LIMIT, near limit, within limit, gauge past, gauge within, gauge says"
        " neither or no limit given",
    ),
    key("p_conforms", "share?", "the chance that the true value lies inside its limits"),
    key("decision", "text?", "what the register's guard band decides of the reading"),
    key("p_reason", "text?", "why there is no such chance, else null"),
    key("forecast", "{forecast}?", "how long until the limit; null with `no_forecast`"),
    key("no_forecast", "text?", "why there is no forecast, else null"),
)

_FORECAST = (
    key("limit", "number", "the limit that it is of; of a band the end that readings go to"),
    key("remaining_h", "{band}", "use left until the limit, in running hours"),
    key("shifts", "{band}?", "the same in shifts, at the loom's recent use"),
    key("shifts_reason", "text?", "why shifts is null, else null"),
    key("picks", "{band}?", "the same in picks, at its present speed"),
    key("picks_reason", "text?", "why picks is null, else null"),
    key("level", "share", "how often the bands are to hold the truth"),
    key("p_before_shift_end", "share?", "the chance that the limit passes before this shift ends"),
    key("p_before_shift_end_reason", "text?", "why that is null, else null"),
    key("p_before_check", "share?", "the chance that it passes before the next check is due"),
    key("p_before_check_reason", "text?", "why that is null, else null"),
    key("basis", "text", "how the forecast was made, in words"),
    key("readings", "count", "readings of this part that it rests on"),
    key("past_lives", "count", "past lives of such parts that it learned from"),
)

WEAR_RECORDS = (
    Record(name="wear", keys=WEAR),
    Record(
        name="verdict",
        keys=(
            key("value", "number", "the gauge, in the unit of the reading"),
            key("bound", "text", "at least or at most"),
            key("read_at", "time", "when it was tried"),
        ),
    ),
    Record(name="wear of a loom", keys=(key("loom", "text", "the loom"), *WEAR)),
    Record(name="forecast", keys=_FORECAST),
    Record(
        name="band",
        keys=(
            key("median", "number", "as likely less as more"),
            key("low", "number", "its lower end"),
            key("high", "number?", "its upper end"),
            key("high_reason", "text?", "why there is no upper end, else null"),
        ),
    ),
)

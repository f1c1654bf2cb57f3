"""The keys of ``repeats``."""

from __future__ import annotations

from board.show.json_keys import Record, key

REPEATS = (
    key("window", "{window}", "how soon a fault counts as a repeat"),
    key("from", "time", "from when faults are counted"),
    key("to", "time", "to when"),
    key("part", "text?", "the part asked for; null for all"),
    key("loom", "text?", "the loom asked for; null for all"),
    key("faults", "count", "faults in that time"),
    key("running_h", "number", "running hours of the looms in that time"),
    key("chains", "[{chain}]", "faults that came again, one record a chain"),
    key("moved", "[{moved part}]", "parts that went to another loom, and where faults came then"),
    key("rates", "[{rate}]", "how often each symptom comes"),
    key("trend", "[{trend}]", "whether faults come faster or slower than before"),
    key("trend_reason", "text?", "why there is no trend, else null"),
    key("trend_caution", "text?", "what may mislead in a young record, else null"),
    key("mean_cumulative", "[{cumulative step}]?", "faults a loom has had on average, by age"),
    key("mean_cumulative_reason", "text?", "why there is no such curve, else null"),
    key("above", "{looms above}", "looms with more faults than the rest of the fleet explains"),
    key("symptoms", "[{grouped text}]", "which texts were taken for which symptom"),
)

_BETWEEN = (
    key("hours", "number?", "running hours; null where use is not known"),
    key("days", "number?", "days by the calendar; null where it is the last of its chain"),
    key("cleared", "text?", "what was written when it was cleared"),
    key("jobs", "[{job}]", "jobs done meanwhile on the part"),
    key("measured", "[{measured}]", "readings taken meanwhile"),
    key("not_measured", "[text]", "quantities of the part that were not measured"),
)
_TEST = (
    key("p", "share", "the chance of so much by chance alone"),
    key("p_holm", "share", "the same, adjusted for all that were tested"),
)

RECORDS = (
    Record(
        name="window",
        keys=(
            key("hours", "number?", "running hours; null where only days count"),
            key("days", "number?", "days; null where only hours count"),
            key("rule", "text", "the rule in words"),
        ),
    ),
    Record(
        name="chain",
        keys=(
            key("loom", "text", "the loom"),
            key("part", "text?", "the part, if the texts name one"),
            key("side", "text?", "its side, if they name one"),
            key("symptom", "text", "the symptom"),
            key("times", "[{time of a fault}]", "each time it came"),
            key("between", "[{between}]", "what lies between them, one less than `times`"),
            key("since", "{between}", "what has been since the last"),
            key("open", "truth", "whether the last is still open"),
            key("again_with_new_part", "truth", "whether it came again with a new part"),
            key(
                "not_measured_beside",
                "[text]",
                "quantities of other parts of that side without a reading since",
            ),
            key("moved", "[{moved part}]", "moves of the part meanwhile"),
        ),
    ),
    Record(
        name="time of a fault",
        keys=(
            key("when", "time", "when it was written"),
            key("text", "text", "its words"),
            key("grouped_by", "text", "how the words came to their symptom"),
            key("path", "text", "the file"),
            key("line", "count", "the line in it"),
            key("cleared", "time?", "when it was cleared"),
            key("written_again", "count", "how often it was written again while open"),
        ),
    ),
    Record(name="between", keys=_BETWEEN),
    Record(
        name="job",
        keys=(
            key("when", "time", "when it was written"),
            key("work", "text", "the verb, or moved"),
            key("text", "text", "what was written behind it"),
            key("side", "text?", "the side"),
            key("number", "count?", "the number"),
            key("from", "text?", "the loom that the part came from"),
            key("proofs", "[text]", "proofs on record"),
            key("failed", "[text]", "proofs that failed"),
            key("not_written", "[text]", "proofs asked for that are not on record"),
            key("batch", "text?", "the batch of the new part"),
            key("style", "text?", "the style that was woven"),
        ),
    ),
    Record(
        name="measured",
        keys=(
            key("quantity", "text", "what was measured"),
            key("number", "count?", "the part's number"),
            key("value", "number", "the reading, in `unit`"),
            key("written", "text", "as it was written"),
            key("unit", "text", "its unit"),
            key("bound", "text", "exact; at least or at most where a gauge gave it"),
            key("when", "time", "when"),
        ),
    ),
    Record(
        name="moved part",
        keys=(
            key("part", "text", "the part"),
            key("side", "text?", "its side"),
            key("from", "text?", "the loom it left"),
            key("to", "text", "the loom it went to"),
            key("when", "time", "when"),
            key("symptom", "text", "the symptom that is followed"),
            key("before_with_it", "{exposed}", "on the loom it left, while it was there"),
            key("since_with_it", "{exposed}", "on the loom it went to, since then"),
            key("since_without_it", "{exposed}", "on the loom it left, since then"),
            key("follows", "text", "where the fault was afterwards, in words"),
        ),
    ),
    Record(
        name="exposed",
        keys=(
            key("faults", "count", "faults of that symptom"),
            key("hours", "number?", "in so many running hours; null where not known"),
        ),
    ),
    Record(
        name="rate",
        keys=(
            key("part", "text?", "the part"),
            key("symptom", "text", "the symptom"),
            key("faults", "count", "faults"),
            key("repeats", "count", "of these, repeats"),
            key("looms", "count", "looms that had it"),
            key("running_h", "number", "running hours counted", when="the rate is known"),
            key("per_1000_h", "number?", "faults in 1000 running hours; null with a reason"),
            key("limits", "{limits}", "its limits", when="the rate is known"),
            key("reason", "text?", "why there is no rate, else null"),
        ),
    ),
    Record(
        name="limits",
        keys=(
            key("low", "number", "the lower"),
            key("high", "number", "the upper"),
            key("level", "share", "how often they are to hold the truth"),
            key("method", "text", "how they were reached"),
        ),
    ),
    Record(
        name="trend",
        keys=(
            key("of", "text", "what it is about"),
            key("faults", "count", "faults"),
            key("ended", "text", "what ended the watching", when="there is a test"),
            key("end_h", "number", "its length in running hours", when="there is a test"),
            key("laplace", "{laplace}?", "Laplace's test; null with a reason"),
            key("military", "{military}?", "the test of MIL-HDBK-189; null with a reason"),
            key("reason", "text?", "why there is no test, else null"),
        ),
    ),
    Record(
        name="laplace",
        keys=(key("u", "number", "above 0: faults come faster; below 0: slower"), *_TEST),
    ),
    Record(
        name="military",
        keys=(
            key("chi_square", "number", "the statistic"),
            key("degrees", "count", "its degrees of freedom"),
            *_TEST,
        ),
    ),
    Record(
        name="cumulative step",
        keys=(
            key("hours", "number", "running hours of a loom"),
            key("mean", "number", "faults that a loom has had by then, on average"),
            key("at_risk", "count", "looms watched that long"),
            key("limits", "{limits}?", "its limits; null where none can be given"),
        ),
    ),
    Record(
        name="looms above",
        keys=(
            key("q", "share", "the share of falsely named looms that is let pass"),
            key("looms", "[{loom above}]?", "the looms named; null with a reason"),
            key("reason", "text?", "why none could be compared, else null"),
            key("compared", "count", "looms compared", when="looms were compared"),
            key("faults", "count", "their faults", when="looms were compared"),
            key("left_out", "[text]", "looms not compared", when="looms were compared"),
            key(
                "dispersion",
                "number?",
                "scatter of the counts; 1 where looms are alike",
                when="looms were compared",
            ),
            key("power", "[{power}]", "how likely a loom that is worse would be named"),
            key("not_modelled", "text", "what it leaves out", when="looms were compared"),
        ),
    ),
    Record(
        name="loom above",
        keys=(
            key("loom", "text", "the loom"),
            key("faults", "count", "its faults"),
            key("running_h", "number", "its running hours"),
            key("expected", "number", "faults expected of it"),
            key("chance", "share", "the chance of so many on a loom like the others"),
            key("adjusted", "share", "the same, adjusted for all looms"),
        ),
    ),
    Record(
        name="power",
        keys=(
            key("factor", "number", "so many times as many faults as the others"),
            key("named", "count", "simulated fleets in which such a loom was named"),
            key("of", "count", "simulated fleets"),
        ),
    ),
    Record(
        name="grouped text",
        keys=(
            key("symptom", "text", "the symptom"),
            key("part", "text?", "the part"),
            key("text", "text", "the words"),
            key("count", "count", "how often they were written"),
            key("grouped_by", "text", "how they came to the symptom"),
            key("fits", "[text]", "symptoms between which it was not decided"),
        ),
    ),
)

"""The answer "don't know", with its reason.

Every function of the reckoning returns either a value or a `Refusal`; a missing number is never
written as None or NaN. How a refusal is worded on a screen is left to the screens.
"""

from grammar.frozen import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """A question that the record cannot answer, and why.

    `reason` is one plain sentence without a full stop, in the reader's words, with the counts
    that led to it ("2 failures on record, a fit needs 3").
    """

    reason: str

"""Groups of lives compared: do the parts of one side, batch or style live longer than the others?

Several comparisons made at once are adjusted together, so that one in ten thin differences does not
pass for a finding. The lives and their curves are in `lives`.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from board.reckon.lives import Life, columns, refuse_curve
from board.reckon.refusal import Refusal
from board.reckon.several import holm
from grammar.frozen import dataclass

REST = "the others"


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupLives:
    """One group in a comparison: failures seen, and expected if all groups lived alike."""

    name: str
    lives: int
    failures: int
    expected: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LogRank:
    """A comparison of groups of lives.

    `p_value` is that of one comparison alone and `p_adjusted` that of several made together (they
    are equal for one). The chi-square distribution is approximate: below about 5 expected
    failures in a group, `smallest_expected`, it should be called so on the screen.
    """

    groups: tuple[GroupLives, ...]
    chi_square: float
    degrees: int
    p_value: float
    p_adjusted: float

    @property
    def smallest_expected(self) -> float:
        """The fewest failures expected in any group."""
        return min(group.expected for group in self.groups)


def log_rank(groups: Mapping[str, Sequence[Life]]) -> LogRank | Refusal:
    """Whether groups of parts live alike: the log-rank test, late entry allowed.

    At each failure age the failures of a group are compared with its share of the parts at risk,
    the variance hypergeometric; chi-square with one degree less than groups at risk. Refuses for
    fewer than two groups, for fewer than three failures in all, and for ages known only between
    two readings.

    Source: Mantel 1966, Cancer Chemotherapy Reports 50:163-170; Peto and Peto 1972, JRSS A
    135:185-207 (pages from memory).
    """
    from scipy.special import gammaincc

    names = [name for name, lives in groups.items() if lives]
    if len(names) < 2:
        return Refusal(reason=f"{len(names)} groups with lives on record, a comparison needs 2")
    every = [life for name in names for life in groups[name]]
    refused = refuse_curve(every)
    if refused is not None:
        return refused
    entry, age, failed = columns(every)
    if np.count_nonzero(failed) < 3:
        return Refusal(
            reason=f"{np.count_nonzero(failed)} failures on record in all groups together, a "
            "comparison needs 3"
        )
    group = np.repeat(np.arange(len(names)), [len(groups[name]) for name in names])
    member = group == np.arange(len(names))[:, None]
    expected = np.zeros(len(names))
    variance = np.zeros((len(names), len(names)))
    for at in np.unique(age[failed]):
        risk = (member & (entry < at) & (age >= at)).sum(axis=1)
        failures = np.count_nonzero(failed & (age == at))
        total = risk.sum()
        share = risk / total
        expected += failures * share
        if total > 1:
            spread = failures * (total - failures) / (total - 1)
            variance += spread * (np.diag(share) - np.outer(share, share))
    observed = (member & failed).sum(axis=1)
    # The differences add up to 0 over the groups, hence the pseudo-inverse and its rank.
    degrees = int(np.linalg.matrix_rank(variance, hermitian=True))
    if degrees == 0:
        return Refusal(reason="no failure happened while parts of two groups were under watch")
    gap = observed - expected
    chi_square = float(gap @ np.linalg.pinv(variance, hermitian=True) @ gap)
    p_value = float(gammaincc(degrees / 2.0, chi_square / 2.0))
    return LogRank(
        groups=tuple(
            GroupLives(
                name=name,
                lives=len(groups[name]),
                failures=int(observed[index]),
                expected=float(expected[index]),
            )
            for index, name in enumerate(names)
        ),
        chi_square=chi_square,
        degrees=degrees,
        p_value=p_value,
        p_adjusted=p_value,
    )


def log_rank_each(
    factors: Mapping[str, Mapping[str, Sequence[Life]]],
) -> dict[str, LogRank | Refusal]:
    """The log-rank test of each factor (side, batch, style), adjusted together by Holm's method.

    Factors that are refused do not count towards the number of comparisons.
    """
    answers = {name: log_rank(groups) for name, groups in factors.items()}
    tested = {name: test for name, test in answers.items() if isinstance(test, LogRank)}
    adjusted = holm([test.p_value for test in tested.values()])
    for (name, test), p_adjusted in zip(tested.items(), adjusted, strict=True):
        answers[name] = replace(test, p_adjusted=p_adjusted)
    return answers


def against_the_rest(groups: Mapping[str, Sequence[Life]]) -> dict[str, LogRank | Refusal]:
    """The log-rank test of each group against all the others taken together.

    Of two groups both answers are the one test, told from either side: not a second question.
    """
    names = [name for name, lives in groups.items() if lives]
    answers: dict[str, LogRank | Refusal] = {}
    for name in names:
        rest = [life for other in names if other != name for life in groups[other]]
        answers[name] = log_rank({name: groups[name], REST: rest})
    return answers


def against_the_rest_each(
    factors: Mapping[str, Mapping[str, Sequence[Life]]],
) -> dict[str, dict[str, LogRank | Refusal]]:
    """Each group of each factor against its rest, all adjusted together by Holm's method."""
    answers = {factor: against_the_rest(groups) for factor, groups in factors.items()}
    asked: list[tuple[dict[str, LogRank | Refusal], tuple[str, ...], float]] = []
    for tests in answers.values():
        tested = [(name, t.p_value) for name, t in tests.items() if isinstance(t, LogRank)]
        if len(tests) == 2 and tested:
            asked.append((tests, tuple(name for name, _ in tested), tested[0][1]))
        else:
            asked += [(tests, (name,), p_value) for name, p_value in tested]
    for (tests, names, _), p_adjusted in zip(
        asked, holm([p_value for _, _, p_value in asked]), strict=True
    ):
        for name in names:
            test = tests[name]
            if isinstance(test, LogRank):
                tests[name] = replace(test, p_adjusted=p_adjusted)
    return answers

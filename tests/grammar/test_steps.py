"""How finely a number was written, in the unit that it is reckoned in."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from grammar.steps import step_of


@pytest.mark.parametrize(
    ("written", "unit", "value", "step"),
    [
        ("60 Hz", "Hz", 60.0, 1.0),
        ("60.0 Hz", "Hz", 60.0, 0.1),
        ("0,0101 in", "in", 0.0101, 1e-4),
        ("0.1143 mm", "in", 0.1143 / 25.4, 1e-4 / 25.4),
        ("26 um", "mm", 0.026, 1e-3),
        ("1 bar", "kPa", 100.0, 100.0),
        ("90 min", "h", 1.5, 1 / 60),
        ("0.8Nm", "N.m", 0.8, 0.1),
        ("\u22120.50 mm", "mm", -0.5, 0.01),
        # three digits behind a mark, taken as thousands where only that is plausible
        ("1,100 um", "um", 1100.0, 1.0),
        ("1,100 um", "mm", 1.1, 1e-3),
        ("1,100 um", "um", 1.1, 1e-3),
    ],
)
def test_the_step_of_the_last_digit(written: str, unit: str, value: float, step: float) -> None:
    assert step_of(written, unit, value) == pytest.approx(step, rel=1e-12)


@pytest.mark.parametrize(
    ("written", "unit"), [("", "mm"), ("2.35", "mm"), ("2.35 mm", "N"), ("2.35 mm", "")]
)
def test_what_is_no_such_amount_has_no_known_step(written: str, unit: str) -> None:
    assert step_of(written, unit, 2.35) == 0.0


@given(st.text(max_size=12), st.text(max_size=3), st.floats())
def test_any_text_has_a_step_or_none(written: str, unit: str, value: float) -> None:
    assert step_of(written, unit, value) >= 0.0

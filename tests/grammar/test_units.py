"""Numbers and units: factors against NIST SP 811, and the forms that a number may have."""

from __future__ import annotations

import pytest

from grammar.units import (
    UNITS,
    Kind,
    NumberFault,
    convert,
    read_number,
    split_amount,
    unit_of,
)

# Source: NIST Special Publication 811 (2008 edition), appendix B.8, to the printed digits: inch
# 2.54 E-02 m (exact), kilogram-force 9.806 65 N (exact), pound-force inch 1.129 848 E-01 N.m,
# psi 6.894 757 E+03 Pa, bar 1.0 E+05 Pa (exact), kilogram-force metre 9.806 65 N.m (exact).
SP_811 = [
    ("in", "mm", 25.4),
    ("kgf", "N", 9.80665),
    ("lbf.in", "N.m", 0.1129848),
    ("psi", "kPa", 6.894757),
    ("bar", "kPa", 100.0),
    ("kgf.cm", "N.m", 0.0980665),
    ("min", "h", 1 / 60),  # 6.0 E+01 s against 3.6 E+03 s
    ("um", "mm", 1e-3),
    ("cN.m", "N.m", 1e-2),
]


@pytest.mark.parametrize(("unit", "into", "factor"), SP_811, ids=[row[0] for row in SP_811])
def test_factors(unit: str, into: str, factor: float) -> None:
    assert convert(1.0, UNITS[unit], UNITS[into]) == pytest.approx(factor, rel=5e-7)
    assert convert(factor, UNITS[into], UNITS[unit]) == pytest.approx(1.0, rel=5e-7)


def test_a_unit_into_itself_changes_no_digit() -> None:
    for unit in UNITS.values():
        assert convert(0.1, unit, unit) == 0.1


def test_common_practice_of_torques() -> None:
    """1 N.m = 10.197 kgf.cm = 8.851 lbf.in; common practice, no source."""
    assert convert(1.0, UNITS["N.m"], UNITS["kgf.cm"]) == pytest.approx(10.197, abs=5e-4)
    assert convert(1.0, UNITS["N.m"], UNITS["lbf.in"]) == pytest.approx(8.851, abs=5e-4)


SPELLINGS = [
    *((unit.symbol.lower(), unit.symbol) for unit in UNITS.values()),
    ("nm", "N.m"),
    ("n·m", "N.m"),
    ("n⋅m", "N.m"),
    ("n m", "N.m"),
    ("cnm", "cN.m"),
    ("n.cm", "cN.m"),
    ("ncm", "cN.m"),
    ("n·cm", "cN.m"),
    ("in.lbf", "lbf.in"),
    ("lbf·in", "lbf.in"),
    ("°", "deg"),
    ("°c", "degC"),
    ("1/min", "rpm"),
    ("μm", "um"),
]


@pytest.mark.parametrize(("folded", "symbol"), SPELLINGS, ids=[s[0] for s in SPELLINGS])
def test_spellings(folded: str, symbol: str) -> None:
    assert unit_of(folded) is UNITS[symbol]
    touching = (f"2.5{folded}",) if folded[0] != "1" else ()  # 2.51/min would be another number
    for written in (f"2.5 {folded}", *touching):
        number, unit = split_amount(written)
        assert (number, unit_of(unit)) == ("2.5", UNITS[symbol])


@pytest.mark.parametrize("word", ["mmm", "m", "nmm", "furlong", "h2", "in.lb", ""])
def test_no_units(word: str) -> None:
    assert unit_of(word) is None
    with pytest.raises(ValueError, match=r"2\.5"):
        split_amount(f"2.5 {word}")


def test_kinds_do_not_mix() -> None:
    for one in UNITS.values():
        for other in UNITS.values():
            if one.kind is not other.kind:
                with pytest.raises(ValueError, match=other.kind.value):
                    convert(1.0, one, other)


# written, plausible range -> value; the rule is this project's own (its language page)
NUMBERS = [
    ("2", None, 2.0),
    ("2.35", None, 2.35),
    ("0,62", None, 0.62),
    ("-0.5", None, -0.5),
    ("\u22120.5", None, -0.5),
    ("0,620", None, 0.62),  # a lone zero before the mark: a decimal
    ("0.620", None, 0.62),
    ("-0,620", None, -0.62),
    ("1,1", None, 1.1),
    ("1,10", None, 1.1),
    ("1,1000", None, 1.1),
    ("1234,567", None, 1234.567),  # four digits before it: no grouping mark
    ("1,100", (0.5, 4.0), 1.1),
    ("1,100", (500.0, 4000.0), 1100.0),
    ("1.100", (500.0, 4000.0), 1100.0),
    ("12.500", (10.0, 20.0), 12.5),
    ("1,100", (0.5, 4000.0), NumberFault.AMBIGUOUS),
    ("1,100", None, NumberFault.AMBIGUOUS),
    ("12.500", None, NumberFault.AMBIGUOUS),
    ("123,456", None, NumberFault.AMBIGUOUS),
    ("-1,100", None, NumberFault.AMBIGUOUS),
    ("00,620", None, NumberFault.AMBIGUOUS),
    ("1,100", (50.0, 60.0), 1.1),  # neither is plausible: the decimal one
    ("1,100", (1.1, 1100.0), NumberFault.AMBIGUOUS),  # the limits belong to the range
    ("1.2.3", None, NumberFault.NO_NUMBER),
    ("1,234,567", None, NumberFault.NO_NUMBER),
    ("1.234,5", None, NumberFault.NO_NUMBER),
    ("2.", None, NumberFault.NO_NUMBER),
    ("9" * 301, None, NumberFault.NO_NUMBER),
]


@pytest.mark.parametrize(
    ("written", "plausible", "expected"), NUMBERS, ids=[f"{n[0][:9]} in {n[1]}" for n in NUMBERS]
)
def test_numbers(
    written: str, plausible: tuple[float, float] | None, expected: float | NumberFault
) -> None:
    mm = UNITS["mm"]
    assert read_number(written, source=mm, target=mm, plausible=plausible) == expected


def test_the_range_is_in_the_unit_of_the_part() -> None:
    """1,100 um is 0.0011 mm or 1.1 mm: only the second lies between 1 mm and 2 mm."""
    value = read_number("1,100", source=UNITS["um"], target=UNITS["mm"], plausible=(1.0, 2.0))
    assert value == pytest.approx(1.1)


def test_every_kind_has_a_unit_that_its_factors_count_in() -> None:
    assert {unit.kind for unit in UNITS.values() if unit.factor == 1.0} == set(Kind)

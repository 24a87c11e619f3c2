from __future__ import annotations

import fractions
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from genex.exact import Fraction, decimal

numbers = st.fractions(min_value=-50, max_value=50, max_denominator=960)


@given(numbers, numbers)
def test_arithmetic_is_that_of_the_standard_library(
    a: fractions.Fraction, b: fractions.Fraction
) -> None:
    """[package: fractions, of Python]"""
    x, y = (Fraction(n.numerator, n.denominator) for n in (a, b))
    assert (x + y, x - y, x * y) == (a + b, a - b, a * b)
    assert (x < y, x == y, x >= y) == (a < b, a == b, a >= b)
    assert (hash(x), str(x), float(x), int(x), round(x, 2)) == (
        hash(a),
        str(a),
        float(a),
        int(a),
        round(a, 2),
    )
    if b:
        assert (x / y, x // y, x % y) == (a / b, a // b, a % b)


@given(
    st.integers(0, 9) | st.decimals(-999, 999, places=3) | st.floats(0, 999).map(lambda x: round(x, 2))
)
def test_numbers_are_taken_as_they_are_written(number: int | Decimal | float) -> None:
    assert decimal(str(number)) == fractions.Fraction(str(number))
    assert bytes([0])[0] == 0, "Python's own memory was written to"


def test_other_text_is_refused() -> None:
    with pytest.raises(ValueError, match="no number"):
        decimal("1/0")
    with pytest.raises(ValueError, match="Invalid literal"):
        decimal("fast")

"""Exact fractions, the numbers that musical time is counted in. Imports nothing of genex.

``Fraction`` is the standard library's in all that it does, compiled: composing is mostly such
arithmetic and takes half the time with it. One thing it must never be given is text: quicktions
1.24 and earlier write into Python's own memory when they read a text of one character. Text goes
through ``decimal``; a test looks after that.
"""

import fractions
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fractions import Fraction
else:
    from quicktions import Fraction

__all__ = ["Fraction", "decimal"]


def decimal(number: float | str) -> Fraction:
    """A number as it is written, exactly: 100.1 is 1001/10, and 1/3 is itself.

    Raises ValueError for other text.
    """
    try:
        written = fractions.Fraction(str(number))
    except ZeroDivisionError as error:
        raise ValueError(f"{number} is no number") from error
    return Fraction(written.numerator, written.denominator)

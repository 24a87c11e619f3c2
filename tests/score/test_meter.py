"""Meters and their pulses."""

from fractions import Fraction as F

import pytest

from genex.errors import NotationError
from genex.score import Meter


@pytest.mark.parametrize(
    ("text", "bar", "pulse", "pulses"),
    # The dotted quarter is the beat of 3/8, 6/8, 9/8 and 12/8 [common practice]
    [
        ("4/4", F(4), F(1), 4),
        ("3/4", F(3), F(1), 3),
        ("2/2", F(4), F(1), 4),
        ("5/4", F(5), F(1), 5),
        ("6/8", F(3), F(3, 2), 2),
        ("12/8", F(6), F(3, 2), 4),
        ("7/8", F(7, 2), F(1), 3),
        ("3/8", F(3, 2), F(3, 2), 1),
    ],
)
def test_meters(text, bar, pulse, pulses):
    meter = Meter.parse(text)
    assert (meter.bar_beats, meter.pulse_beats) == (bar, pulse)
    assert meter.pulses == tuple(count * pulse for count in range(pulses))
    assert str(meter) == text


@pytest.mark.parametrize("text", ["4", "4/5", "0/4", "x/4", "4/4/4", "33/4", "-3/4", ""])
def test_what_is_not_a_meter(text):
    with pytest.raises(NotationError, match="not a meter"):
        Meter.parse(text)

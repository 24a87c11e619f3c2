"""What to write instead of a word that is not known."""

import pytest

from genex.hints import did_you_mean, nearest

FEELS = ("swing", "fast-swing", "slow-blues", "jazz-waltz", "waltz", "bossa")


@pytest.mark.parametrize(
    ("word", "options", "expected"),
    [
        ("swng", FEELS, "swing"),
        ("SWING", FEELS, "swing"),
        ("slow swing", FEELS, "swing"),
        ("medium_swing", FEELS, "swing"),
        ("bossa nova", FEELS, "bossa"),
        ("fast swing", FEELS, "fast-swing"),
        ("mixo", ("minor", "mixolydian", "dorian"), "mixolydian"),
        ("jazz", FEELS, None),
        ("polka", FEELS, None),
    ],
)
def test_the_nearest_word(word, options, expected):
    assert nearest(word, options) == expected


def test_the_hint_names_the_nearest_or_all():
    assert did_you_mean("waltzer", FEELS) == "did you mean 'waltz'?"
    assert did_you_mean("xyz", ("a", "b")) == "write one of: a, b"

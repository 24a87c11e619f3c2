"""Words below a line, by the standard's rules [published: ABC standard v2.1, 5.1]."""

import pytest

from genex.readers.lines.abc_words import syllables


def test_syllables_with_their_columns():
    assert syllables(" a-b * c") == [("a-", 1), ("b", 3), ("", 5), ("c", 7)]


@pytest.mark.parametrize(
    ("written", "words"),
    [
        ("syll-a-ble", ["syll-", "a-", "ble"]),
        ("syll-a--ble", ["syll-", "a-", "", "ble"]),
        ("time__", ["time", "", ""]),
        ("of~the~day", ["of the day"]),
        ("a\\-b", ["a-b"]),
        ("one | two", ["one", "|", "two"]),
        ("one % a remark", ["one"]),
    ],
)
def test_how_syllables_are_parted(written, words):
    assert [word for word, _ in syllables(written)] == words

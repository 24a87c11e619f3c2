"""The words of a page in each language."""

from __future__ import annotations

import pytest

from genex.errors import InputError
from genex.export.handout import HandoutSettings, handout_pdf
from genex.export.phrases import LANGUAGES
from tests.export.builders import small_score


def test_an_unknown_language_is_refused() -> None:
    with pytest.raises(InputError, match="no texts in the language"):
        handout_pdf(small_score(), HandoutSettings(language="xx"))


def test_every_language_has_the_keys_of_english() -> None:
    assert all(table.keys() == LANGUAGES["en"].keys() for table in LANGUAGES.values())

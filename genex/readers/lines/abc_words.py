"""Words below a line in ABC, syllable by syllable [published: ABC standard v2.1, 5.1]."""

from __future__ import annotations

import re

from genex.plain_text import clean
from genex.readers.charts.abc_music import without_remark


def syllables(written: str) -> list[tuple[str, int]]:
    """The syllables of a line of words with their columns from 0; empty for a note without one.

    One that its word goes on behind ends with its hyphen.
    """
    found: list[tuple[str, int]] = []
    text = without_remark(written)
    for match in re.finditer(r"\||\*|_|-|(?:\\-|[^\s|*_-])+", text):
        sign = match.group()
        if sign in ("*", "_"):
            found.append(("", match.start()))
        elif sign == "-":
            before = text[: match.start()]
            # One hyphen parts two syllables; another one, or one behind a blank, holds for a note.
            if before.endswith(("-", " ")) and found:
                found.append(("", match.start()))
            elif found and found[-1][0] not in ("", "|"):
                found[-1] = (f"{found[-1][0]}-", found[-1][1])
        else:
            plain = clean(sign.replace("\\-", "-").replace("~", " "))
            found.append((plain, match.start()))
    return found

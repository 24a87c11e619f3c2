"""What ``genex new NAME`` writes: a commented recipe, or an example under another title."""

from __future__ import annotations

import json
import re

_STARTER = """\
# A genex recipe. Build it with:  genex build {file}
# Every line but 'chords' may be left away.

title: {title}
key: G minor
tempo: 120            # beats a minute
meter: 4/4
feel: swing           # 'genex feels' lists what there is

# One chart, or named sections and the order in which they are played.
# Several chords share a bar, % plays the bar before again, / holds a chord for a beat.
sections:
  A: |
    Gm7 | C7 | Fmaj7 | Bbmaj7 |
    Em7b5 | A7b9 | Dm7 | %    |
  B: |
    Cm7 | F7 | Bbmaj7 | Ebmaj7 |
    Am7b5 | D7b9 | Gm6 | Am7b5 D7b9 |
form: A B
repeats: 1            # choruses in the files
count_in: 1           # bars; heard in the full take only

parts: drums bass comping guide exercise
guide:
  rhythm: whole       # whole, half or anticipated
exercise:
  kind: arpeggio
  rhythm: eighths     # quarters, eighths, triplets or sixteenths
  position: 5         # fret of the first finger

outputs: midi loop band take tab
seed: 1               # another number, another performance
"""


def starter_text(title: str, file: str) -> str:
    """The starter recipe under a title; ``file`` is the name shown in its first line."""
    return _STARTER.format(title=_quoted(title), file=file)


def retitled(text: str, title: str) -> str:
    """A recipe's text with another title on its title's line."""
    line = f"title: {_quoted(title)}"
    return re.sub(r"^title:.*$", lambda _: line, text, count=1, flags=re.MULTILINE)


def _quoted(title: str) -> str:
    return json.dumps(title, ensure_ascii=False)

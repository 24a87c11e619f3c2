"""Grips as vertical diagrams in plain text: strings side by side, the nut on top.

      x x
      | | | | 1 |  1
      | | 2 | | |  2
      | | | | | 3  3
      | | | 4 | |  4

The numbers on the strings are fingers, an x is a muted string, an o an open one; a finger on
several strings of a row is a barre. Frets stand at the right.
"""

from __future__ import annotations

from collections.abc import Sequence

from genex.fretboard import Grip, Tuning

FRETS = 4
COLUMNS = 80
GUTTER = 4


def grip_text(grip: Grip, tuning: Tuning, *, left_handed: bool = False) -> str:
    """One grip under a line with its kind, its strings and what lies in the bass."""
    frets, fingers = grip.held.frets, grip.held.fingers
    strings = range(len(tuning.strings), 0, -1)
    stopped = [fret for fret in frets.values() if fret]
    first = 1 if not stopped or max(stopped) <= FRETS else min(stopped)
    last = max(first + FRETS - 1, max(stopped, default=1))
    head = [_above(frets.get(string)) for string in strings]
    rows = [(head, "")]
    for fret in range(first, last + 1):
        cells = [str(fingers[s]) if frets.get(s) == fret else "|" for s in strings]
        rows.append((cells, str(fret)))
    lines = [
        (" ".join(reversed(cells) if left_handed else cells) + f"  {number}").rstrip()
        for cells, number in rows
    ]
    named = " ".join(str(string) for string in grip.strings)
    return "\n".join([f"{grip.kind}, {grip.bass} in the bass", f"strings {named}", *lines])


def grips_text(grips: Sequence[Grip], tuning: Tuning, *, left_handed: bool = False) -> str:
    """Grips side by side, a row of diagrams for each set of strings or more."""
    blocks = [grip_text(grip, tuning, left_handed=left_handed).split("\n") for grip in grips]
    width = max(len(line) for block in blocks for line in block)
    across = max(1, (COLUMNS + GUTTER) // (width + GUTTER))
    pages = []
    start = 0
    while start < len(blocks):
        group = (grips[start].kind, grips[start].strings)
        end = start
        while (
            end < len(blocks) and end - start < across and (grips[end].kind, grips[end].strings) == group
        ):
            end += 1
        pages.append(_side_by_side(blocks[start:end], width))
        start = end
    return "\n\n".join(pages) + "\n"


def _side_by_side(blocks: Sequence[Sequence[str]], width: int) -> str:
    height = max(map(len, blocks))
    gutter = " " * GUTTER
    return "\n".join(
        gutter.join((block[row] if row < len(block) else "").ljust(width) for block in blocks).rstrip()
        for row in range(height)
    )


def _above(fret: int | None) -> str:
    return "x" if fret is None else "o" if fret == 0 else " "

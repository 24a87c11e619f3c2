"""Neck diagrams in plain text, for the terminal.

The neck lies as in tab, string 1 on top. Every cell between two frets shows what sounds there;
roots stand in brackets, so that they are seen without colour:

        5     6     7     8
    e |-----|-----|-----|- 5 -|
    B |- 3 -|-----|-----|-[1]-|

Where fingers are shown, a second one in parentheses takes the note on the way down. Open strings
are written left of the nut. Left-handed diagrams are mirrored.
"""

from __future__ import annotations

from collections.abc import Sequence

from genex.export.neck_marks import Label, Mark, fret_window, inlay_dots, shape_marks
from genex.export.phrases import capitalised, listed, words
from genex.export.tab_layout import string_names
from genex.fretboard import OPEN_FORM, Shape, Tuning

GUTTER = 4
"""Columns between diagrams side by side."""


def neck_text(
    marks: Sequence[Mark],
    tuning: Tuning,
    *,
    label: Label = "degrees",
    frets: tuple[int, int] | None = None,
    left_handed: bool = False,
) -> str:
    """A diagram of the marks; ``frets`` is the first and the last fret shown (fret 1 shows the nut).

    Without ``frets`` the diagram shows where the marks lie, at least four frets.
    """
    first, last = frets or fret_window(marks)
    numbers = range(first, last + 1)
    by_place = {(mark.string, mark.fret): mark for mark in marks}
    inner = max((len(_face(mark, label)) for mark in marks), default=3)
    names = string_names(tuning.strings)
    has_nut = first == 1
    open_faces = [
        _face(by_place[string, 0], label) if has_nut and (string, 0) in by_place else ""
        for string in range(1, len(names) + 1)
    ]
    open_width = max(map(len, open_faces), default=0)
    edge = "‖" if has_nut else "|"
    rows = [_numbers(numbers, inner, left_handed)]
    for string, (name, open_face) in enumerate(zip(names, open_faces, strict=True), start=1):
        cells = []
        for fret in numbers:
            mark = by_place.get((string, fret))
            cells.append("-" + (_face(mark, label) if mark else "").center(inner, "-") + "-")
        head = name.ljust(max(map(len, names)))
        if open_width:
            head += " " + open_face.center(open_width)
        if left_handed:
            rows.append("|" + "|".join(reversed(cells)) + edge + " " + _mirrored(head))
        else:
            rows.append(head + " " + edge + "|".join(cells) + "|")
    rows.append(_inlays(numbers, inner, tuning.capo, left_handed))
    if left_handed:
        return "\n".join(row.rstrip() for row in (" " + rows[0], *rows[1:-1], " " + rows[-1]))
    indent = " " * (max(map(len, names)) + 2 + (open_width + 1 if open_width else 0))
    return "\n".join(row.rstrip() for row in (indent + rows[0], *rows[1:-1], indent + rows[-1]))


def shape_text(
    shape: Shape, tuning: Tuning, *, label: Label = "degrees", left_handed: bool = False
) -> str:
    """A shape's diagram under a line with its form and position."""
    return (
        shape_heading(shape)
        + "\n"
        + neck_text(shape_marks(shape), tuning, label=label, left_handed=left_handed)
    )


def shapes_text(
    shapes: Sequence[Shape],
    tuning: Tuning,
    *,
    label: Label = "degrees",
    left_handed: bool = False,
    width: int = 80,
    language: str = "en",
) -> str:
    """Diagrams of several shapes, side by side as far as ``width`` columns allow.

    With a capo a line above them says so.
    """
    blocks = [
        shape_text(shape, tuning, label=label, left_handed=left_handed).split("\n") for shape in shapes
    ]
    rows: list[list[list[str]]] = []
    used = 0
    for block in blocks:
        block_width = max(map(len, block))
        if not rows or used + GUTTER + block_width > width:
            rows.append([])
            used = -GUTTER
        rows[-1].append(block)
        used += GUTTER + block_width
    found = [_beside(row) for row in rows]
    if tuning.capo:
        said = words(language)["capo_counted"].format(capo=tuning.capo)
        found.insert(0, capitalised(said))
    return "\n\n".join(found) + "\n"


def shape_heading(shape: Shape, language: str = "en") -> str:
    """``E form, 8th position``; ``form 2, …`` where forms are numbered; ``Open position``; other
    labels as they are."""
    phrases = words(language)
    form = shape.form
    if form == OPEN_FORM:
        return phrases["open_position"]
    if form.isdecimal():
        form = phrases["numbered_form"].format(form=form)
    elif len(form) == 1:
        form = phrases["form"].format(form=form)
    ordinal = listed(phrases, "ordinal_figures", shape.position)
    return f"{form}, {phrases['position'].format(ordinal=ordinal)}"


def _face(mark: Mark, label: Label) -> str:
    text = mark.text(label) or "o"
    if label == "fingers" and mark.other_finger is not None:
        text += f"({mark.other_finger})"
    return f"[{text}]" if mark.is_root else f" {text} "


def _mirrored(head: str) -> str:
    """Open note and name of a string, for the right side of the nut."""
    name, _, open_face = head.partition(" ")
    return (
        f"{open_face} {name}".lstrip()
        if open_face.strip()
        else f"{open_face} {name}"
        if open_face
        else name
    )


def _numbers(frets: range, inner: int, left_handed: bool) -> str:
    cells = [str(fret).center(inner + 2) for fret in frets]
    return " ".join(reversed(cells) if left_handed else cells)


def _inlays(frets: range, inner: int, capo: int, left_handed: bool) -> str:
    cells = [("•" * inlay_dots(fret, capo)).center(inner + 2) for fret in frets]
    return " ".join(reversed(cells) if left_handed else cells)


def _beside(blocks: Sequence[Sequence[str]]) -> str:
    height = max(map(len, blocks))
    widths = [max(map(len, block)) for block in blocks]
    lines = []
    for index in range(height):
        cells = [block[index] if index < len(block) else "" for block in blocks]
        line = (" " * GUTTER).join(cell.ljust(width) for cell, width in zip(cells, widths, strict=True))
        lines.append(line.rstrip())
    return "\n".join(lines)

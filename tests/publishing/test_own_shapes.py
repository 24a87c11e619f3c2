"""Own shapes in what is built: the roots that are worth a note. The rest: test_house_fingerings.py."""

from __future__ import annotations

from genex.fretboard import STANDARD, unplayable_roots
from genex.fretboard.own_shapes_file import parse_fingerings
from genex.publishing.own_shapes import lacking_roots


def test_only_roots_that_are_played_are_named() -> None:
    neck = parse_fingerings("C, open one: 5/3-3 4/2-2 3/0-0 2/1-1 1/0-0", "house.txt").on(STANDARD)
    (own,) = neck.own
    roots = unplayable_roots(own, neck)
    assert len(roots) == 11, "with an open string it stays where it is"
    assert lacking_roots(roots, {0}) == ""
    assert lacking_roots(roots, {0, 2, 9}) == "D, A"

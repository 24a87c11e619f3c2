"""A player's own shapes in what is built: the neck of a series' book, and what is worth a note."""

from __future__ import annotations

from genex.compose import own_fingerings
from genex.errors import InputError
from genex.fretboard import OPEN_FORM, Tuning, forms_of, tuning, unplayable_roots
from genex.recipe import Recipe, Series
from genex.score import Timeline
from genex.theory import NoteName


def book_tuning(series: Series) -> Tuning:
    """The neck of a series' book, with its player's own shapes. Raises InputError with its place."""
    fields, source = series.fields, series.source
    try:
        neck = tuning(fields.tuning)
    except InputError as error:
        error.place = error.place or source.place(("tuning",))
        raise
    folder = source.folder_of(("fingerings",))
    return own_fingerings(folder, fields.fingerings, source.place(("fingerings",))).on(neck)


def lesson_notes(recipe: Recipe, timeline: Timeline, neck: Tuning) -> list[str]:
    """A line for each own shape that chords of a lesson cannot have, in one of its keys."""
    first = recipe.versions[0].key.tonic.pitch_class
    steps = {(version.key.tonic.pitch_class - first) % 12 for version in recipe.versions}
    roots: dict[frozenset[object], set[int]] = {}
    for span in timeline.chords:
        if span.chord is not None:
            classes = {(span.chord.root.pitch_class + step) % 12 for step in steps}
            roots.setdefault(frozenset(span.chord.degrees), set()).update(classes)
    return _notes(neck, roots, recipe.title)


def book_notes(series: Series, neck: Tuning) -> list[str]:
    """A line for each own shape that chords of a series' book cannot have."""
    roots: dict[frozenset[object], set[int]] = {}
    for chord in series.chords:
        roots.setdefault(frozenset(chord.degrees), set()).add(chord.root.pitch_class)
    return _notes(neck, roots, series.title)


def _notes(neck: Tuning, roots: dict[frozenset[object], set[int]], title: str) -> list[str]:
    found = []
    forms = {OPEN_FORM, *(form.name for form in forms_of(neck))}
    for own in neck.own:
        lacking = lacking_roots(unplayable_roots(own, neck), roots.get(frozenset(own.degrees), set()))
        if lacking:
            told = f"your shape '{own.form}' does not lie on this neck for {lacking}"
            instead = "; there it is computed" if own.form in forms else ""
            found.append(f"note: {title}: {told}{instead}")
    return found


def lacking_roots(unplayable: tuple[NoteName, ...], wanted: set[int]) -> str:
    """The names of those roots that are wanted and cannot be played."""
    return ", ".join(str(root) for root in unplayable if root.pitch_class in wanted)

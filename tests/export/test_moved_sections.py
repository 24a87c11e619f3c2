"""Sections that are printed once because the hand does the same at another fret."""

from __future__ import annotations

from dataclasses import replace

from genex.compose import compose
from genex.exact import Fraction
from genex.export.moved_sections import Moved, only_chord, printed_at_one_fret
from genex.export.repeat_signs import line_page, printed_once
from genex.recipe import parse_recipe
from genex.score import Score


def folded(recipe: str) -> tuple[Score, list[int], dict[int, tuple[Moved, ...]]]:
    """A score, the numbers of the bars that are printed of its exercise, and what is moved."""
    score = compose(parse_recipe(recipe)).score
    part = score.part("exercise")
    page = printed_once(line_page(score.timeline, (part,)), score.timeline, part)
    page, moved = printed_at_one_fret(page, score.timeline, part)
    return score, [entry.bar.number for entry in page.bars], dict(moved)


def test_one_form_round_the_circle_is_printed_once_with_the_frets_to_move_it():
    score, printed, moved = folded("chords: C7\nexercise: {kind: shapes, forms: E, cycle: fourths}")
    ((first, places),) = moved.items()
    assert first == 1 and printed == [1, 2, 3] and len(places) == 11
    # E form of C7 in 8th position; F7 a fourth higher is five frets up [common practice].
    assert (places[0].chord.symbol, places[0].frets) == ("F7", 5)
    # What is not printed is what is printed, moved: string by string, finger by finger.
    bars = {bar.number: bar for bar in score.timeline.bars}

    def hand(bar: int) -> list[tuple[object, ...]]:
        start, end = bars[bar].onset_beats, bars[bar].onset_beats + 12
        notes = [note for note in score.part("exercise").notes if start <= note.onset_beats < end]
        return [(n.onset_beats - start, *(n.fretting.string, n.fretting.finger)) for n in notes]

    for place in places:
        assert hand(place.bar) == hand(1)


def test_other_kinds_of_chords_and_tunes_of_several_chords_stay():
    study = "chords: Cmaj7 | Fmaj7 | G7\nexercise: {kind: shapes, forms: E}"
    _, printed, moved = folded(study)
    assert [place.chord.symbol for place in moved[1]] == ["Fmaj7"]
    assert 7 in printed, "a dominant seventh is another picture"
    tune = "sections: {A: Dm7 | G7, B: Em7 | A7}\nform: A B\nexercise: {kind: arpeggio}"
    assert folded(tune)[1:] == ([1, 2, 3, 4], {})


def test_a_section_under_a_chord_held_from_before_has_that_chord_too():
    score = compose(parse_recipe("chords: C7 | F7")).score
    (section,) = score.timeline.sections
    section = replace(section, onset_beats=Fraction(2), length_beats=Fraction(4))
    assert only_chord(score.timeline, section) is None
    before_the_next = replace(section, length_beats=Fraction(2))
    assert str(only_chord(score.timeline, before_the_next)) == "C7"

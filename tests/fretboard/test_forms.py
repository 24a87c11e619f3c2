"""Forms: which windows of frets a tuning's shapes lie in, and what they are called."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from genex.errors import FretboardError
from genex.fretboard import TUNINGS, Tuning, forms_of, tuning
from genex.fretboard.forms import WINDOW_FRETS, form_named
from genex.theory import NoteName, Pitch

STANDARD = tuning("standard")


def test_standard_tuning_has_the_five_open_chord_forms_in_their_order_up_the_neck() -> None:
    """[common practice]: for a root C they lie at frets 11-15, 2-6, 4-8, 7-11 and 9-13"""
    assert [(form.name, form.start_for(0)) for form in forms_of(STANDARD)] == [
        ("C", 11),
        ("A", 2),
        ("G", 4),
        ("E", 7),
        ("D", 9),
    ]


@pytest.mark.parametrize("form", "CAGED")
def test_each_form_moved_to_the_nut_is_the_open_chord_of_its_name(form: str) -> None:
    """[common practice]: the open chord lies within the first three frets"""
    start = form_named(form, STANDARD).start_for(NoteName.parse(form).pitch_class)
    assert start in (11, 0)  # one fret behind the nut, or at it


def test_standard_intervals_at_any_pitch_keep_the_names() -> None:
    lowered, capoed = tuning("half-step down"), tuning("standard", capo=2)
    for neck, moved in ((lowered, 1), (capoed, -2)):
        assert [form.name for form in forms_of(neck)] == list("CAGED")
        for form, standard in zip(forms_of(neck), forms_of(STANDARD), strict=True):
            assert form.start_for(0) == (standard.start_for(0) + moved) % 12


def test_other_tunings_number_their_forms_from_a_root_on_the_lowest_string() -> None:
    bass = forms_of(tuning("bass"))
    assert [form.name for form in bass] == ["1", "2", "3", "4", "5"]
    # C on the fourth string is at fret 8; the hand begins a fret below
    assert bass[0].start_for(0) == 7


def test_a_form_is_found_however_it_is_written_and_the_existing_ones_are_named() -> None:
    assert form_named(" e form", STANDARD).name == "E"
    with pytest.raises(FretboardError, match="C, A, G, E, D"):
        form_named("F", STANDARD)
    with pytest.raises(FretboardError, match="1, 2, 3, 4"):
        form_named("E", tuning("DADGAD"))


some_tuning = st.sampled_from(list(TUNINGS.values())) | st.builds(
    lambda midis: Tuning("some", tuple(map(Pitch.from_midi, midis))),
    st.lists(st.integers(28, 70), min_size=1, max_size=8),
)


@given(some_tuning, st.integers(0, 11))
def test_the_windows_overlap_and_cover_the_neck(neck: Tuning, root: int) -> None:
    forms = forms_of(neck)
    covered = {(form.start_for(root) + i) % 12 for form in forms for i in range(WINDOW_FRETS)}
    assert covered == set(range(12))
    starts = sorted(form.start_for(root) for form in forms)
    for start, following in pairwise([*starts, starts[0] + 12]):
        assert following - start < WINDOW_FRETS
    assert len({form.name for form in forms}) == len(forms)

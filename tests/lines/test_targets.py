from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.errors import LineError
from genex.exercises import Player
from genex.exercises.models.over_the_chart import Targets
from genex.lines.targets import APPROACHES, target_degree, target_line
from genex.score.checks import line_overlaps
from genex.theory import parse_chord
from tests.lines.line_charts import chart

SYMBOLS = ("C", "Gm", "F#7", "Abmaj7", "Em7", "Bm7b5", "Bbdim7", "D6", "A7sus4", "Ebaug", "G9", "B7b9")
CHANGES = "Gm7 | C7 | Fmaj7 | D7b9 | Gm7 C7 | Am7 D7 | Gm7 | F6"


def at_changes(part, timeline):
    """Each note on a change, with its chord and the notes before it, nearest first."""
    onsets = {span.onset_beats: span.chord for span in timeline.merged_chords}
    for index, note in enumerate(part.notes):
        if note.onset_beats in onsets:
            yield note, onsets[note.onset_beats], part.notes[:index][::-1]


@pytest.mark.parametrize("density", [1, 2, 3])
@pytest.mark.parametrize(
    ("kind", "steps"),
    [  # semitones from the target, the nearest note first [common practice]
        ("below", [(-1, 1)]),
        ("above", [(1, -1)]),
        ("double below", [(-1,), (-2,)]),
        ("double above", [(1,), (2,)]),
        ("enclosure", [(-1,), (1, 2)]),
        ("scale", [(-2, -1, 1, 2)]),
    ],
)
def test_targets_fall_on_the_changes_and_approaches_resolve_by_their_step(density, kind, steps):
    timeline = chart(CHANGES, key="F")
    part = target_line(timeline, Targets(density=density, approaches=(kind,), position=5), Player())
    found = list(at_changes(part, timeline))
    assert len(found) == len(timeline.merged_chords)
    for note, chord, before in found:
        assert note.degree == target_degree(chord, "third")
        if note.onset_beats == 0:
            continue
        for earlier, allowed in zip(before, steps, strict=False):
            assert earlier.midi - note.midi in allowed
            assert earlier.duration_beats == Fraction(1, 2)


def test_a_scale_step_belongs_to_the_scale_of_the_sounding_chord():
    timeline = chart(CHANGES, key="F")
    part = target_line(timeline, Targets(approaches=("scale",)), Player())
    for _, _, before in at_changes(part, timeline):
        if before:
            chord = timeline.chord_at(before[0].onset_beats).chord
            scale = timeline.reading_at(before[0].onset_beats).scale
            assert before[0].midi % 12 in scale.pitch_classes(chord.root)


@given(
    st.lists(st.sampled_from(SYMBOLS), min_size=1, max_size=6),
    st.sampled_from(["4/4", "3/4", "6/8", "7/8"]),
    st.sampled_from(["eighths", "triplets", "sixteenths"]),
    st.sampled_from(["root", "third", "fifth", "seventh", "ninth", "guide"]),
    st.integers(1, 3),
    st.integers(1, 3),
    st.lists(st.sampled_from(sorted(APPROACHES)), min_size=1, max_size=3),
    st.integers(0, 5),
)
@settings(max_examples=80, deadline=None)
def test_properties_of_the_line(symbols, meter, rhythm, target, density, beat, approaches, seed):
    timeline = chart(" | ".join(symbols), meter=meter)
    wanted = (
        Targets(
            target=target,
            density=density,
            beat=beat,
            rhythm=rhythm,
            approaches=tuple(approaches),
            position=5,
        ),
        Player(seed=seed),
    )
    part = target_line(timeline, *wanted)
    assert line_overlaps(part) == []
    assert part.notes[-1].written_end_beats <= timeline.length_beats
    for note in part.notes:
        assert 4 <= note.fretting.fret <= 9
        assert note.midi == part.strings[note.fretting.string - 1].midi + note.fretting.fret
        if note.slide:
            assert 1 <= abs(note.slide.from_semitones) <= 2
            assert note.slide.length_beats < note.duration_beats
            assert note.fretting.fret + note.slide.from_semitones >= 1
    if density == 3:
        # an unbroken line never strikes one pitch three times
        assert not any(
            a.midi == b.midi == c.midi
            for a, b, c in zip(part.notes, part.notes[1:], part.notes[2:], strict=False)
        )
    assert part == target_line(timeline, *wanted)
    pulse = timeline.meter.pulse_beats
    starts = {note.onset_beats: note for note in part.notes}
    for span in timeline.merged_chords:
        onset = span.onset_beats + (beat - 1) * pulse
        if beat > 1 and onset >= span.onset_beats + timeline.meter.bar_beats:
            onset = span.onset_beats
        note = starts.get(onset)
        assert note is not None, "every change has its target on the beat asked"
        if target == "guide":
            assert note.degree in span.chord.guide_tones
        else:
            assert note.degree == target_degree(span.chord, target)


@pytest.mark.parametrize(
    ("symbol", "root", "third", "fifth", "seventh", "ninth"),
    [  # degrees that chords have [common practice]
        ("Cmaj7", "1", "3", "5", "7", "3"),
        ("Cm7b5", "1", "b3", "b5", "b7", "b3"),
        ("C9", "1", "3", "5", "b7", "9"),
        ("C6", "1", "3", "5", "6", "3"),
        ("C", "1", "3", "5", "5", "3"),
        ("Csus4", "1", "4", "5", "5", "4"),
        ("Csus2", "1", "2", "5", "5", "2"),
    ],
)
def test_degrees_of_targets(symbol, root, third, fifth, seventh, ninth):
    wanted = {"root": root, "third": third, "fifth": fifth, "seventh": seventh, "ninth": ninth}
    chord = parse_chord(symbol)
    assert {target: str(target_degree(chord, target)) for target in wanted} == wanted


def test_a_beat_that_a_chord_does_not_last_to_gives_way_to_its_first():
    timeline = chart("C F | G7 | Am")
    part = target_line(timeline, Targets(beat=3, density=1, approaches=("below",)), Player())
    thirds = {0: "3", 2: "3", 6: "3", 10: "b3"}
    found = {note.onset_beats: str(note.degree) for note in part.notes if note.onset_beats in thirds}
    assert found == thirds


def test_density_1_has_one_approach_a_bar():
    part = target_line(chart("Gm7 | C7", key="F"), Targets(density=1), Player())
    assert [note.onset_beats for note in part.notes] == [0, Fraction(7, 2), 4, Fraction(15, 2)]


def test_density_3_leaves_no_slot_empty():
    part = target_line(chart(CHANGES, key="F"), Targets(density=3), Player())
    assert len(part.notes) == 64
    for before, after in pairwise(part.notes):
        assert before.written_end_beats == after.onset_beats


def test_an_open_end_keeps_the_last_chord():
    timeline = chart("Gm7 | C7", key="F")
    part = target_line(timeline, Targets(density=3), Player(loops=False))
    assert all(
        n.degree is not None and n.midi % 12 in parse_chord("C7").pitch_classes for n in part.notes[8:]
    )


def test_slides_take_the_place_of_approach_notes():
    timeline = chart(CHANGES, key="F")
    part = target_line(timeline, Targets(approaches=("slide up",), density=2), Player())
    slides = [note for note in part.notes if note.slide]
    assert len(slides) >= 6
    assert all(note.slide.from_semitones < 0 for note in slides)
    assert all(
        note.degree == target_degree(timeline.chord_at(note.onset_beats).chord, "third")
        for note in slides
    )


@pytest.mark.parametrize("density", [1, 2, 3])
@pytest.mark.parametrize("kind", ["slide up", "slide down"])
@pytest.mark.parametrize("position", [5, 7])
def test_every_target_of_a_loop_is_slid_into_the_first_one_too(kind, density, position):
    timeline = chart(CHANGES, key="F")
    wanted = Targets(approaches=(kind,), density=density, position=position), Player()
    part = target_line(timeline, *wanted)
    side = -1 if kind == "slide up" else 1
    for note, _, _ in at_changes(part, timeline):
        assert note.slide is not None and note.slide.from_semitones * side > 0
    # without a way back the line begins plainly
    once = target_line(timeline, wanted[0], Player(loops=False))
    assert once.notes[0].slide is None
    assert once.notes[0].onset_beats == 0


@pytest.mark.parametrize(("kind", "steps"), [("below", [-1]), ("enclosure", [-1, 1])])
def test_the_end_of_a_loop_leads_into_its_first_target(kind, steps):
    part = target_line(chart(CHANGES, key="F"), Targets(approaches=(kind,), position=5), Player())
    first = part.notes[0]
    for note, step in zip(part.notes[::-1], steps, strict=False):
        assert (note.midi - first.midi) * step > 0 and abs(note.midi - first.midi) <= 2


@pytest.mark.parametrize("density", [2, 3])  # 1 holds its targets: there is time to move
@pytest.mark.parametrize("strings", [(1, 2), (2, 3), (3, 4), (5, 6), (2, 3, 4)])
def test_on_chosen_strings_the_hand_stays_near(strings, density):
    tunes = (CHANGES, "C7 | F7 | Bb7 | Eb7 | Ab7 | Db7 | Gb7 | B7 | E7 | A7 | D7 | G7")
    for text in tunes:
        part = target_line(chart(text, key="F"), Targets(strings=strings, density=density), Player())
        for before, after in pairwise(part.notes):
            assert abs(after.fretting.fret - before.fretting.fret) <= 7


def test_no_chord_is_a_rest():
    part = target_line(chart("Gm7 | N.C. | C7"), Targets(density=3), Player())
    assert not [note for note in part.notes if 4 <= note.onset_beats < 8]


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ({"approaches": ()}, "no approach"),
        ({"position": 24}, "no position 24"),
    ],
)
def test_refusals(wrong, message):
    with pytest.raises(LineError, match=message):
        target_line(chart("Gm7"), Targets(**wrong), Player())


@pytest.mark.parametrize("position", [1, 2, 5, 9])
@pytest.mark.parametrize("target", ["root", "third", "fifth", "seventh"])
@pytest.mark.parametrize("slide", ["slide up", "slide down"])
def test_a_slide_that_does_not_fit_takes_the_half_step_instead(position, target, slide):
    """No target stands without its approach because a slide would begin at the nut."""
    for text in ("Dm7 | G7 | Cmaj7 | A7", "Am7b5 | D7b9 | Gm | E7", "F | Bb7 | Gm7 | C7"):
        wanted = Targets(position=position, target=target, approaches=(slide,))
        notes = target_line(chart(text), wanted, Player()).notes
        for number, note in enumerate(notes):
            if note.onset_beats % 4 == 0:
                step = abs(notes[number - 1].midi - note.midi)
                assert note.slide is not None or step == 1

from fractions import Fraction
from itertools import pairwise

import pytest

from genex.errors import LineError
from genex.exercises import Player
from genex.exercises.models.over_shapes import Shapes, ShapeSequence, Tour
from genex.fretboard.sequences import SEQUENCES
from genex.fretboard.shapes import chord_shapes
from genex.fretboard.tunings import STANDARD, tuning
from genex.lines.note_slots import RHYTHMS
from genex.lines.study import practice_path, sequence_study
from genex.lines.study_plan import TempoSteps, in_tempo_steps
from genex.score import Meter
from genex.score.checks import line_overlaps
from genex.theory import parse_chord
from tests.lines.line_charts import chart

C = parse_chord("C")


def places(notes):
    return " ".join(f"{n.fretting.string}/{n.fretting.fret}" for n in notes)


def fingers(notes):
    return [n.fretting.finger for n in notes]


def within(plan, cue):
    return [n for n in plan.parts[0].notes if cue.onset_beats <= n.onset_beats < cue.end_beats]


def test_the_practice_path_of_c_major_in_the_g_form():
    # frets and fingers up the shape [common practice]
    (part,) = practice_path(chart("C"), Shapes(forms=("G",)), Player()).parts
    up = part.notes[:7]
    assert places(up) == "6/8 5/7 4/5 3/5 2/5 2/8 1/8"
    assert fingers(up) == [4, 3, 1, 1, 1, 4, 4]
    assert places(part.notes[7:]) == "2/8 2/5 3/5 4/5 5/7 6/8"
    assert fingers(part.notes[7:]) == fingers(up)[-2::-1]


def test_a_path_ends_on_its_root_held_to_the_bar_line():
    plan = practice_path(chart("Am7"), Shapes(forms=("E",)), Player())
    (part,) = plan.parts
    assert part.notes[0].pitch == part.notes[-1].pitch
    assert str(part.notes[0].degree) == "1"
    assert part.notes[-1].written_end_beats == plan.length_beats


def test_the_tour_goes_up_the_neck_with_a_bar_of_rest_between():
    plan = practice_path(chart("C"), Tour(), Player())
    assert [cue.text for cue in plan.cues] == [
        f"C, {shape.form} form, position {shape.position}" for shape in chord_shapes(C, STANDARD)
    ]
    assert len(plan.cues) == 5
    assert plan.timeline.bars[0].meter == Meter(4, 4)
    for cue, following in pairwise(plan.cues):
        assert following.onset_beats - cue.end_beats == 4
        assert all(n.written_end_beats <= cue.end_beats for n in within(plan, cue))
    assert plan.length_beats - plan.cues[-1].end_beats == 4
    assert {span.chord for span in plan.timeline.chords} == {C}
    lowest = [min(n.fretting.fret for n in within(plan, cue)) for cue in plan.cues]
    assert lowest == sorted(lowest)


@pytest.mark.parametrize("name", SEQUENCES)
@pytest.mark.parametrize("symbol", ["C", "F#m7b5", "Bb7"])
def test_every_sequence_can_be_played(name, symbol):
    chord = parse_chord(symbol)
    strings = {0: (), 1: (2,), 2: (2, 3)}[SEQUENCES[name].strings]
    plan = sequence_study(chart(symbol), ShapeSequence(pattern=name, strings=strings), Player())
    (part,) = plan.parts
    assert line_overlaps(part) == []
    for note in part.notes:
        assert note.midi == part.strings[note.fretting.string - 1].midi + note.fretting.fret
        if SEQUENCES[name].tones == "any":
            assert note.midi % 12 in chord.pitch_classes
        assert plan.timeline.chord_at(note.onset_beats).chord == chord
    for cue in plan.cues:
        assert within(plan, cue)[0].onset_beats == cue.onset_beats


@pytest.mark.parametrize("rhythm", RHYTHMS)
@pytest.mark.parametrize("meter", ["4/4", "3/4", "6/8"])
@pytest.mark.parametrize("rest_every", [0, 4])
def test_rhythms_with_and_without_rests(rhythm, meter, rest_every):
    wanted = Shapes(rhythm=rhythm, rest_every=rest_every)
    (part,) = practice_path(chart("C", meter=meter), wanted, Player()).parts
    assert line_overlaps(part) == []
    assert len(part.notes) == sum(len(shape.path) for shape in chord_shapes(C, STANDARD))


def test_rests_fall_on_every_fourth_slot():
    (part,) = practice_path(
        chart("C"), Shapes(forms=("E",), rhythm="quarters", rest_every=4), Player()
    ).parts
    assert [note.onset_beats for note in part.notes[:6]] == [0, 1, 2, 4, 5, 6]


def test_a_key_cycle_plays_the_form_on_every_root():
    plan = practice_path(chart("C7"), Shapes(cycle="fourths", forms=("E",)), Player())
    roots = [cue.text.split(",")[0] for cue in plan.cues]
    assert roots[:5] == ["C7", "F7", "Bb7", "Eb7", "Ab7"]
    assert len(set(roots)) == 12


def test_scales_have_the_same_exercises():
    wanted = ShapeSequence(pattern="groups of four", scale="dorian", forms=("A",))
    plan = sequence_study(chart("Dm7"), wanted, Player())
    assert {str(note.degree) for note in plan.parts[0].notes} == {"1", "2", "b3", "4", "5", "6", "b7"}


TYPES = "C Cm C7 Cmaj7 Cm7 Cm7b5 Cdim7 C6 Cm6 C9 Cmaj9 C13 Csus4 Caug".split()
SHORTEST = {"quarters": 1, "eighths": 1 / 2, "triplets": 1 / 3, "sixteenths": 1 / 4, "dotted": 1 / 4}


@pytest.mark.parametrize(
    ("name", "rhythm"),
    [  # every pattern in every other rhythm, the next one in the others
        (name, rhythm) for turn, name in enumerate(SEQUENCES) for rhythm in list(RHYTHMS)[turn % 2 :: 2]
    ],
)
def test_the_printed_line_as_a_strict_teacher_reads_it(name, rhythm):
    """Every other of fourteen types of chords in all their forms: from the root to the root, in time
    with the bars, onto a beat and held there; groups of three in triplets and of four in sixteenths
    fill a beat [common practice]"""
    row = SEQUENCES[name]
    strings = {0: (), 1: (3,), 2: (2, 3)}[row.strings]
    for symbol in TYPES[list(RHYTHMS).index(rhythm) // 2 % 2 :: 2]:
        wanted = ShapeSequence(pattern=name, rhythm=rhythm, strings=strings)
        plan = sequence_study(chart(symbol), wanted, Player())
        assert len(plan.cues) >= (1 if row.strings else 3), symbol
        for cue in plan.cues:
            notes = within(plan, cue)
            last = notes[-1]
            assert str(notes[0].degree) == str(last.degree) == "1"
            assert notes[0].onset_beats == cue.onset_beats
            assert last.onset_beats % 1 == 0
            assert last.written_end_beats == cue.end_beats
            assert last.duration_beats >= 2 * SHORTEST[rhythm]
            assert last.duration_beats > notes[0].duration_beats or row.held == "first"
            for before, after in pairwise(notes):
                assert before.written_end_beats == after.onset_beats
            if row.approach or (row.group, rhythm) in ((3, "triplets"), (4, "sixteenths")):
                size = row.group
                heads = notes[::size]
                assert all(note.onset_beats % Fraction(1, 2) == 0 for note in heads)
                if rhythm != "sixteenths" or size == 4:
                    assert all(note.onset_beats % 1 == 0 for note in heads)
            if row.approach:
                tones = parse_chord(symbol)
                for note in notes[::size]:
                    assert tones.degree_of(note.midi) is not None
                for place in range(1, len(notes), size):
                    leads, target = notes[place : place + size - 1], notes[place + size - 1]
                    steps = [note.midi - target.midi for note in leads]
                    for side, step in zip(row.approach, steps, strict=True):
                        assert step == -1 if side == "below" else step in (1, 2)


@pytest.mark.parametrize(
    ("name", "rhythm"),
    [("groups of three", "triplets"), ("groups of four", "eighths"), ("triad pairs", "triplets")],
)
def test_a_sequence_that_names_no_rhythm_has_groups_that_fill_beats(name, rhythm):
    wanted = ShapeSequence(pattern=name, forms=("E",))
    plan = sequence_study(chart("Cm7"), wanted, Player())
    assert plan == sequence_study(chart("Cm7"), wanted.model_copy(update={"rhythm": rhythm}), Player())


def test_triad_pairs_go_through_their_inversions_by_turns():
    """[common practice]: F and G over Dm7, each in root position and both inversions"""
    plan = sequence_study(chart("Dm7"), ShapeSequence(pattern="triad pairs", forms=("A",)), Player())
    assert plan.cues[0].text == "Dm7, F and G, A form, position 5"
    notes = plan.parts[0].notes
    groups = [{str(n.pitch.name) for n in notes[at : at + 3]} for at in range(0, len(notes) - 1, 3)]
    assert set(map(frozenset, groups)) == {frozenset("FAC"), frozenset("GBD")}
    assert all(a != b for a, b in pairwise(groups[:6]))


def test_a_sequence_in_a_scale_takes_the_one_that_the_chord_is_read_in():
    """[common practice]: the third chord of a major key is Phrygian"""
    plan = sequence_study(chart("Em7", key="C"), ShapeSequence(pattern="triads", forms=("E",)), Player())
    assert plan.cues[0].text.startswith("Em7, phrygian, E form")
    wished = ShapeSequence(pattern="triads", forms=("E",), scale="dorian")
    plan = sequence_study(chart("Em7", key="C"), wished, Player())
    assert {str(n.degree) for n in plan.parts[0].notes} == {"1", "2", "b3", "4", "5", "6", "b7"}


def test_tempo_steps():
    steps = TempoSteps(Fraction(60), Fraction(90), Fraction(20))
    assert steps.tempos == (60, 80, 90)
    plan = practice_path(chart("C"), Shapes(forms=("G",)), Player())
    climbing = in_tempo_steps(plan, steps)
    assert climbing.length_beats == 3 * plan.length_beats
    assert [change.tempo_bpm for change in climbing.timeline.tempo.changes] == [60, 80, 90]
    assert len(climbing.parts[0].notes) == 3 * len(plan.parts[0].notes)
    assert line_overlaps(climbing.parts[0]) == []
    assert TempoSteps(Fraction(100), Fraction(80), Fraction(10)).tempos == (100, 90, 80)


def test_tempo_steps_that_end_inside_a_study_let_it_finish():
    plan = practice_path(chart("C"), Tour(), Player())
    climbing = in_tempo_steps(plan, TempoSteps(Fraction(60), Fraction(66), Fraction(2), bars_each=2))
    assert [change.onset_beats for change in climbing.timeline.tempo.changes] == [0, 8, 16, 24]
    assert climbing.length_beats == plan.length_beats


def test_compound_tempos_count_dotted_quarters():
    plan = practice_path(chart("C", meter="6/8", tempo=90), Shapes(), Player())
    assert plan.timeline.tempo.tempo_at(Fraction(0)) == 90


@pytest.mark.parametrize("name", ["drop D", "ukulele", "four-string bass", "seven-string"])
def test_other_instruments(name):
    plan = practice_path(chart("Am7"), Tour(), Player(tuning=tuning(name)))
    assert plan.parts[0].notes
    assert plan.parts[0].strings == tuning(name).strings


def test_what_cannot_be_is_refused():
    with pytest.raises(LineError, match="no form 'Q'"):
        practice_path(chart("C"), Shapes(forms=("Q",)), Player())
    with pytest.raises(LineError, match="not a sequence"):
        sequence_study(chart("C"), ShapeSequence(pattern="groups of nine"), Player())
    with pytest.raises(LineError, match="along one string"):
        sequence_study(chart("C"), ShapeSequence(pattern="along one string", strings=(1, 2)), Player())
    with pytest.raises(LineError, match="needs 6 notes"):
        sequence_study(chart("C5"), ShapeSequence(pattern="skips"), Player(tuning=tuning("ukulele")))
    with pytest.raises(LineError, match="no two triads"):
        wanted = ShapeSequence(pattern="triad pairs", scale="minor pentatonic")
        sequence_study(chart("Am7"), wanted, Player())
    with pytest.raises(LineError, match="no chord"):
        practice_path(chart("N.C."), Shapes(), Player())
    with pytest.raises(LineError, match="above 0"):
        in_tempo_steps(
            practice_path(chart("C"), Tour(), Player()),
            TempoSteps(Fraction(60), Fraction(80), Fraction(0)),
        )

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.errors import LineError
from genex.exercises import Player
from genex.exercises.models.asking import Calls
from genex.lines.call import call_and_response
from genex.lines.phrase_places import chord_over
from genex.score import Role, Stroke
from genex.score.checks import equal_pitch_overlaps, line_overlaps
from tests.lines.line_charts import chart

TUNE = "Gm7 | C7 | Fmaj7 | D7b9 | Gm7 C7 | Am7 D7 | Gm7 | F6"


def track(text=TUNE, key="F", two_five_one=True, seed=0, low=None, high=None, **fields):
    player = Player(seed=seed, low=low, high=high)
    return call_and_response(chart(text, key=key), Calls(**fields), player, two_five_one=two_five_one)


def test_no_caption_tells_an_answer_while_the_student_still_plays():
    """An answer stands where it sounds, or after the last silence of its call, to its end."""
    for repeats, answer in ((1, False), (3, False), (1, True), (2, True)):
        plan = track(calls=3, repeats=repeats, answer=answer, bars=1)
        plays = of_kind(plan, "play")
        for number, told in enumerate(plan.answers):
            last = plays[(number + 1) * repeats - 1]
            shown = [cue for cue in plan.cues if told.text in cue.text]
            assert len(shown) == 1
            assert shown[0].onset_beats == last.end_beats
            assert shown[0].end_beats <= plan.length_beats


@given(
    st.integers(1, 6),
    st.sampled_from([1, 2, 4]),
    st.sampled_from([TUNE, "C | G | Am | F", "F7 | Bb7 | F7 | C7"]),
    st.sampled_from(["4/4", "3/4", "6/8"]),
    st.sampled_from([None, "melody", "rhythm"]),
    st.integers(0, 50),
)
@settings(max_examples=60, deadline=None)
def test_every_call_can_be_sung(level, bars, text, meter, only, seed):
    """Within a tenth, one leap beyond a fifth, resolved, a chord tone at the end [common practice]."""
    bars = 2 if level == 6 else bars  # through the changes
    form = chart(text, meter=meter, key="F")
    plan = call_and_response(form, Calls(level=level, bars=bars, calls=4, only=only), Player(seed=seed))
    for answer in plan.answers:
        midis = [note.midi for note in answer.notes]
        assert max(midis) - min(midis) <= 16
        leaps = [n for n, (a, b) in enumerate(pairwise(midis), 1) if abs(b - a) > 7]
        assert len(leaps) <= 1
        pulse = form.meter.pulse_beats
        tones = []
        for note in answer.notes:
            chord = chord_over(plan.timeline, note.onset_beats, note.duration_beats, pulse)
            tones.append(chord is not None and chord.degree_of(note.midi) is not None)
        assert tones[-1] or only == "rhythm"
        for landing in leaps:
            assert tones[landing] or abs(midis[landing + 1] - midis[landing]) <= 2


def test_a_rhythm_alone_is_on_one_note_and_told_as_a_rhythm():
    plan = track(calls=4, level=4, only="rhythm")
    for answer in plan.answers:
        assert len({note.midi for note in answer.notes}) == 1
        pitch, _, rhythm = answer.text.partition(": ")
        assert pitch == str(answer.notes[0].pitch)
        assert rhythm.count("x") == len(answer.notes) and rhythm.count(" | ") == 1


@pytest.mark.parametrize(("level", "meter", "beats"), [(1, "4/4", 2), (4, "4/4", 1), (4, "3/4", 1)])
def test_a_melody_alone_is_in_even_time(level, meter, beats):
    form = chart(TUNE, key="F", meter=meter)
    plan = call_and_response(form, Calls(level=level, calls=5, only="melody"), Player())
    for answer in plan.answers:
        onsets = [note.onset_beats for note in answer.notes]
        assert {b - a for a, b in pairwise(onsets)} == {beats}
        assert answer.notes[-1].written_end_beats < answer.onset_beats + answer.length_beats


def test_answered_over_the_next_chord_degree_for_degree():
    plan = track("Cm7 | F7 | Bbmaj7 | Gm7", key="Bb", calls=4, level=3, bars=1, position=5,
                 answer_over="next chord", answer=True)  # fmt: skip
    (lead,) = plan.parts
    at = plan.timeline.chord_at
    listens, plays = of_kind(plan, "listen"), of_kind(plan, "play")
    assert [cue.text for cue in plays] == [f"Play over {c}" for c in ("F7", "Bbmaj7", "Gm7", "Cm7")]
    for listen, play, answer in zip(listens, plays, of_kind(plan, "answer"), strict=True):
        call, reply = notes_in(lead, listen), notes_in(lead, answer)
        assert at(play.onset_beats).chord == at(answer.onset_beats).chord != at(listen.onset_beats).chord
        assert [n.onset_beats - listen.onset_beats for n in call] == [
            n.onset_beats - answer.onset_beats for n in reply
        ]
        # over seventh chords every degree has its counterpart [common practice]
        assert [n.degree.number for n in call] == [n.degree.number for n in reply]
        assert all(at(answer.onset_beats).chord.degree_of(n.midi) == n.degree for n in reply)
        # the shape stays: where the call rises the answer rises
        assert [b.midi > a.midi for a, b in pairwise(call)] == [
            b.midi > a.midi for a, b in pairwise(reply)
        ]


@pytest.mark.parametrize("level", [1, 2, 3, 4, 5])
def test_answers_over_the_next_chord_resolve_as_the_call_does(level):
    """What is foreign to the chord goes on by step, here as there [common practice]."""
    for seed in range(6):
        plan = track(calls=5, level=level, answer_over="next chord", answer=True, seed=seed)
        (lead,) = plan.parts
        for answer in of_kind(plan, "answer"):
            notes = notes_in(lead, answer)
            chord = plan.timeline.chord_at(answer.onset_beats).chord
            assert chord.degree_of(notes[-1].midi) is not None
            for a, b in pairwise(notes):
                assert chord.degree_of(a.midi) is not None or abs(b.midi - a.midi) <= 3


def test_another_title_has_other_calls():
    one, other = (
        call_and_response(chart(TUNE, key="F"), Calls(calls=4), Player(title=title))
        for title in ("Kettle", "Lantern")
    )
    assert [a.text for a in one.answers] != [a.text for a in other.answers]


def of_kind(plan, kind):
    return [cue for cue in plan.cues if cue.kind == kind]


def notes_in(part, cue):
    return [n for n in part.notes if cue.onset_beats <= n.onset_beats < cue.end_beats]


@given(
    st.integers(1, 6),
    st.sampled_from([1, 2, 4]),
    st.integers(1, 6),
    st.integers(1, 2),
    st.booleans(),
    st.booleans(),
    st.booleans(),
    st.integers(0, 20),
)
@settings(max_examples=40, deadline=None)
def test_properties_of_a_track(level, bars, calls, repeats, answer, announce, signal, seed):
    plan = track(
        level=level, bars=bars, calls=calls, repeats=repeats, answer=answer, announce=announce,
        signal=signal, seed=seed, position=5,
    )  # fmt: skip
    lead = plan.parts[0]
    assert lead.role is Role.LEAD
    assert line_overlaps(lead) == [] and equal_pitch_overlaps(lead) == []
    listens, plays = of_kind(plan, "listen"), of_kind(plan, "play")
    assert len(listens) == len(plays) == calls * repeats
    for listen, play in zip(listens, plays, strict=True):
        # the silence begins where the call ends, and is exactly as long
        assert play.onset_beats == listen.end_beats
        assert play.length_beats == listen.length_beats == 4 * bars
        assert notes_in(lead, listen)
        assert not notes_in(lead, play)
        assert all(
            n.written_end_beats <= play.onset_beats or n.onset_beats >= play.end_beats
            for n in lead.notes
        )
        # under the silence sound the chords of the call
        under = [
            [plan.timeline.chord_at(cue.onset_beats + beat).chord for beat in range(4 * bars)]
            for cue in (listen, play)
        ]
        assert under[0] == under[1]
    assert len(plan.answers) == calls
    assert (
        len(
            {
                tuple((n.onset_beats - a.onset_beats, n.duration_beats, n.midi) for n in a.notes)
                for a in plan.answers
            }
        )
        == calls
    )
    assert all(4 <= n.fretting.fret <= 9 for n in lead.notes)
    if announce:
        assert len(of_kind(plan, "announce")) == calls
    if signal:
        (_, bell) = plan.parts
        assert bell.role is Role.CUE
        assert [n.onset_beats for n in bell.notes] == [cue.onset_beats for cue in plays]
    stages = sum(1 for cue in plan.cues if cue.kind != "answer" or answer)
    announced = len(of_kind(plan, "announce"))
    told = 0 if answer else 4  # a bar for the last answer
    assert plan.length_beats == 4 * bars * (stages - announced) + 4 * announced + told


def test_the_answer_repeats_the_call():
    plan = track(calls=3, answer=True)
    (lead,) = plan.parts
    for listen, answer in zip(of_kind(plan, "listen"), of_kind(plan, "answer"), strict=True):
        calls, answers = notes_in(lead, listen), notes_in(lead, answer)
        assert [(n.onset_beats - listen.onset_beats, n.midi) for n in calls] == [
            (n.onset_beats - answer.onset_beats, n.midi) for n in answers
        ]


def test_strokes_are_down_on_the_beat_and_change_within_a_run():
    """As in a line; and calls without the rule are the same notes."""
    plain, plan = (track(calls=3, level=3, answer=True, strokes=rule) for rule in (None, "alternate"))
    (before,), (part,) = plain.parts, plan.parts
    assert [replace(note, stroke=None) for note in part.notes] == list(before.notes)
    ways = [note.stroke for note in part.notes]
    assert set(ways) == {Stroke.DOWN, Stroke.UP}
    for a, b in pairwise(part.notes):
        runs_on = a.duration_beats < 1 and a.written_end_beats == b.onset_beats
        if runs_on:
            assert a.stroke is not b.stroke
        elif b.onset_beats % 1 == 0:
            assert b.stroke is Stroke.DOWN


def test_captions_say_listen_and_play_and_then_the_answer():
    plan = track(calls=2, bars=2)
    assert [(cue.onset_beats, cue.kind, cue.text.split()[0]) for cue in plan.cues[:3]] == [
        (0, "listen", "Listen"),
        (8, "play", "Play"),
        (16, "answer", plan.answers[0].text.split()[0]),
    ]
    assert plan.cues[2].text == plan.answers[0].text
    last = of_kind(plan, "answer")[-1]
    assert last.end_beats == plan.length_beats


def test_the_announcement_is_the_first_note():
    plan = track(calls=2, announce=True)
    first = plan.parts[0].notes[0]
    assert first.onset_beats == 0 and first.duration_beats == 2
    assert first.midi == plan.answers[0].notes[0].midi
    assert plan.cues[0].text == f"Starting note: {first.pitch.name}"


def test_calls_go_through_the_form():
    plan = track(calls=4, bars=2)
    chords = [plan.timeline.chord_at(cue.onset_beats).chord.symbol for cue in of_kind(plan, "listen")]
    assert chords == ["Gm7", "Fmaj7", "Gm7", "Gm7"]


def test_calls_begin_where_a_chord_sounds():
    plan = track("N.C. | Am7 | D7 | N.C.", key="C", calls=3, bars=1, level=2)
    chords = [plan.timeline.chord_at(cue.onset_beats).chord for cue in of_kind(plan, "listen")]
    assert [chord.symbol for chord in chords] == ["Am7", "D7", "Am7"]


def test_the_form_may_run_on():
    plan = track(calls=2, bars=2, keep_form=True)
    symbols = [bar_chord.chord.symbol for bar_chord in plan.timeline.chords]
    assert symbols == ["Gm7", "C7", "Fmaj7", "D7b9", "Gm7", "C7", "Am7", "D7", "Gm7", "F6", "Gm7"]


def test_levels_rise_evenly():
    plan = track(calls=6, level=1, to_level=6)
    assert [answer.level for answer in plan.answers] == [1, 2, 3, 4, 5, 6]


def test_level_6_begins_with_a_ii_v_i_in_the_key():
    plan = track(calls=2, level=6, bars=4)
    first, second = of_kind(plan, "listen")
    at = plan.timeline.chord_at
    assert [at(first.onset_beats + beat).chord.symbol for beat in (0, 4, 8, 12)] == [
        "Gm7",
        "C7",
        "Fmaj7",
        "Fmaj7",
    ]
    assert at(second.onset_beats).chord.symbol == "Gm7"
    minor = track("Am7 | Dm7", key="A minor", calls=2, level=6, bars=2)
    assert [span.chord.symbol for span in minor.timeline.chords[:3]] == ["Bm7b5", "E7b9", "Am7"]


@given(
    st.sampled_from(
        [
            (TUNE, "F", "4/4"),
            ("Am7 | D7 | Gmaj7 | Cmaj7 | F#m7b5 B7 | Em7 | % | E7", "G", "4/4"),
            ("Am7 | D7 | Gmaj7 | Cmaj7 | F#m7b5 B7 | Em7 | % | E7", "E minor", "6/8"),
            ("F7 | % | Bb7 | % | F7 | % | C7 Bb7 | F7 C7", "F", "12/8"),
        ]
    ),
    st.sampled_from([1, 2, 4]),
    st.booleans(),
    st.integers(0, 30),
)
@settings(max_examples=30, deadline=None)
def test_calls_of_level_6_go_through_a_change_and_resolve_a_guide_tone(tune, bars, own, seed):
    text, key, meter = tune
    wanted = Calls(level=6, calls=4, bars=bars), Player(seed=seed)
    plan = call_and_response(chart(text, key=key, meter=meter), *wanted, two_five_one=not own)
    for answer in plan.answers:
        resolutions = []
        for before, after in pairwise(answer.notes):
            pulse = plan.timeline.meter.pulse_beats
            old, new = (
                chord_over(plan.timeline, note.onset_beats, note.duration_beats, pulse)
                for note in (before, after)
            )
            if old != new and before.degree in old.guide_tones:
                resolutions.append(abs(after.midi - before.midi))
        assert any(1 <= step <= 2 for step in resolutions)


def test_level_6_takes_the_ii_v_i_first_and_then_the_changes_of_the_tune():
    text = "F6 | % | Bb7 | % | F6 | % | Cm7 | F7"
    plan = track(text, calls=4, level=6, bars=2)
    under = [
        [str(plan.timeline.chord_at(cue.onset_beats + beat).chord) for beat in (0, 2, 4)]
        for cue in of_kind(plan, "listen")
    ]
    assert under[:2] == [["Gm7", "C7", "Fmaj7"]] * 2
    # two bars of one chord are passed over: the call begins where it meets a change
    assert all(len(set(chords)) > 1 for chords in under[2:])


def test_a_call_that_comes_again_is_fingered_again_as_before():
    plan = track(calls=5, level=5, answer=True, seed=3)
    (lead,) = plan.parts
    for listen, answer in zip(of_kind(plan, "listen"), of_kind(plan, "answer"), strict=True):
        first, again = notes_in(lead, listen), notes_in(lead, answer)
        assert [n.fretting.string for n in first] == [n.fretting.string for n in again]
        assert [n.fretting.finger for n in first] == [n.fretting.finger for n in again]


def test_the_same_seed_gives_the_same_track_and_another_another():
    assert track(seed=1) == track(seed=1)
    assert track(seed=1).parts[0].notes != track(seed=2).parts[0].notes


def test_more_calls_leave_the_first_ones_as_they_were():
    few, many = track(calls=3, position=5), track(calls=6, position=5)
    assert [a.text for a in few.answers] == [a.text for a in many.answers[:3]]


def test_notes_of_a_call_do_not_depend_on_its_repeats():
    once, twice = track(calls=2, position=5), track(calls=2, repeats=2, position=5)
    assert [a.text for a in once.answers] == [a.text for a in twice.answers]


def test_other_meters():
    for meter in ("3/4", "6/8", "12/8", "5/4"):
        plan = call_and_response(chart("Am7 | D7", meter=meter), Calls(level=5, calls=3), Player())
        assert line_overlaps(plan.parts[0]) == []
        for before, after in pairwise(plan.timeline.bars):
            assert before.end_beats == after.onset_beats


@pytest.mark.parametrize(
    ("text", "wrong", "message"),
    [
        ("C7", {"bars": 2}, "longer than the form"),
        ("C7 | %", {"level": 6, "two_five_one": False}, "one chord only"),
        ("C7 | F7", {"level": 6, "calls": 2, "bars": 1}, "no bar of the chart has two chords"),
        ("C7 | F7", {"level": 6, "keep_form": True, "bars": 1}, "no bar of the chart has two chords"),
        ("C7 | F7 | G7 | C7 | F7 | %", {"level": 6, "keep_form": True, "calls": 2}, "call 2 comes to"),
        ("C7 | %", {"answer_over": "next chord"}, "one chord only"),
        ("C7 | %", {"low": 60, "high": 62}, "range holds"),
        ("C7 | %", {"low": 90}, "has no note in position"),
        ("C7 | %", {"position": 24}, "no position"),
        ("N.C. | N.C.", {}, "no chord"),
        ("C7 | %", {"keep_form": True, "answer": True}, "runs on"),
        ("C | %", {"level": 1, "bars": 1, "calls": 100}, "not enough different phrases"),
    ],
)
def test_refusals(text, wrong, message):
    with pytest.raises(LineError, match=message):
        track(text, **wrong)


@pytest.mark.parametrize(("calls", "through"), [(1, 1), (4, 2), (5, 3)])
def test_the_first_half_of_the_calls_of_level_6_goes_through_a_two_five_one(calls, through):
    """In C a ii-V-I is Dm7 G7 Cmaj7 [common practice]; the chart has none of these chords."""
    plan = track("Am7 | D7 | Fmaj7 | E7", key="C", level=6, bars=2, calls=calls)
    symbols = [
        {
            str(span.chord)
            for span in plan.timeline.chords
            if cue.onset_beats <= span.onset_beats < cue.end_beats
        }
        for cue in of_kind(plan, "listen")
    ]
    assert len(symbols) == calls
    assert all({"Dm7", "G7"} <= own for own in symbols[:through])
    assert not any({"Dm7", "G7"} & own for own in symbols[through:])

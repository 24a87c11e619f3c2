"""The chord player: voicings that can be played, that hold the chord and move little."""

from __future__ import annotations

from collections import defaultdict
from fractions import Fraction
from itertools import pairwise, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.band import Heard, groove_names, play_band
from genex.band.groove_files import groove_of
from genex.band.guitar_grips import is_playable
from genex.band.kit import COMPING_GUITARS
from genex.band.playable_voicings import VOICING_STYLES, Voicing, candidates, is_clear, movement
from genex.band.registers import home_centres
from genex.fretboard import STANDARD
from genex.fretboard.held import held_chord
from genex.score import Articulation, Note, Part, Role, Timeline
from genex.text.yaml_source import parse_source
from genex.theory import Chord, Key, NoteName, Pitch, parse_chord
from tests.band.charts import (
    FUNCTIONAL,
    GROOVES,
    QUALITIES,
    TUNES,
    charts,
    for_groove,
    keys,
    reading,
    timeline,
)

F = Fraction
PLAYED = tuple(name for name in groove_names() if GROOVES[name].comping is not None)
STRUCK = tuple(name for name in PLAYED if not GROOVES[name].comping.picked)
FULL = tuple(name for name in STRUCK if "power" not in GROOVES[name].comping.voicings)
MINOR_FREE = set(QUALITIES)


def comping(name: str, line: Timeline, seed: int = 1, **changes: object) -> Part:
    (part,) = play_band(line, GROOVES[name], parts=("comping",), seed=seed, **changes)
    return part


def chords_struck(part: Part) -> list[list[Note]]:
    """The notes of each struck chord, lowest first; muted strums left out."""
    found: dict[Fraction, list[Note]] = defaultdict(list)
    for note in part.notes:
        if note.articulation is not Articulation.DEAD:
            found[note.onset_beats].append(note)
    return [sorted(found[onset], key=lambda note: note.midi) for onset in sorted(found)]


def meant(struck: list[Note], line: Timeline) -> Chord:
    """The chord that a stroke stands for: that of the moment or, struck ahead, the next one."""
    onset = struck[0].onset_beats
    sounding = {note.pitch.pitch_class for note in struck}
    fitting = [
        chord
        for chord in (line.chord_at(onset).chord, line.chord_at(onset + F(3, 4)).chord)
        if chord is not None
        and [n.degree for n in struck] == [chord.degree_of(n.pitch.pitch_class) for n in struck]
    ]
    return min(fitting, key=lambda chord: len(chord.pitch_classes - sounding))


@settings(max_examples=60)
@given(st.sampled_from(PLAYED), charts, keys, st.integers(0, 999))
def test_every_guitar_voicing_is_playable_and_carries_string_and_fret(name, chart, key, seed):
    part = comping(name, for_groove(name, chart, key=str(key)), seed)
    if GROOVES[name].comping.instrument not in COMPING_GUITARS:
        assert all(note.fretting is None for note in part.notes)
        return
    assert part.strings == STANDARD.strings
    for struck in chords_struck(part):
        shape = {note.fretting.string: note.fretting.fret for note in struck}
        assert len(shape) == len(struck)
        assert is_playable(shape)
        for note in struck:
            assert STANDARD.open_midi[note.fretting.string - 1] + note.fretting.fret == note.midi


def test_guide_tones_sound_in_95_percent_of_seventh_chord_voicings():
    heard = chords = 0
    for name, tune_name in product(FULL, TUNES):
        line = for_groove(name, TUNES[tune_name][1], key=TUNES[tune_name][0])
        for struck in chords_struck(comping(name, line)):
            chord = meant(struck, line)
            if chord.find(7) is None:
                continue
            guides = {chord.root.degree(degree).pitch_class for degree in chord.guide_tones}
            chords += 1
            heard += guides <= {note.pitch.pitch_class for note in struck}
    assert chords > 500
    assert heard / chords >= 0.95


@settings(max_examples=40)
@given(st.sampled_from(FULL), charts, keys, st.integers(0, 999))
def test_guide_tones_sound_over_random_chords_too(name, chart, key, seed):
    line = for_groove(name, chart, key=str(key))
    for struck in chords_struck(comping(name, line, seed)):
        chord = meant(struck, line)
        guides = {chord.root.degree(degree).pitch_class for degree in chord.guide_tones}
        if chord.find(7) is not None:
            assert guides <= {note.pitch.pitch_class for note in struck}


def movements(name: str, tune_name: str, seed: int) -> list[float]:
    line = for_groove(name, TUNES[tune_name][1], key=TUNES[tune_name][0], choruses=2)
    found = []
    before: tuple[Chord, list[int]] | None = None
    for struck in chords_struck(comping(name, line, seed)):
        chord, midi = meant(struck, line), [note.midi for note in struck]
        if before is not None and before[0] != chord:
            found.append(movement(before[1], midi))
        before = (chord, midi)
    return found


@pytest.mark.parametrize("name", FULL)
def test_voices_move_two_semitones_or_less_on_average(name):
    # Strummed shapes of four to six strings are held where they lie [common practice].
    most = 2.3 if "open" in GROOVES[name].comping.voicings else 2.0
    for tune_name in FUNCTIONAL:
        moves = movements(name, tune_name, 1) + movements(name, tune_name, 2)
        assert sum(moves) / len(moves) <= most, tune_name


def voiced(symbol: str, key: Key | str, styles: tuple[str, ...], *, on_guitar: bool) -> list[Voicing]:
    """The voicings of a chord by itself in a key."""
    here = reading(symbol, key)
    assert here.chord is not None
    return list(candidates(here.chord, here.scale, styles, on_guitar=on_guitar))


@pytest.mark.parametrize(
    ("chart", "key", "tensions"),
    [
        # the dominant of a minor chord has the flat tensions, whichever chord that is; the dominant
        # on the lowered seventh and V7 of major the natural ones [common practice]
        ("Am7 | D7 | Gm7 | Gm7", "F", "Eb"),
        ("Dm7b5 | G7 | Cm7 | Cm7", "C minor", "Ab"),
        ("Dm7 | G7 | Cmaj7 | Cmaj7", "C", "A"),
        ("Fmaj7 | Bb7 | Cmaj7 | Cmaj7", "C", "C"),
    ],
)
def test_the_tensions_of_a_rootless_voicing_are_those_of_the_chord_s_scale(chart, key, tensions):
    text = 'comping: {instrument: electric piano, voicings: [rootless], rhythms: {"6 - - -": 1}}\n'
    groove = groove_of(parse_source(text, "p.yaml"), "p")
    (part,) = play_band(timeline(chart, key=key), groove, seed=1, humanise=0)
    second_bar = {note.pitch.name for note in part.notes if 4 <= note.onset_beats < 8}
    assert NoteName.parse(tensions) in second_bar


def test_the_distance_is_near_the_brute_force_minimum():
    # the smallest mean movement that any voicings of these chords in this style can have, by
    # exhaustive search over neighbouring pairs [computed]
    names = "Dm7 G7 Cmaj7 Am7 Dm7 G7 Em7 A7".split()
    styles = GROOVES["swing"].comping.voicings
    least = []
    for one, other in zip(names, names[1:] + names[:1], strict=True):
        first = voiced(one, "C", styles, on_guitar=True)
        second = voiced(other, "C", styles, on_guitar=True)
        least.append(
            min(movement(a.midi, b.midi) for a in first for b in second if len(a.midi) == len(b.midi))
        )
    line = timeline(" | ".join(names * 2))
    played: list[float] = []
    before = None
    for struck in chords_struck(comping("swing", line)):
        chord, midi = meant(struck, line), [note.midi for note in struck]
        if before is not None and before[0] != chord:
            played.append(movement(before[1], midi))
        before = (chord, midi)
    assert sum(played) / len(played) <= 2.2 * sum(least) / len(least)


@settings(max_examples=80)
@given(st.sampled_from(QUALITIES), keys, st.sampled_from(VOICING_STYLES), st.booleans())
def test_every_chord_has_a_voicing_in_every_style(quality, key, style, on_guitar):
    found = voiced(f"{key.tonic}{quality}", key, (style,), on_guitar=on_guitar)
    assert found
    for voicing in found:
        assert list(voicing.midi) == sorted(set(voicing.midi))
        assert bool(voicing.frettings) == on_guitar


@pytest.mark.parametrize(
    "quality", ["7b9", "7#9", "7#11", "7b13", "13", "9", "m9", "maj7#11", "7#5", "m7b5"]
)
def test_altered_and_extended_tones_are_heard(quality):
    for root, name in product(("C", "Gb", "A"), ("swing", "straight", "soul", "rock")):
        chord = parse_chord(f"{root}{quality}")
        line = for_groove(name, f"{root}{quality} | {root}{quality}", key="C")
        wanted = chord.degrees[-1] if quality != "7#5" and quality != "m7b5" else chord.find(5)
        for struck in chords_struck(comping(name, line)):
            assert chord.root.degree(wanted).pitch_class in {n.pitch.pitch_class for n in struck}


def stack(text: str) -> list[Pitch]:
    return [Pitch.parse(name) for name in text.split()]


@pytest.mark.parametrize(
    ("style", "symbol", "pitches", "grip"),
    [
        # drop 2 of Cmaj7 60-64-67-71 is 55-60-64-71 [common practice]
        ("drop 2", "Cmaj7", "G3 C4 E4 B4", "xx5557"),
        ("drop 2", "Dm7", "D3 A3 C4 F4", "x5756x"),
        ("drop 3", "Fmaj7", "F2 E3 A3 C4", "1x221x"),
        ("shell", "G7", "G2 F3 B3", "3x34xx"),
        ("shell", "C7", "C3 E3 Bb3", "x323xx"),
        ("triad", "G", "G3 B3 D4", "xxx"),
        ("power", "A5", "A2 E3 A3", "577xxx"),
        ("open", "C", "C3 E3 G3 C4 E4", "x32010"),
        ("open", "Am", "A2 E3 A3 C4 E4", "x02210"),
        ("open", "F", "F2 C3 F3 A3 C4 F4", "133211"),
    ],
)
def test_voicings_are_those_of_the_handbooks(style, symbol, pitches, grip):
    # [common practice]
    found = voiced(symbol, "C", (style,), on_guitar=True)
    assert tuple(pitch.midi for pitch in stack(pitches)) in {voicing.midi for voicing in found}
    if "x" in grip and len(grip) == 6:
        wanted = {6 - i: int(sign) for i, sign in enumerate(grip) if sign != "x"}
        if sorted(STANDARD.open_midi[s - 1] + f for s, f in wanted.items()) == [
            pitch.midi for pitch in stack(pitches)
        ]:
            assert wanted in [{p.string: p.fret for p in voicing.frettings} for voicing in found]


@pytest.mark.parametrize(
    ("symbol", "kind", "pitches"),
    [
        ("Dm7", "A", "F3 A3 C4 E4"),
        ("G7", "B", "F3 A3 B3 E4"),
        ("Cmaj7", "A", "E3 G3 B3 D4"),
        ("Dm7", "B", "C4 E4 F4 A4"),
        ("G7", "A", "B3 E4 F4 A4"),
        ("Cmaj7", "B", "B3 D4 E4 G4"),
    ],
)
def test_rootless_voicings_for_keys(symbol, kind, pitches):
    # types A and B of the left-hand voicings in ii-V-I [common practice]
    found = voiced(symbol, "C", ("rootless",), on_guitar=False)
    assert tuple(pitch.midi for pitch in stack(pitches)) in {voicing.midi for voicing in found}, kind


def test_three_voices_hold_third_and_seventh_in_every_inversion():
    # third and seventh with root or fifth, in close position; a semitone at the bottom is a sound of
    # its own, at the top it is not used [common practice]
    found = {
        " ".join(map(str, voicing.pitches))
        for voicing in voiced("Cmaj7", "C", ("triad",), on_guitar=False)
    }
    assert {"E3 G3 B3", "G3 B3 E4", "B3 E4 G4", "B3 C4 E4", "C4 E4 B4"} <= found
    assert "E3 B3 C4" not in found
    assert all(("E" in names) and ("B" in names) for names in found)


def test_unclear_stacks_are_left_out():
    assert is_clear(stack("G3 C4 E4 B4"))
    assert not is_clear(stack("E3 G3 B3 C4"))  # a semitone under the top note
    assert not is_clear(stack("B2 E3 G3 C4"))  # a minor ninth
    assert not is_clear(stack("E2 G2 B2 D3"))  # thirds in the low register


def test_movement_counts_semitones_a_voice():
    assert movement((53, 57, 60, 64), (53, 57, 59, 64)) == 0.25
    assert movement((60, 64, 67), (60, 64, 67)) == 0
    assert movement((60, 64, 67), (60, 67)) == 1


def test_homes_lie_about_the_centre():
    for key in ("C", "F#", "Bb minor"):
        homes = home_centres(Key.parse(key), ("drop 2",), 59, on_guitar=True)
        assert homes and all(56 <= home <= 62 for home in homes)


def rhythm(pattern: str, chart: str, **changes: object) -> list[tuple[str, str, str]]:
    """Onset, length and chord root of each stroke of a pattern on triads."""
    text = f'comping: {{voicings: [triad], rhythms: {{"{pattern}": 1}}}}\n'
    line = timeline(chart, **changes)
    (part,) = play_band(line, groove_of(parse_source(text, "c.yaml"), "c"), seed=1, humanise=0)
    found = []
    for struck in chords_struck(part):
        root = next(n.pitch.name for n in struck if n.degree is not None and n.degree.number == 1)
        found.append((str(struck[0].onset_beats), str(struck[0].duration_beats), str(root)))
    return found


def test_a_stroke_ahead_takes_the_next_chord_and_silences_its_beat():
    assert rhythm("5 . . .> | 5 - 5 -", "C | F") == [
        ("0", "1", "C"),
        ("7/2", "5/2", "F"),
        ("6", "2", "F"),
    ]


def test_a_stroke_ahead_in_the_last_bar_leads_to_the_first_and_stays_inside():
    assert rhythm("5 . . .>", "C | F")[-1] == ("15/2", "1/2", "C")


def test_chords_inside_a_bar_are_struck_where_they_begin():
    assert rhythm("5 - - -", "C F | G C") == [
        ("0", "2", "C"),
        ("2", "1", "F"),
        ("4", "2", "G"),
        ("6", "1", "C"),
    ]


def test_a_chord_that_is_struck_later_needs_no_stroke_of_its_own():
    assert rhythm("5 . . 5", "C F") == [("0", "1", "C"), ("3", "1", "F")]
    assert rhythm("5 .> - -", "C F") == [("0", "1", "C"), ("3/2", "5/2", "F")]
    assert rhythm("5 . .> -", "C F") == [("0", "1", "C"), ("5/2", "3/2", "F")]


def test_no_chord_is_silence():
    assert [onset for onset, _, _ in rhythm("5 . 5 .", "C | - | F")] == ["0", "2", "8", "10"]


def test_the_loop_begins_with_a_chord():
    assert rhythm(". 5 . 5", "C")[0] == ("0", "1", "C")


def test_picked_voices_are_counted_from_the_bottom_and_ring():
    text = 'comping: {voicings: [triad], picking: {"1 2 3 9": 1}}'.replace("9", "6")
    line = timeline("C")
    (part,) = play_band(line, groove_of(parse_source(text, "c.yaml"), "c"), seed=1, humanise=0)
    midi = [note.midi for note in part.notes]
    assert midi[0] < midi[1] < midi[2] == midi[3]
    assert part.notes[0].end_beats > part.notes[1].start_beats


def test_strings_are_strummed_one_after_the_other():
    line = for_groove("country", "C | F | G | C")
    part = comping("country", line)
    for struck in chords_struck(part):
        starts = [note.start_beats for note in struck]
        if struck[0].onset_beats.denominator == 1:
            assert starts == sorted(starts)
        else:
            assert starts == sorted(starts, reverse=True)
        assert starts[0] != starts[-1]


def test_comping_keeps_clear_of_the_lead():
    line = for_groove("swing", TUNES["cycle"][1])

    def middle(lead: tuple[int, int] | None) -> float:
        keys = lead and [
            Note(F(8 * index), F(4), Pitch.from_midi(key)) for index, key in enumerate(lead)
        ]
        heard = keys and Heard([Part.of("line", Role.EXERCISE, 26, keys)], line)
        part = comping("swing", line, heard=heard)
        return sum(note.midi for note in part.notes) / len(part.notes)

    high, low, free = middle((60, 72)), middle((45, 60)), middle(None)
    assert high < free < low
    assert low - high >= 5.5


@pytest.mark.parametrize("name", PLAYED)
def test_no_narrow_interval_lies_in_the_mud(name):
    """Minor second from E3, major from E flat 3, minor third from C3, major third from B flat 2 [memory:
    low-interval limits as arranging handbooks give them]."""
    limits = {1: "E3", 2: "Eb3", 3: "C3", 4: "Bb2"}
    for key, chart in TUNES.values():
        for struck in chords_struck(comping(name, for_groove(name, chart, key=key))):
            for below, above in pairwise(note.midi for note in struck):
                assert below >= Pitch.parse(limits.get(above - below, "E1")).midi


@pytest.mark.parametrize("name", [n for n in PLAYED if GROOVES[n].comping.instrument in COMPING_GUITARS])
def test_the_fretboard_room_finds_fingers_for_every_grip(name):
    shapes = set()
    for key, chart in TUNES.values():
        for struck in chords_struck(comping(name, for_groove(name, chart, key=key))):
            shapes.add(tuple((note.fretting.string, note.fretting.fret) for note in struck))
    assert all(held_chord(dict(shape), STANDARD) for shape in shapes)


def test_voicing_sorts_by_pitch():
    voicing = Voicing("triad", tuple(stack("C4 E4 G4")))
    assert voicing.midi == (60, 64, 67)
    assert voicing.mean_midi == pytest.approx(63.67, abs=0.01)
    assert not voicing.has_muted_string

"""Recipe to Score: where recipe, band and lines meet."""

from fractions import Fraction as F

import pytest

from genex.compose import Composer, build_timeline, compose, tempo_note, usual_of_feel
from genex.errors import InputError
from genex.recipe import parse_recipe
from genex.resources import example_recipes
from genex.score import Role

CHART = "chords: Gm7 | C7 | Fmaj7 | D7b9 |\n"
SECTIONS = "sections: {A: Gm7 | C7, B: {chords: Fmaj7 | D7b9, rest: drums guide}}\nform: A B A\n"


def score_of(text):
    return compose(parse_recipe(text)).score


def test_two_lines_give_a_band_and_a_guide_line():
    score = score_of(CHART + "tempo: 132")
    assert {part.name for part in score.parts} == {"guide", "drums", "bass", "comping"}
    assert score.length_beats == 16
    assert score.tempo.tempo_at(F(0)) == 132
    assert score.lead_in.length_beats == 4
    assert all(part.notes for part in score.parts)


def test_all_five_parts():
    score = score_of(CHART + "exercise: arpeggio")
    assert len(score.parts) == 5
    assert all(note.fretting for part in score.lead_parts for note in part.notes)


def test_only_the_parts_that_are_wanted():
    assert [part.name for part in score_of(CHART + "parts: bass").parts] == ["bass"]


def test_a_click_is_there_only_if_asked_for():
    assert "click" not in {part.name for part in score_of(CHART).parts}
    score = score_of(CHART + "click: {beats: two and four, play_bars: 2, drop_bars: 2}")
    assert [str(note.onset_beats) for note in score.part("click").notes] == ["1", "3", "5", "7"]
    assert [part.name for part in score_of(CHART + "parts: click").parts] == ["click"]


@pytest.mark.parametrize("name", ["drums", "bass", "comping", "guide"])
def test_minus_one(name):
    assert name not in {part.name for part in score_of(CHART + f"minus: {name}").parts}


def test_the_band_trades_with_the_player():
    score = score_of(CHART + "repeats: 2\ntrade: 4\ntrade_with: drums")
    assert any(note.onset_beats >= 16 for note in score.part("drums").notes)
    assert not any(note.onset_beats >= 16 for note in score.part("bass").notes)


def test_the_timeline_knows_what_the_chart_repeats():
    chart = "sections: {A: '|: C | F | [1. G :| [2. C', B: 'Am | |: Dm :|x3'}"
    recipe = parse_recipe(chart + "\nform: A B\nrepeats: 2")
    found = build_timeline(recipe, recipe.versions[0]).repeats
    assert [(r.onset_beats, r.body_beats, r.ending_beats) for r in found] == [
        (0, 8, (4, 4)), (28, 4, (0, 0, 0)), (40, 8, (4, 4)), (68, 4, (0, 0, 0)),
    ]  # fmt: skip


def test_intro_and_outro_are_played_once():
    score = score_of("sections: {i: G7, A: C | F, o: C}\nintro: i\noutro: o\nform: A\nrepeats: 2")
    assert [section.name for section in score.timeline.sections] == ["i", "A", "A", "o"]
    assert [bar.form_number for bar in score.timeline.bars] == [0, 1, 2, 1, 2, 3]


def test_a_take_ends_and_a_loop_leads_back():
    recipe = parse_recipe(CHART + "repeats: 2")
    loop, take = compose(recipe).score, compose(recipe, ending=True).score
    last = take.timeline.bars[-1].onset_beats
    assert {n.onset_beats for n in take.part("bass").notes if n.onset_beats >= last} == {last}
    assert len({n.onset_beats for n in loop.part("bass").notes if n.onset_beats >= last}) > 1


def test_tempo_steps_play_everything_at_rising_tempos():
    timeline = score_of(CHART + "tempo_steps: {start: 80, end: 100, step: 10}").timeline
    assert [change.tempo_bpm for change in timeline.tempo.changes] == [80, 90, 100]
    assert len(timeline.bars) == 12


def test_choruses_follow_one_another():
    timeline = score_of(CHART + "repeats: 3").timeline
    assert len(timeline.bars) == 12
    assert [bar.chorus for bar in timeline.bars[::4]] == [1, 2, 3]
    assert [bar.form_number for bar in timeline.bars[:5]] == [1, 2, 3, 4, 1]


def test_sections_and_who_rests_in_them():
    score = score_of(SECTIONS)
    assert [(s.name, s.onset_beats) for s in score.timeline.sections] == [("A", 0), ("B", 8), ("A", 16)]
    for name in ("drums", "guide"):
        onsets = [note.onset_beats for note in score.part(name).notes]
        assert onsets and not any(8 <= onset < 16 for onset in onsets)
    assert any(8 <= note.onset_beats < 16 for note in score.part("bass").notes)


@pytest.mark.parametrize(
    ("meter", "tempo", "quarters"),
    [("4/4", "120.5", F(241, 2)), ("12/8", "60", F(90)), ("7/8", "140", F(140))],
)
def test_a_tempo_counts_the_beat_of_the_meter(meter, tempo, quarters):
    recipe = parse_recipe(f"chords: C\nmeter: {meter}\ntempo: {tempo}")
    assert build_timeline(recipe, recipe.versions[0]).tempo.tempo_at(F(0)) == quarters


def test_a_recipe_in_other_keys_and_tempos():
    recipe = parse_recipe(CHART + "keys: [F, Ab]\ntempos: [100, 120.5]")
    scores = [compose(recipe, version).score for version in recipe.versions]
    assert [v.suffix for v in recipe.versions] == [".F.100", ".F.120.5", ".Ab.100", ".Ab.120.5"]
    assert [str(s.timeline.key) for s in scores] == ["F major"] * 2 + ["Ab major"] * 2
    assert " ".join(str(span.chord) for span in scores[2].timeline.chords) == "Bbm7 Eb7 Abmaj7 F7b9"


def test_the_same_seed_plays_the_same_notes_and_another_seed_others():
    first, again, other = (score_of(CHART + f"seed: {seed}\nrepeats: 4") for seed in (5, 5, 6))
    assert first == again
    assert first.part("drums") != other.part("drums")


def test_lead_lines_swing_in_sound_and_stay_straight_in_writing():
    score = score_of(CHART + "exercise: arpeggio\nfeel: swing\ntempo: 120")
    line = score.part("exercise").notes
    offbeats = [note for note in line if note.onset_beats % 1 == F(1, 2)]
    assert offbeats
    assert all(note.start_beats > note.onset_beats for note in offbeats)
    straight = CHART + "exercise: arpeggio\nfeel: swing\nswing: 1"
    exact = score_of(straight + "\nhumanise: 0").part("exercise").notes
    assert all(note.start_beats == note.onset_beats for note in exact)
    played = score_of(straight).part("exercise").notes
    written = [[(n.onset_beats, n.duration_beats, n.pitch) for n in notes] for notes in (exact, played)]
    assert written[0] == written[1]
    assert 0 < max(abs(note.start_beats - note.onset_beats) for note in played) < F(1, 20)


def test_the_mix_of_a_recipe_changes_the_feels_own():
    plain = score_of(CHART).part("bass").mix
    changed = score_of(CHART + "mix: {bass: {level: -3, pan: 0.5}}").part("bass").mix
    assert changed.level_db == plain.level_db - 3
    assert (changed.pan, changed.room) == (0.5, plain.room)


def test_no_count_in_where_none_is_wanted():
    assert score_of(CHART + "count_in: 0").lead_in is None
    assert score_of(CHART + "count_in: 2").lead_in.length_beats == 8


@pytest.mark.parametrize(
    ("more", "place", "message", "hint"),
    [
        ("feel: swung", "2:7", "no feel 'swung'", "swing"),
        ("feel: ./mine.yaml", "2:7", "no groove file", "as seen from the recipe"),
        ("guide: {sound: clarinette}", "2:16", "no sound 'clarinette'", "clarinet"),
        ("tuning: drop Q", "2:9", "drop Q", None),
        ("tuning: [E2, X]", "2:9", "X", None),
        ("exercise: {kind: arpeggio, position: 24}", "2:11", "position 24", "fret"),
        ("meter: 3/4\nfeel: bossa", "3:7", "no pattern for 3/4", None),
    ],
)
def test_what_cannot_be_played_is_said_with_its_place(more, place, message, hint):
    with pytest.raises(InputError) as caught:
        score_of(CHART + more)
    assert str(caught.value.place) == f"recipe.yaml:{place}"
    assert message in caught.value.message
    assert hint is None or hint in caught.value.hint


@pytest.mark.parametrize(
    "meter", ["2/2", "2/4", "3/4", "3/8", "4/4", "5/4", "6/4", "6/8", "7/8", "9/8", "11/8", "12/8"]
)
@pytest.mark.parametrize("more", ["", "exercise: shapes\n"])
def test_every_usual_meter_has_a_band_without_asking(meter, more):
    score = score_of(CHART + more + f"meter: {meter}")
    for name in ("drums", "bass", "comping"):
        assert score.part(name).notes, name


def test_a_meter_without_a_band_says_so():
    with pytest.raises(InputError, match="no band feel is made for 13/8") as caught:
        score_of(CHART + "meter: 13/8")
    assert "feel: click" in caught.value.hint
    assert str(caught.value.place) == "recipe.yaml:2:8"
    assert score_of(CHART + "meter: 13/8\nfeel: click").part("drums").notes


def test_a_chart_without_chords_in_places():
    score = score_of("chords: N.C. | Gm7 | N.C. | C7\nexercise: arpeggio")
    for part in score.parts:
        if part.role in (Role.GUIDE, Role.EXERCISE, Role.BASS, Role.COMPING):
            assert not any(note.onset_beats < F(3) for note in part.notes), part.name


@pytest.mark.parametrize(
    ("more", "field"),
    [
        ("tempo_steps: {start: 20, end: 400, step: 0.5, bars: 256}", "2:14"),
        ("exercise: {kind: shapes, cycle: fourths, times: 32, rest_bars: 8}", "2:11"),
        ("exercise: {kind: calls, calls: 100, repeats: 8, bars: 4, answer: true}", "2:11"),
    ],
)
def test_a_piece_that_nobody_would_sit_through_is_refused(more, field):
    with pytest.raises(InputError, match="bars") as caught:
        score_of(CHART + more)
    assert str(caught.value.place) == f"recipe.yaml:{field}"


def test_the_click_rests_too():
    score = score_of("sections: {A: C, B: {chords: F, rest: click}}\nform: A B\nclick: {}\n")
    assert {note.onset_beats < 4 for note in score.part("click").notes} == {True}


def test_a_phrase_of_ones_own_is_played_over_the_recipes_chords(tmp_path):
    import mido

    file = mido.MidiFile(ticks_per_beat=480)
    track = mido.MidiTrack()
    file.tracks.append(track)
    for midi in (62, 65, 69, 72, 71, 67, 65, 62):
        track.append(mido.Message("note_on", note=midi, velocity=80))
        track.append(mido.Message("note_off", note=midi, time=480))
    file.save(tmp_path / "phrase.mid")
    recipe = parse_recipe(
        "chords: Dm7 | G7\nkey: C\nexercise: {kind: positions, phrase: phrase.mid}\n",
        str(tmp_path / "recipe.yaml"),
    )
    score = compose(recipe).score
    assert {str(span.chord) for span in score.timeline.chords} == {"Dm7", "G7"}
    assert [note.midi for note in score.part("exercise").notes][:8] == [62, 65, 69, 72, 71, 67, 65, 62]
    assert score.part("bass").notes


def test_the_size_of_the_hand_decides_fingerings():
    wide = "chords: Gm7 | C7 | Fmaj7\nexercise: {kind: arpeggio, position: 1}\nhand: "
    small, large = score_of(wide + "small"), score_of(wide + "large")
    assert small.part("exercise") != large.part("exercise")


def test_the_guide_line_keeps_its_range():
    notes = score_of(CHART + "guide: {low: C4, high: B4}").part("guide").notes
    assert all(60 <= note.midi <= 71 for note in notes)


def test_a_scale_wished_for_is_played_in_every_key():
    recipe = parse_recipe(
        "chords: Dm7 | G7 | CM7\nkey: C\nkeys: [C, Eb]\n"
        "exercise: {kind: scales, scales: {G7: altered, Cmaj7: lydian}}\n"
    )
    for version, dominant in zip(recipe.versions, (7, 10), strict=True):
        line = compose(recipe, version).score.part("exercise").notes
        over_dominant = {note.midi % 12 for note in line if 4 <= note.onset_beats < 8}
        assert over_dominant <= {(dominant + step) % 12 for step in (0, 1, 3, 4, 6, 8, 10)}


def test_a_turnaround_leads_back_in_every_chorus_but_the_last_of_the_take():
    recipe = parse_recipe("chords: Dm7 | G7 | C | C\nturnaround: Em7 A7\nrepeats: 2\n")
    loop, take = compose(recipe).score, compose(recipe, ending=True).score
    chords = [str(span.chord) for span in loop.timeline.chords]
    assert chords == ["Dm7", "G7", "C", "Em7", "A7"] * 2
    assert [str(span.chord) for span in take.timeline.chords][-4:] == ["Dm7", "G7", "C", "C"]


def test_calls_are_the_exercise_in_mix_and_rest():
    text = "chords: C7 | F7\nexercise: {kind: calls, calls: 2}\n"
    plain, softer = score_of(text), score_of(text + "mix: {exercise: {level: -6}}")
    assert softer.part("call").mix.level_db == plain.part("call").mix.level_db - 6


def test_stops_come_at_every_tempo_of_a_ladder():
    score = score_of(CHART + "stops: 4\ntempo_steps: {start: 80, end: 100, step: 10}")
    for turn in range(3):
        start = 16 * turn + 12
        struck = {n.onset_beats for n in score.part("bass").notes if start <= n.onset_beats < start + 4}
        assert struck == {start}
    assert [bar.chorus for bar in score.timeline.bars][::4] == [1, 2, 3]


def usual(text):
    return parse_recipe(text, usual_of=usual_of_feel)


@pytest.mark.parametrize(
    ("feel", "meter", "tempo"),
    [
        ("waltz", "3/4", 104),
        ("slow blues", "12/8", 58),
        ("country", "4/4", 108),
        ("click", "4/4", 100),
        ("ballad", "4/4", 62),
    ],
)
def test_a_feel_gives_its_meter_and_tempo_where_none_is_written(feel, meter, tempo):
    recipe = usual(f"chords: C | F\nfeel: {feel}")
    assert (str(recipe.meter), recipe.versions[0].tempo) == (meter, tempo)
    assert compose(recipe).score.timeline.bars[0].meter == recipe.meter


def test_what_is_written_counts_more_than_the_feel():
    recipe = usual("chords: C | F\nfeel: country\nmeter: 2/2\ntempo: 90")
    assert (str(recipe.meter), recipe.versions[0].tempo) == ("2/2", 90)
    plain = usual("chords: C | F")
    assert (str(plain.meter), plain.versions[0].tempo) == ("4/4", 110)
    with pytest.raises(InputError, match="no pattern for 4/4") as caught:
        compose(usual("chords: C\nmeter: 4/4\nfeel: waltz"))
    assert "'waltz' is played in 3/4" in caught.value.hint


def test_a_groove_file_gives_its_meter_too():
    path = str(example_recipes() / "mine.yaml")
    text = "chords: Dm7 | G7\nfeel: ./grooves/harbour-six.yaml"
    assert str(parse_recipe(text, path, usual_of_feel).meter) == "6/8"
    with pytest.raises(InputError, match="no groove file") as caught:
        usual("chords: C\nfeel: ./none.yaml")
    assert str(caught.value.place) == "recipe.yaml:2:7"


@pytest.mark.parametrize(
    ("more", "note"),
    [
        ("feel: ballad\ntempo: 260",
         "recipe.yaml:3:8: note: tempo 260 lies outside 48 to 84, which the feel 'ballad' is "
         "made for; in 4/4 these suit: fast-swing"),
        ("tempos: [60, 120, 300]",
         "recipe.yaml:2:9: note: tempo 60 and 300 lies outside 90 to 210, which the feel 'swing' "
         "is made for; no other feel in 4/4 suits"),
        ("feel: funk\ntempo_steps: {start: 60, end: 160, step: 5}",
         "recipe.yaml:3:14: note: tempo 60 to 75 and 130 to 160 lies outside 80 to 126, which the "
         "feel 'funk' is made for; in 4/4 these suit: bed, straight"),
        ("meter: 12/8", "recipe.yaml:2:8: note: tempo 110 lies outside 42 to 84"),
        ("feel: ballad", None),
        ("tempo: 90", None),
        ("tempo: 210", None),
        ("tempo: 300\nparts: guide", None),
        ("tempo: 300\nfeel: click", None),
    ],
)  # fmt: skip
def test_a_note_on_tempos_that_the_feel_is_not_made_for(more, note):
    found = tempo_note(usual(CHART + more))
    assert found is None if note is None else found.startswith(note)


@pytest.mark.parametrize(
    "exercise",
    [
        "guide: {rhythm: anticipated}",
        "exercise: {kind: arpeggio}",
        "exercise: {kind: scales}",
        "exercise: {kind: targets}",
        "exercise: {kind: etude}",
        "exercise: {kind: calls}",
        "exercise: {kind: tour}",
        "exercise: arpeggio\ntempo_steps: {start: 90, end: 100, step: 10}",
    ],
)
def test_versions_are_the_same_in_company_and_alone(exercise):
    # An etude is the same at 90 and 180, and has longer phrases from 200 on.
    tempos = "tempos: [90, 180, 210]" if "etude" in exercise else "tempos: [90, 180]"
    tempos = "" if "tempo_steps" in exercise else tempos
    tune = parse_recipe(f"{CHART}{exercise}\nkeys: [C, Eb]\n{tempos}\nseed: 5")
    composer = Composer(tune)
    for version in (*tune.versions, *tune.versions):
        for ending in (False, True):
            together = composer.piece(version, ending=ending)
            assert together == compose(tune, version, ending=ending)


def test_an_etude_is_written_once_for_all_tempos_that_it_does_not_hear():
    chart = "key: F\nchords: 'F | Dm7 | Gm7 | C7 | F | D7 | Gm7 C7 | F'\nparts: exercise\n"
    tune = parse_recipe(f"{chart}exercise: etude\ntempos: [90, 180, 210]")
    composer = Composer(tune)
    slow, brisk, fast = (composer.piece(version).score.parts[0] for version in tune.versions)
    assert [note.fretting for note in slow.notes] == [note.fretting for note in brisk.notes]
    assert all(a.fretting is b.fretting for a, b in zip(slow.notes, brisk.notes, strict=True))
    assert [note.onset_beats for note in slow.notes] != [note.onset_beats for note in fast.notes]


def test_drums_are_composed_once_for_all_keys_of_loop_and_take():
    tune = parse_recipe(CHART + "keys: [C, Eb, F]\ntempo: 120")
    composer = Composer(tune)
    drums = {
        ending: {
            id(composer.piece(version, ending=ending).score.part("drums")) for version in tune.versions
        }
        for ending in (False, True)
    }
    assert {ending: len(found) for ending, found in drums.items()} == {False: 1, True: 1}

"""Tab read back: what genex prints of every kind of exercise, and what people type."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction as F
from itertools import cycle, groupby

import pytest

from genex.compose import compose
from genex.errors import ChartFileError
from genex.exercises import kinds
from genex.export.phrases import words
from genex.export.tab import tab_text
from genex.fretboard import STANDARD, TUNINGS
from genex.readers.lines.places import in_file
from genex.readers.lines.tab_line import read_tab_line
from genex.recipe import parse_recipe
from genex.score import Articulation, Bend, Legato, Meter, Note, Part, Stroke
from genex.theory import Key

OWN = {
    "line": """
  kind: line
  abc: |
    L:1/4
    A .B !slide![ce] z/d/ | !dead!a !ghost!g z2 |
    w: one two
    (E/=F/) !hammer-on!^F/!pull-off!=F/ !bend!vA !half-bend-release!uB | !vibrato!!accent!A4 |
    !let-ring!!bend-release!A !half-bend!!let-ring!!accent!e z2 |""",
    "lick": '{kind: lick, abc: "L:1/4\\nE G B d |"}',
    "drill": "{kind: drill, ask: interval}",
}
NAMES = cycle(TUNINGS)
LANGUAGES = cycle(("en", "de-x-german", "fr-x-solfege", "pt-x-solfege"))
CASES = [(kind, next(NAMES), next(LANGUAGES)) for kind in kinds()]


def read(text, meter="4/4", key="C", tuning=STANDARD, note_names="english"):
    around = (Meter.parse(meter),), Key.parse(key), tuning
    return read_tab_line(text, in_file("lick.tab"), *around, note_names=note_names)


def printed(part: Part, length_beats: F) -> Iterator[tuple[object, ...]]:
    """What tab tells of each note: time, place, finger, signs. A stroke ends where the next begins."""
    strokes = [list(notes) for _, notes in groupby(part.notes, key=lambda note: note.onset_beats)]
    ends = [*(notes[0].onset_beats for notes in strokes[1:]), length_beats]
    for notes, end in zip(strokes, ends, strict=True):
        length = min(end, max(note.written_end_beats for note in notes)) - notes[0].onset_beats
        for note in notes:
            place = note.fretting
            assert place is not None
            fret = None if note.articulation is Articulation.DEAD else place.fret
            # Of grips only the fingers that change stand there, and no signs of single notes.
            own = (None, None) if part.chordal else (place.finger, technique(note, note.legato))
            yield note.onset_beats, length, place.string, fret, *own, bool(note.slide), note.syllable


def technique(note: Note, legato: Legato | None) -> tuple[object, ...]:
    return note.articulation, note.stroke, note.bend, note.vibrato, note.rings, legato


@pytest.mark.parametrize(("kind", "tuning", "language"), CASES)
def test_a_tab_that_genex_prints_is_read_back(kind, tuning, language):
    exercise = OWN.get(kind, f"{{kind: {kind}}}")
    head = f"chords: Am7 | %\nrepeats: {3 if kind == 'line' else 1}\ntuning: {tuning}"
    recipe = parse_recipe(f"{head}\nparts: exercise\nexercise: {exercise}")
    score = compose(recipe).score
    timeline = score.timeline
    parts = [part for part in score.lead_parts if part.strings and part.notes]
    assert parts
    for part in parts:
        text = tab_text(score, [part.name], language=language)
        found = set()
        around = str(timeline.meter), str(timeline.key), TUNINGS[tuning]
        line = read(text, *around, note_names=words(language)["note_names"])
        for one in line.notes:
            note, dead = one.note, one.note.articulation is Articulation.DEAD
            legato = next((kind for kind in Legato if kind.value == one.legato), None)
            own = (None, None) if part.chordal else (one.finger, technique(note, legato))
            fret = None if dead else one.fret
            found.add(
                (note.onset_beats, note.duration_beats, one.string, fret, *own, bool(note.slide),
                 note.syllable)
            )  # fmt: skip
            assert dead or note.midi == TUNINGS[tuning].open_midi[one.string - 1] + one.fret
        assert found == set(printed(part, score.length_beats))


@pytest.mark.parametrize(
    ("name", "is_read"), [("B", True), ("H", True), ("Si", True), ("Bb", False), ("Sol", False)]
)
def test_strings_by_any_of_their_names(name, is_read):
    rows = [(name if row[0] == "B" else row[0]).ljust(4) + row[2:] for row in COLUMNS.splitlines()]
    text = "\n".join(rows)
    if is_read:
        assert read(text).notes
    else:
        with pytest.raises(ChartFileError, match="string 2 is B in this tuning"):
            read(text)


def struck(text, **around):
    return [
        (one.note.onset_beats, one.string, one.fret, one.note.duration_beats)
        for one in read(text, **around).notes
    ]


TYPED = """\
      Dm7               G7
      q     e e h       rh
e |---------------------|----------------|
B |---------------------|----------------|
G |---------5-----------|----------------|
D |---5-----------7-----|------------5---|
A |-----------7---------|--------7-------|
E |---------------------|----------------|
"""


def test_a_fret_without_a_value_and_a_value_without_a_fret():
    with pytest.raises(ChartFileError, match="no note value stands above this fret") as refused:
        read(TYPED)
    assert str(refused.value.place) == "lick.tab:6:19"
    aligned = TYPED.replace("      q     e e h       rh", "      q     e e   h       rh     e   q.")
    assert struck(aligned) == [
        (0, 4, 5, 1), (1, 3, 5, F(1, 2)), (F(3, 2), 5, 7, F(1, 2)), (2, 4, 7, 2), (6, 5, 7, F(1, 2)),
        (F(13, 2), 4, 5, F(3, 2)),
    ]  # fmt: skip
    assert [(one.onset_beats, one.text) for one in read(aligned).chords] == [(0, "Dm7"), (4, "G7")]
    with pytest.raises(ChartFileError, match="no fret stands below this value") as refused:
        read(aligned.replace("rh", "h "))
    assert str(refused.value.place) == "lick.tab:2:27"


CUT = """\
    Dm7       G7
    h         q   q
e |---------:---------|
B |---------:---------|
G |---------:-5---7---|
D |-7-------:---------|
A |---------:---------|
E |---------:---------|
"""


def test_a_bar_that_is_cut_goes_on_behind_the_colon():
    assert [onset for onset, *_ in struck(CUT)] == [0, 2, 3]
    assert [(one.onset_beats, one.text) for one in read(CUT).chords] == [(0, "Dm7"), (2, "G7")]


COLUMNS = """\
e |----------------|
B |----------------|
G |--------5---5---|
D |----5-7---------|
A |5---------------|
E |----------------|
"""


def with_dashes(text, dashes):
    return "\n".join(line.replace("|", "|" + dashes, 1) for line in text.splitlines())


def test_columns_tell_the_time_where_there_are_no_values():
    assert struck(COLUMNS) == [
        (0, 5, 5, 1), (1, 4, 5, F(1, 2)), (F(3, 2), 4, 7, F(1, 2)), (2, 3, 5, 1), (3, 3, 5, 1),
    ]  # fmt: skip
    assert struck(with_dashes(COLUMNS, "-")) == struck(COLUMNS)
    assert struck(COLUMNS, meter="2/2") == struck(COLUMNS)


SIGNS = """\
e |-----------------|
B |-----------------|
G |---------x--(5)--|
D |-----5/7---------|
A |\\5---------------|
E |-----------------|

   L     >   .
e |----------------|
B |----------------|
G |7b9r7-5h7-7p5-5~|
D |----------------|
A |----------------|
E |----------------|
   d     u
"""


def test_signs_on_the_strings():
    notes = read(SIGNS).notes
    first, low, high, dead, ghost, bent, struck_up, hammered, short, pulled, sways = (
        one.note for one in notes
    )
    assert first.slide.from_semitones == 2  # from nowhere, and from above
    assert low.slide is None
    assert high.slide.from_semitones == -2  # from the note before
    assert dead.articulation is Articulation.DEAD
    assert ghost.articulation is Articulation.GHOST
    assert (bent.bend, bent.rings, bent.stroke) == (Bend(2, releases=True), True, Stroke.DOWN)
    assert (struck_up.articulation, struck_up.stroke) == (Articulation.ACCENT, Stroke.UP)
    assert short.articulation is Articulation.STACCATO
    assert [one.legato for one in notes[5:]] == ["", "", "hammer-on", "", "pull-off", ""]
    assert (hammered.vibrato, pulled.vibrato, sways.vibrato) == (False, False, True)


@pytest.mark.parametrize(
    ("text", "place", "said"),
    [
        ("nothing here", "1:1", "there is no tab here"),
        (COLUMNS.replace("E |----------------|\n", ""), "1:1", "5 strings stand here together"),
        (COLUMNS.replace("A |", "C |"), "5:1", "string 5 is A in this tuning, and C here"),
        (COLUMNS.replace("5-7", "5-%"), "4:10", "the sign '%' is not read"),
        (COLUMNS.replace("|5--", "|99-"), "5:4", "there is no fret 99 on this neck"),
        (COLUMNS.replace("D |----5-7-", "D |----|-7-"), "4:8", "the bar lines do not stand under"),
        (with_dashes(COLUMNS, "---"), "1:3", "19 columns do not part a bar of 4/4 evenly"),
        (COLUMNS.replace("5-7", "5b9"), "4:9", "a bend goes up by one or two frets"),
        (COLUMNS.replace("5-7", "5r7"), "4:9", "nothing is bent that could be let back"),
        (COLUMNS + "      oh\n", "7:7", "no note stands above 'oh'"),
        (with_dashes(COLUMNS, "").replace("5", "-").replace("7", "-"), "1:3", "the line has no notes"),
    ],
)
def test_mistakes_with_their_places(text, place, said):
    with pytest.raises(ChartFileError) as refused:
        read(text)
    assert str(refused.value.place) == f"lick.tab:{place}"
    assert said in refused.value.message
    assert refused.value.hint


def test_fingers_and_words_below_the_strings():
    line = read(COLUMNS + "   2   1 4 1   1\n   oh  the rain\n")
    assert [(one.finger, one.note.syllable) for one in line.notes] == [
        (2, "oh"), (1, "the"), (4, ""), (1, "rain"), (1, ""),
    ]  # fmt: skip


def test_chords_of_a_printed_tab_come_on_their_beats():
    head = "key: C\nchords: Dm7 G7 | C Am7 Dm7 G7 | (3/4) Cmaj7 F Em7\n"
    line = 'exercise: {kind: line, abc: "L:1/4\\nd4 | c3 B/A/ | G3 |"}\n'
    score = compose(parse_recipe(head + line)).score
    found = read(tab_text(score, ["exercise"])).chords
    assert [(one.onset_beats, one.text) for one in found] == [
        (span.onset_beats, str(span.chord)) for span in score.timeline.chords
    ]


ONE_BAR = """\
{chords}
e |-----------------|
B |-----------------|
G |-4---4---4---4---|
D |-----------------|
A |-----------------|
E |-----------------|
"""


def test_chords_above_a_tab_have_the_recipe_s_names_of_notes():
    def typed(chords, note_names):
        line = read(ONE_BAR.format(chords=chords), note_names=note_names)
        return [one.text for one in line.chords]

    assert typed("   H7      B", "german") == ["B7", "Bb"]
    assert typed("   Si7     Mi", "solfege") == ["B7", "E"]
    assert typed("   B7      Bb", "english") == ["B7", "Bb"]
    with pytest.raises(ChartFileError, match="'H7' is no chord symbol by english names") as caught:
        typed("   H7      E", "english")
    assert "note_names: german" in caught.value.hint

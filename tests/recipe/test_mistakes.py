"""What people who write lessons get wrong in a recipe: each is said with its place and its remedy."""

import pytest

from genex.errors import InputError
from genex.recipe import parse_recipe, read_lessons
from genex.recipe.recipe import any_feel

SECTIONS = "sections:\n  A: C | F\n  B: G7\n"

MISTAKES = [
    # the file as a text
    ("title: X\n chords: C | F\n", "2:2", "indented deeper", "same column"),
    ("sections:\n  A: C\n   B: F\nform: A B\n", "3:4", "indented deeper", "same column"),
    ("sections:\n  A: |\n    C\n   B: |\n    F\n", "4:4", "not indented like", "same column"),
    ("title: X\nsections:\nA: C | F\n", "3:1", "no field 'A'", "belongs to 'sections'"),
    ("title: X\nchords: |\nGm7 | C7\nF | C\n", "3:1", "no colon", "indent the lines of a chart"),
    ("exercise:\n\tkind: arpeggio\nchords: C\n", "2:1", "a tab stands here", "with spaces"),
    ("chords:\tC | F\n", "1:8", "a tab stands here", "with spaces"),
    ("title X\nchords: C\n", "1:1", "no colon", "'title: X'"),
    ("title: X\ntempo 120\nchords: C\n", "2:1", "no colon", "'tempo: 120'"),
    ("title: X\nchords: C\ntempo:120\n", "3:1", "no colon", "'tempo: 120'"),
    ("title:X\nchords:C\n", "1:1", "list of fields", "'title: X'"),
    ("chords：C\n", "1:1", "list of fields", "plain colon"),
    ("title: Lesson 1: Rain\nchords: C\n", "1:16", "second colon", 'title: "Lesson 1: Rain"'),
    ("title: Lesson #3\nchords: C\n", "1:15", "rest of the title is lost", "quotes"),
    ('title: "Rain\nchords: C\n', "1:8", "quotes that open here", "close"),
    ("title: @home\nchords: C\n", "1:8", "may not begin with this sign", "quotes"),
    ("chords: % | C\n", "1:9", "may not begin with this sign", "quotes"),
    ("exercise: {kind: arpeggio\ntempo: 100\n", "1:11", "braces that open here", "}"),
    ("- chords: C\n- tempo: 100\n", "1:1", "list of fields", "without the dash"),
    ("Title: X\nchords: C\n", "1:1", "no field 'Title'", "did you mean 'title'?"),
    # fields by other names
    ("chords: C\nbpm: 120\n", "2:1", "no field 'bpm'", "'tempo'"),
    ("chords: C\nstyle: swing\n", "2:1", "no field 'style'", "'feel'"),
    ("chords: C\ntime signature: 3/4\n", "2:1", "no field", "'meter'"),
    ("chords: C\nnumerals: true\n", "2:1", "no field 'numerals'", "under_chords: numerals"),
    ("chords: C\nunder_chords: numeral\n", "2:15", "not one of the words", "did you mean 'numerals'?"),
    ("chords: C\ncount-in: 2\n", "2:1", "no field 'count-in'", "did you mean 'count_in'?"),
    ("about: A feel\nmeters: [4/4]\nchords: C\n", "1:1", "no field 'about'", "groove file"),
    # numbers
    ("chords: C\ntempo: fast\n", "2:8", "not a number", "beats a minute, such as 120"),
    ("chords: C\ntempo: 120 bpm\n", "2:8", "not a number", "write 120"),
    ("chords: C\ntempo: 120,5\n", "2:8", "not a number", "write 120.5"),
    ("chords: C\ntempo: 100-120\n", "2:8", "not a number", "tempos: [100, 120]"),
    ("chords: C\ntempos: 80 to 120\n", "2:9", "list is missing", "{start: 80"),
    ("chords: C\nrepeats: -2\n", "2:10", "-2 is too small", "how many choruses"),
    ("chords: C\nrepeats: x3\n", "2:10", "not a whole number", "write 3"),
    ("chords: C\ncapo: 2nd\n", "2:7", "not a whole number", "write 2"),
    ("chords: C\nswing: 66%\n", "2:8", "not a number", "2 for triplet swing"),
    ("chords: C\naudio: {loudness: 14}\n", "2:19", "too large", "below 0, such as -14"),
    ("chords: C\ntempos: [60]\ntempo_steps: {start: 60, end: 90}\n", "2:1", "both", "a file at each"),
    # keys and note names of other languages
    ("chords: C\nkey: H major\n", "2:6", "not a key", "did you mean B?"),
    ("chords: C\nkey: Es-Dur\n", "2:6", "not a key", "did you mean Eb?"),
    ("chords: C\nkey: B-Dur\n", "2:6", "not a key", "did you mean Bb?"),
    ("chords: C\nkey: Si bémol majeur\n", "2:6", "not a key", "did you mean Bb?"),
    ("chords: C | H7\n", "1:13", "German name", "did you mean B7?"),
    ("chords: Cis7 | F\n", "1:10", "not a chord symbol", "did you mean C#7?"),
    ("chords: Es7 | As\n", "1:10", "not a chord symbol", "did you mean Eb7?"),
    ("chords: C | Sol7\n", "1:13", "not a chord symbol", "did you mean G7?"),
    ("chords: Lam7 | Rem7\n", "1:9", "not a chord symbol", "did you mean Am7?"),
    # charts
    ("chords: gm7 | c7\n", "1:9", "starts with a capital letter", "did you mean Gm7?"),
    ("chords: [Gm7, C7, F]\n", "1:9", "a list stands where a text belongs", "Gm7 | C7"),
    ("chords:\n  A: Gm7\n  B: F\n", "2:3", "fields stand where a text belongs", "'sections'"),
    ("chords: “Gm7 | C7”\n", "1:9", "not a chord", "straight"),
    ("chords: Cmaj7,F,G7\n", "1:9", "not a chord", "bar lines"),
    ("chords: C, F, G7\n", "1:9", "not a chord", "bar lines"),
    ("chords: C - F - G7 - C\n", "1:11", "not a chord", "part bars with |"),
    ("chords: '% | C | F'\n", "1:10", "no bar before this one", "first bar"),
    ("chords: | C | F\n", "1:11", "begins with a bar line", "leave the first | away"),
    ("chords: C | tacet\n", "1:13", "not a chord", "N.C."),
    ("chords: C | F | D.C. al Fine\n", "1:17", "no 'Fine' to go by", "write 'Fine' behind"),
    ("chords: Intro C | F\n", "1:9", "not a chord", "'sections'"),
    ("chords: C | F | x2\n", "1:17", "not a chord", ":|x3"),
    ("chords: C | F | (2x)\n", "1:17", "not a chord", ":|x3"),
    ("chords: C | // | G\n", "1:13", "not a chord", "C / / G"),
    ("chords: C | F |1. G |2. C |\n", "1:16", "not a chord", "[1."),
    ("chords: ii | V | I\n", "1:9", "needs a key", "key: G minor"),
    ("key: C\nchords: ii7 | VIII\n", "2:15", "neither a Roman numeral", "V7/V"),
    ("chords: C | F |1 G :|2 C\n", "1:16", "needs a key", "an ending begins with [1."),
    ("chords: Gm7(4)\n", "1:13", "is called 11", "did you mean Gm7(11)?"),
    # the form
    (SECTIONS + "form: A B C A\n", "4:7", "'C' that is not there", "A, B"),
    (SECTIONS + "form: a b a\n", "4:7", "'a' that is not there", "did you mean 'A'?"),
    (SECTIONS + "form: AABA\n", "4:7", "'AABA' that is not there", "'form: A A B A'"),
    ("sections: {Verse 1: C, B: F}\nform: Verse 1 B\n", "2:7", "'Verse'", "[Verse 1, …]"),
    # words
    ("chords: C\noutputs: mp4\n", "2:10", "'mp4'", "no video"),
    ("chords: C\noutputs: midi mp3\n", "2:10", "'mp3'", "audio: {format: mp3}"),
    ("chords: C\noutputs: pdf\n", "2:10", "'pdf'", "handout"),
    ("chords: C\nparts: drums and bass\n", "2:8", "'and'", "drums bass"),
    ("chords: C\nparts: drums piano\n", "2:8", "'piano'", "comping"),
    ("chords: C\nexercise: guide tones\n", "2:11", "'guide tones'", "parts: drums bass comping guide"),
    ("chords: C\nexercise: drill\n", "2:11", "'ask' is missing", "ask: interval"),
    ("chords: C\nexercise: {kind: scales, scales: {C: mixo}}\n", "2:38", "'mixo'", "mixolydian"),
    (
        "chords: C\nexercise: {kind: scales, scales: {C: C major pentatonic}}\n",
        "2:38",
        "its root",
        "write 'major pentatonic'",
    ),
    ("chords: C\nexercise: {kind: arpeggio, rhythm: 8th}\n", "2:36", "'8th'", "'eighths'"),
    ("chords: C\nkeys: all\n", "2:7", "not a key", "write fourths"),
    ("chords: C\nkey: Am harmonic minor\n", "2:6", "not a key", "write 'A minor'"),
    ("chords: C\nclick: {beats: 2 and 4}\n", "2:16", "'2 and 4'", "two and four"),
    ("chords: C\nhandout: yes\n", "2:10", "fields are missing", "'handout: {}'"),
    ("chords: C\nmix: {drums: -3}\n", "2:14", "fields are missing", "mix: {bass: {level: -3}}"),
    ("chords: C\nhand: left\n", "2:7", "'left'", "left_handed: true"),
]


@pytest.mark.parametrize(("text", "place", "message", "hint"), MISTAKES)
def test_a_mistake_is_said_with_its_place_and_what_to_write_instead(text, place, message, hint):
    with pytest.raises(InputError) as caught:
        parse_recipe(text, "r.yaml")
    error = caught.value
    assert str(error.place) == f"r.yaml:{place}"
    assert message in error.message
    assert hint in error.hint


@pytest.mark.parametrize(
    "text",
    [
        "chords: C | F\ntuning: E2,A2,D3,G3,B3,E4",
        "chords: C / / G7 | N.C. | %",
        "key: C\nchords: ii7 | G7 | 4/5 | 5/5",
        "chords: C | F  # the second bar\ntempo: 100 #slow",
        "chords: C\ntempo: 120\ntempos: [80, 100]",
        'title: "Lesson #3"\nchords: C',
    ],
)
def test_what_looks_like_a_mistake_and_is_none(text):
    assert parse_recipe(text)


@pytest.mark.parametrize(
    ("text", "place", "message", "hint"),
    [
        (
            "lessons: [rain.yaml, term.yaml]",
            "1:22",
            "'term.yaml' is a series itself",
            "list the recipes",
        ),
        ("lessons: rain.yaml", "1:10", "a list is missing", "[rain.yaml, snow.yaml]"),
        ("lessons: [rain.yaml]\ntempo: 90", "2:1", "no field 'tempo'", "into each recipe"),
        ("matrix: {roots: C}", "1:9", "'types' is missing", "types: maj7"),
    ],
)
def test_mistakes_in_a_series(tmp_path, text, place, message, hint):
    (tmp_path / "rain.yaml").write_text("chords: C")
    (tmp_path / "term.yaml").write_text("lessons: [rain.yaml]")
    (tmp_path / "s.yaml").write_text(text)
    with pytest.raises(InputError) as caught:
        read_lessons(tmp_path / "s.yaml", any_feel)
    assert str(caught.value.place).endswith(f"s.yaml:{place}")
    assert message in caught.value.message
    assert hint in caught.value.hint

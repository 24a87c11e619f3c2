"""Sheets to fill in, read back from the PDF: drills, calls, improvising tasks, and the key."""

from __future__ import annotations

from fractions import Fraction

import pytest

from genex.compose import compose
from genex.export.handout import HandoutSettings, handout_pdf
from genex.export.handout.content import handout_data
from genex.publishing.worksheets import task_text, worksheet_of
from genex.recipe import parse_recipe
from tests.export.handout.sheets import pages, squeezed

pytestmark = pytest.mark.usefixtures("as_engraved")


def sheet(exercise: str, chords: str = "Gm7 | C7 | Fmaj7 | D7", key: str = "F") -> list[str]:
    """The pages of the handout that is usual with an exercise."""
    recipe = parse_recipe(f"title: Lamps\nkey: {key}\nchords: {chords}\nexercise: {{{exercise}}}")
    piece = compose(recipe)
    assert recipe.fields.exercise is not None
    settings = HandoutSettings(blocks=recipe.fields.exercise.usual_blocks, worksheet=worksheet_of(piece))
    return pages(handout_pdf(piece.score, settings))


def data(exercise: str, kind: str, chords: str = "Gm7 | C7 | Fmaj7 | D7") -> dict[str, object]:
    piece = compose(parse_recipe(f"key: F\nchords: {chords}\nexercise: {{{exercise}}}"))
    settings = HandoutSettings(blocks=(kind,), worksheet=worksheet_of(piece))  # type: ignore[arg-type]
    (found,) = handout_data(piece.score, settings)["blocks"]
    return dict(found)


@pytest.mark.parametrize(
    ("ask", "choices"),
    [
        ("interval", "minor second · major second"),
        ("chord", "m7"),
        ("inversion", "root position · first inversion · second inversion"),
        ("bass", "1 4 5 1 · 1 7 6 5"),
        ("cadence", "1 · 2 · 3 · 4 · 5 · 6 · 7"),
        ("progression", "I IV V I · I vi ii V"),
    ],
)
def test_a_drill_has_numbered_lines_the_choices_and_the_key_on_its_last_page(
    ask: str, choices: str
) -> None:
    first, *_, last = sheet(f"kind: drill, ask: {ask}, rounds: 2")
    assert squeezed(choices) in squeezed(first)
    piece = compose(
        parse_recipe(f"title: Lamps\nkey: F\nexercise: {{kind: drill, ask: {ask}, rounds: 2}}")
    )
    for answer in piece.answers:
        assert f"{answer.number}." in first
        told = answer.text.partition(":")[2].strip()
        signs = str.maketrans("b#", "♭♯")
        assert squeezed(told).translate(signs) in squeezed(last).translate(signs)
        if ask not in ("progression", "bass"):
            assert not told or squeezed(told) not in squeezed(first), "no answer beside its question"
    assert "Answers" in last and "Answers" not in first


def test_rhythms_to_choose_are_drawn_with_their_letters() -> None:
    found = data("kind: drill, ask: rhythm", "questions")
    assert [one["letter"] for one in found["pictures"]] == list("ABCDEF")  # type: ignore[attr-defined]
    assert found["choices"] == []


@pytest.mark.parametrize(("ask", "signs"), [("progression", 4), ("bass", 4), ("interval", 1)])
def test_an_answer_has_as_many_lines_as_signs(ask: str, signs: int) -> None:
    items = "" if ask == "interval" else ", items: [1 4 5 1, 1 7 6 5]"
    if ask == "progression":
        items = ", items: [I IV V I, I vi ii V]"
    assert data(f"kind: drill, ask: {ask}{items}", "questions")["signs"] == signs


def test_a_call_sheet_is_a_map_of_bars_over_empty_staves() -> None:
    text = " ".join(sheet("kind: calls, calls: 3, bars: 1, repeats: 2"))
    for told in ("listen: bar 1 · play: bar 2 · listen: bar 3 · play: bar 4", "listen: bar 5"):
        assert told in text
    piece = compose(
        parse_recipe("key: F\nchords: Gm7 | C7\nexercise: {kind: calls, calls: 3, bars: 1, repeats: 2}")
    )
    for answer in piece.answers:
        assert answer.text not in text
    found = data("kind: calls, calls: 3, bars: 1", "questions")
    for row in found["rows"]:  # type: ignore[attr-defined]
        (system,) = row["systems"]
        assert 'class="rest"' not in system["svg"] or "visibility" in system["svg"]
        assert 'class="notehead"' not in system["svg"]


def test_a_call_answered_over_the_next_chord_has_staves_for_both() -> None:
    found = data("kind: calls, calls: 2, bars: 1, answer_over: next chord, answer: true", "questions")
    first = found["rows"][0]  # type: ignore[index]
    assert first["turns"] == ["listen: bar 1", "play: bar 2", "compare: bar 3"]
    assert first["systems"][0]["svg"].count('class="measure"') == 2


def test_a_task_tells_its_rules_and_shows_the_notes_on_the_neck() -> None:
    (text, *_) = sheet("kind: improvise, rhythm: given, tones: G Bb C, position: 3")
    assert "Play these notes alone: G B♭ C." in text
    assert "The first finger stays near fret 3." in text
    assert "The rhythm is given" in text
    found = data("kind: improvise, tones: G Bb C, position: 3", "task")
    (neck,) = found["necks"]  # type: ignore[misc]
    for name in ("G", "B♭", "C"):
        assert f">{name}</text>" in neck["svg"]


def test_a_given_rhythm_stands_in_slashes_without_accidentals() -> None:
    found = data("kind: improvise, rhythm: given", "task")
    drawn = " ".join(system["svg"] for system in found["systems"])  # type: ignore[attr-defined]
    assert 'class="notehead"' in drawn
    assert 'class="accid">' not in drawn, "slashes stand for any note"


def test_aims_stand_under_the_chords_of_one_chorus_and_nothing_is_written_out() -> None:
    (text,) = sheet("kind: aims, target: guide")
    text = text.replace("\N{NO-BREAK SPACE}", " ")
    for told in ("B♭ (♭3) F (♭7)", "E (3) B♭ (♭7)", "A (3) E (7)", "F♯ (3) C (♭7)"):
        assert text.count(told) == 1
    assert data("kind: aims", "task")["systems"] == []


def test_the_task_above_the_tab_tells_frets_and_empty_bars() -> None:
    piece = compose(
        parse_recipe("key: F\nchords: Gm7 | C7\nexercise: {kind: improvise, tones: G Bb C, position: 3}")
    )
    assert task_text(piece) == (
        "Play these notes alone: G Bb C. The first finger stays near fret 3. The rhythm\n"
        "is up to you: leave rests.\n"
        "string 4 fret 5 G (2), string 3 fret 3 Bb (4), string 3 fret 5 C (5)\n"
        "Bars 3-6 are left empty, for you.\n\n"
    )
    assert task_text(compose(parse_recipe("chords: C\nexercise: etude"))) == ""
    aims = task_text(compose(parse_recipe("chords: C | G7\nexercise: aims")))
    assert "C: E (3), G7: B (3)" in aims


def test_the_rhythm_of_a_task_is_of_one_chorus() -> None:
    piece = compose(parse_recipe("chords: C | G7\nexercise: {kind: improvise, rhythm: given}"))
    assert piece.task is not None
    assert 0 < max(onset for onset, _ in piece.task.rhythm) < Fraction(8)

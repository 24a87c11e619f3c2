"""Practice notes: what is read off the notes and chords of a score."""

from __future__ import annotations

from tests.export.builders import small_score
from tests.export.handout.sheets import block, empty, row


def test_in_two_five_one_each_seventh_falls_to_the_next_third() -> None:
    # [common practice]
    items = row(empty("Dm7 | G7 | Cmaj7", key="C"), "ears")["items"]
    assert [item["what"] for item in items[:2]] == [
        "C (♭7) falls a half step to B (3)",
        "F (♭7) falls a half step to E (3)",
    ]
    assert [(item["bars"], item["chords"]) for item in items[:2]] == [
        ("2", "Dm7 – G7"),
        ("3", "G7 – Cmaj7"),
    ]


def test_a_change_is_listed_once_with_all_its_bars() -> None:
    items = row(empty("Dm7 | G7 | Dm7 | G7"), "ears")["items"]
    assert [(item["bars"], item["chords"]) for item in items] == [
        ("2, 4", "Dm7 – G7"),
        ("1, 3", "G7 – Dm7"),
    ]


def test_a_chord_that_goes_on_round_the_loop_is_no_change() -> None:
    items = row(empty("Dm7 | G7 | Dm7"), "ears")["items"]
    assert [item["chords"] for item in items] == ["Dm7 – G7", "G7 – Dm7"]


def test_the_place_on_the_neck_is_read_off_the_line() -> None:
    text = row(small_score(), "text")["text"]
    assert text.startswith("Frets 3 to 8; first finger mostly at fret 3")
    assert "begins with finger 3 on string 4, fret 5 (G)" in text
    assert "the hand stays where it is" in text


def test_the_tempo_ladder_ends_at_the_tempo() -> None:
    assert row(small_score(), "tempos")["tempos"] == ["♩ = 72", "♩ = 84", "♩ = 96", "♩ = 108", "♩ = 120"]
    one = row(small_score(), "tempos", tempo_steps=1)["tempos"]
    assert one == ["♩ = 120"]
    rows = block(small_score(), "practice", tempo_steps=0)["rows"]
    assert all(r["kind"] != "tempos" for r in rows)

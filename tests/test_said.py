"""Texts that remember what they are made of."""

from __future__ import annotations

import copy
import pickle

from genex.said import Row, Said


def test_it_is_its_english_text() -> None:
    text = Said("{turn}: {notes}", turn=Said("Turn {number}", number=2), notes=Row("CEG"))
    assert text == "Turn 2: C E G" and f"{text}." == "Turn 2: C E G."
    assert {text: 1}["Turn 2: C E G"] == 1


def test_it_goes_to_other_processes_and_back() -> None:
    text = Said("{name}, {notes}", name="x {y}", notes=Row((1, 2), "-"))
    for same in (pickle.loads(pickle.dumps(text)), copy.copy(text), copy.deepcopy(text)):
        assert (same, same.phrase, same.values) == ("x {y}, 1-2", "{name}, {notes}", text.values)
        assert str(same.values["notes"]) == "1-2"

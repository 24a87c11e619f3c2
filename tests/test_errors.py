"""Errors travel between processes, and their codes are those of the tree."""

from __future__ import annotations

import pickle
from collections.abc import Iterator

import pytest

from genex import errors
from genex.errors import ChordSymbolError, GenexError, InputError, Place


def kinds(kind: type[GenexError] = GenexError) -> Iterator[type[GenexError]]:
    yield kind
    for child in kind.__subclasses__():
        yield from kinds(child)


@pytest.mark.parametrize("kind", sorted(set(kinds()), key=lambda kind: kind.__name__))
def test_an_error_is_the_same_in_another_process(kind: type[GenexError]) -> None:
    place = Place("rain.yaml", 3, 7)
    more = {"symbol": "Hm7", "position": 0} if kind is ChordSymbolError else {}
    error = kind("no such chord", hint="write Bm7", place=place, **more)
    again = pickle.loads(pickle.dumps(error))
    assert type(again) is kind
    assert vars(again) == vars(error)
    assert str(again) == str(error) == "rain.yaml:3:7: no such chord\n  hint: write Bm7"


def test_the_exit_code_tells_whose_fault_it_is() -> None:
    for kind in kinds():
        assert kind.exit_code == (2 if issubclass(kind, InputError) else 1)


def test_the_tree_at_the_top_of_the_file_is_the_tree() -> None:
    text = errors.__doc__ or ""
    for kind in kinds():
        if kind.__module__ == errors.__name__:
            assert kind.__name__ in text

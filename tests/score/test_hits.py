"""Hits as they are counted."""

from fractions import Fraction as F

from genex.score import Meter, counted_hits, parts_of_beat, written_hits


def test_a_hit_is_short_or_held_to_the_next():
    hits = counted_hits([(F(0), "1-"), (F(3, 2), "2&"), (F(7, 4), "2a"), (F(3), "4-")], Meter(4, 4))
    assert [(hit.onset_beats, hit.length_beats) for hit in hits] == [
        (0, F(3, 2)), (F(3, 2), F(1, 4)), (F(7, 4), F(1, 2)), (3, 1),
    ]  # fmt: skip
    assert [hit.is_held for hit in hits] == [True, False, False, True]
    assert [hit.struck_count for hit in hits] == ["1", "2&", "2a", "4"]
    assert written_hits(hits) == "{1- 2& 2a 4-}"
    assert written_hits(counted_hits([], Meter(4, 4))) == "{}"


def test_a_beat_is_parted_as_it_is_counted():
    """1 e & a, and in compound meters 1 & a or 1 la li [common practice]."""
    simple, compound = parts_of_beat(Meter(4, 4)), parts_of_beat(Meter(12, 8))
    assert [simple[part] for part in ("", "e", "&", "a")] == [0, F(1, 4), F(1, 2), F(3, 4)]
    assert [compound[part] for part in ("", "&", "a")] == [0, F(1, 3), F(2, 3)]

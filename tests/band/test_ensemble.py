"""Bands heard as wholes: one time, players who listen, fills by form, choruses that build.

The measures are those of ``tests/band/ensemble.py``, which ``tests/bench/bench_feels.py`` prints for all
feels. Figures without another source are those that a listener asked for.
"""

from __future__ import annotations

from fractions import Fraction
from statistics import fmean

import pytest

from genex.band import groove_names, swing_ratio
from genex.compose import Composer
from genex.recipe import parse_recipe
from tests.band import ensemble
from tests.band.charts import GROOVES

F = Fraction
SHARE = 8
"""One feel in so many is heard in each test, other ones in another; the bench has all of them."""
FEELS = [name for name in groove_names() if GROOVES[name].parts == ("drums", "bass", "comping")]
SWUNG = [name for name in FEELS if GROOVES[name].swing is None]
FREE = [
    name for name in FEELS if not GROOVES[name].comping.picked and GROOVES[name].comping.listening >= 0.6
]


@pytest.mark.parametrize("name", SWUNG[::2])
def test_the_line_is_behind_the_ride_on_the_beat_and_together_with_it_off_the_beat(name):
    """[published: Friberg and Sundström 2002, Music Perception 19(3), abstract]; with 10 to 80 ms
    [published: Nelias et al. 2022: 30 ms at 150; the band about it is ours]."""
    found = ensemble.line_against_cymbals(name)
    assert 10 < found["on"] < 80 * swing_ratio(GROOVES[name].tempo_usual) / 3
    assert abs(found["off"]) < 5


@pytest.mark.parametrize("name", FEELS[::SHARE])
def test_players_drift_together_and_do_not_tremble(name):
    """3 to 6 ms, correlated in time and between players: long-range correlation and ensembles that
    drift together [published: Hennig et al. 2011, PLoS ONE 6(10), e26457; Hennig 2014, PNAS 111(36)]."""
    found = ensemble.moves(name)
    assert 2.5 < found.spread < 7
    assert found.together > 0.4
    assert found.steady > 0.4
    assert found.scatter < found.spread + 2


def test_every_feel_has_its_own_amounts():
    kinds = {
        (g.drift_ms, g.line_ms, g.drums.snare_ms, g.bass.touch.behind_ms, g.comping.touch.behind_ms)
        for g in (GROOVES[name] for name in FEELS)
    }
    assert len(kinds) > 0.7 * len(FEELS)
    for name in FEELS:
        groove = GROOVES[name]
        assert groove.drums.snare_ms > 0, name  # behind the kit [common practice]
        if name != "reggae":  # a bass that lies back [common practice]
            assert groove.bass.touch.behind_ms <= groove.drums.touch.behind_ms


@pytest.mark.parametrize("name", FREE[::SHARE])
def test_chords_are_thinner_under_a_busy_line_than_in_its_rests(name):
    found = ensemble.comping_by_line(name)
    assert found["busy"] <= 0.7 * found["rest"]


@pytest.mark.parametrize(
    "name", [n for n in FEELS if GROOVES[n].comping.listening and n not in FREE][::SHARE]
)
def test_held_or_picked_chords_are_not_struck_more_under_a_busy_line(name):
    found = ensemble.comping_by_line(name)
    assert found["busy"] <= found["rest"]


@pytest.mark.parametrize("name", [name for name in FEELS if name not in FREE][::SHARE])
def test_chords_bound_to_a_pattern_keep_to_it(name):
    """A skank, a train or broken chords go on under a line [common practice]."""
    score = ensemble.played(name)
    struck = {score.timeline.bar_at(note.onset_beats).number for note in score.part("comping").notes}
    assert len(struck) > 0.95 * len(score.timeline.bars)


@pytest.mark.parametrize("name", FEELS[1::SHARE])
def test_fills_are_ranked_and_none_comes_twice_in_a_row(name):
    """Chorus end over section end over phrase end [common practice]. Beds have two fills of a few
    strokes on the cymbals, which only differ in what the time has anyway."""
    allowed = 1 if name.startswith("bed") else 0
    weights: dict[str, list[int]] = {"phrase": [], "section": [], "chorus": []}
    for seed in range(6):
        fills = ensemble.fills_heard(name, seed=seed)
        assert ensemble.repeated_in_a_row(fills) <= allowed
        assert {fill.bar for fill in fills} >= {31, 63, 95}
        for fill in fills:
            weights[fill.ends].append(fill.weight)
    phrase, section, chorus = (fmean(found) for found in weights.values())
    assert phrase <= section < chorus


@pytest.mark.parametrize("name", FEELS[2::SHARE])
def test_all_fills_come_before_one_comes_again(name):
    """The chorus ends of a long piece use every fill that they have."""
    heard = [f for f in ensemble.fills_heard(name, choruses=6) if f.ends == "chorus"]
    large = max(1, len(GROOVES[name].drums.fills) // 2)
    assert len({fill.strokes for fill in heard[:large]}) == large


@pytest.mark.parametrize("name", FEELS[3::SHARE])
def test_the_top_of_each_chorus_is_marked(name):
    assert all(ensemble.marked_tops(name))


@pytest.mark.parametrize("name", ["swing", "rock", "bossa", "funk", "soul", "shuffle", "straight"])
def test_build_up_over_the_choruses_is_heard(name):
    for part in ("drums", "bass", "comping"):
        first, second, third = ensemble.chorus_velocities(name, part)
        assert 7 <= max(second, third) - first <= 16, part
        even = ensemble.chorus_velocities(name, part, "build_up: 0")
        assert max(even) - min(even) < 5


@pytest.mark.parametrize("name", ["swing", "bossa", "straight", "rock"])
def test_drums_answer_where_a_phrase_of_the_line_ends(name):
    """Bars inside sections have a fill more often where the line rests than where it goes on."""
    hits = {True: 0, False: 0}
    bars = {True: 0, False: 0}
    for level in ensemble.LEVELS:
        marked = ensemble.answers(name, level)
        for is_resting, is_marked in marked:
            bars[is_resting] += 1
            hits[is_resting] += is_marked
    assert bars[True] > 15
    assert hits[True] / bars[True] > 2 * hits[False] / bars[False]


@pytest.mark.parametrize("kind", ["etude, level: 4", "changes", "targets", "calls"])
def test_drums_are_the_same_in_all_keys_under_a_line(kind):
    """So that their sound is made once."""
    tune = parse_recipe(f"{ensemble.CHART}keys: [C, F, A]\nexercise: {{kind: {kind}}}")
    composer = Composer(tune)
    drums = [composer.piece(version).score.part("drums") for version in tune.versions]
    assert drums[0] is drums[1] is drums[2]

"""A recipe's chart on the line of time."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from genex.exact import Fraction
from genex.recipe import Recipe, Section, Version
from genex.recipe.jumps import Jump
from genex.recipe.repeats import Repeat
from genex.score import (
    PUSH_BEATS,
    Bar,
    ChordSpan,
    JumpSpan,
    RepeatSpan,
    SectionSpan,
    TempoChange,
    TempoMap,
    TempoSign,
    Timeline,
)
from genex.theory import Chord, Key, Place, Reading, Scale, analyse, transpose_chord, transpose_key


def build_timeline(recipe: Recipe, version: Version, *, ending: bool = False) -> Timeline:
    """Intro, all choruses and outro, in a version's key and tempo.

    Every chorus ends with the turnaround, if there is one; with ``ending`` the last one ends as
    the form is written.

    The intro's bars belong to the first chorus and stand before its bar 1 (``form_number`` 0
    and below), the outro's to the last, behind its last bar.
    """
    draft = _Draft(recipe, version.key)
    intro_bars = sum(len(section.bars) for section in recipe.intro)
    draft.add(recipe.intro, chorus=1, first_number=1 - intro_bars)
    form_bars = sum(len(section.bars) for section in recipe.form)
    for chorus in range(1, recipe.fields.repeats + 1):
        is_last = ending and chorus == recipe.fields.repeats
        form = recipe.form if is_last else _with_turnaround(recipe)
        draft.add(form, chorus=chorus, first_number=1, jumps=recipe.form_jumps)
    draft.add(recipe.outro, chorus=recipe.fields.repeats, first_number=form_bars + 1, is_outro=True)
    return Timeline(
        key=version.key,
        tempo=tempo_map(recipe, version, draft.sections),
        bars=tuple(draft.bars),
        chords=draft.chords,
        sections=tuple(draft.sections),
        repeats=tuple(draft.repeats),
        jumps=tuple(draft.jumps),
        pickup_beats=recipe.pickup_beats,
        signs=draft.obeyed_signs(),
    )


def tempo_map(recipe: Recipe, version: Version, sections: Iterable[SectionSpan]) -> TempoMap:
    """The tempo of a version, in the sections that have their own that, in proportion."""
    own = {
        section.name: TempoChange.of_pulses(
            Fraction(0), section.tempo, section.bars[0].meter or recipe.meter
        )
        for section in recipe.sections
        if section.tempo is not None
    }
    changes: list[TempoChange] = []
    for span in sections:
        change = TempoChange.of_pulses(span.onset_beats, version.tempo, recipe.meter)
        if span.name in own:
            tempo = own[span.name].tempo_bpm / recipe.usual_tempo * version.tempo
            change = TempoChange(span.onset_beats, tempo)
        if not changes or changes[-1].tempo_bpm != change.tempo_bpm:
            changes.append(change)
    return TempoMap(tuple(changes))


def _with_turnaround(recipe: Recipe) -> tuple[Section, ...]:
    """The form with the turnaround in place of its last bars."""
    *before, last = recipe.form
    kept = last.bars[: len(last.bars) - len(recipe.turnaround)]
    return (*before, replace(last, bars=(*kept, *recipe.turnaround)))


def _repeat_span(repeat: Repeat, edges: Sequence[Fraction]) -> RepeatSpan:
    """A section's repeat in beats; ``edges`` are the section's bar lines."""
    at = repeat.first_bar
    onset, body = edges[at], edges[at + repeat.body] - edges[at]
    endings = []
    for count in repeat.endings:
        at += repeat.body + count
        endings.append(edges[at] - edges[at - count])
    return RepeatSpan(onset, body, tuple(endings))


def _jump_span(jump: Jump, edges: Sequence[Fraction]) -> JumpSpan:
    """A section's jump in beats; ``edges`` are the section's bar lines."""
    return JumpSpan(
        name=jump.name,
        leave_name=jump.leave_name,
        target_beats=edges[jump.target],
        leave_beats=edges[jump.leaves + 1],
        onset_beats=edges[jump.at],
        again_beats=tuple(edges[index] for index in jump.again),
        end_beats=edges[jump.end],
        also_leave_beats=tuple(edges[index + 1] for index in jump.also),
    )


class _Draft:
    """Bars, chords, sections and repeats as they are added.

    ``places`` are the chords in the stretches that are read by themselves: intro, choruses, outro;
    ``pushed`` the onsets of those that are struck ahead, ``optional`` the chords in parentheses.
    """

    def __init__(self, recipe: Recipe, target: Key) -> None:
        self.recipe, self.meter, self.source, self.target = recipe, recipe.meter, recipe.key, target
        self.bars: list[Bar] = []
        self.places: list[list[Place]] = []
        self.pushed: set[Fraction] = set()
        self.optional: dict[Fraction, Chord] = {}
        self.sections: list[SectionSpan] = []
        self.repeats: list[RepeatSpan] = []
        self.jumps: list[JumpSpan] = []
        self.signs: list[TempoSign] = []
        self.onset = Fraction(0)

    def add(
        self,
        sections: Iterable[Section],
        *,
        chorus: int,
        first_number: int,
        is_outro: bool = False,
        jumps: Iterable[Jump] = (),
    ) -> None:
        """Sections one after another; ``first_number`` is the first bar's number in the form.

        An outro is played once: its sections are not numbered by the chorus they follow. ``jumps`` are
        counted in the bars of all the sections.
        """
        all_edges = [self.onset]
        number = first_number
        places: list[Place] = []
        self.places.append(places)
        for section in sections:
            start = self.onset
            edges = self._edges(section)
            all_edges += edges[1:]
            self.repeats += [_repeat_span(repeat, edges) for repeat in section.repeats]
            self.jumps += [_jump_span(jump, edges) for jump in section.jumps]
            for place, bar in zip(section.order, section.bars, strict=True):
                meter = bar.meter or self.meter
                self.bars.append(
                    Bar(
                        len(self.bars) + 1,
                        number,
                        chorus,
                        self.onset,
                        meter,
                        section.name,
                        hits=bar.hits,
                    )
                )
                bar_onset = self.onset
                written = section.name, place
                if bar.tempo_word is not None:
                    self._end_ritardando(self.onset)
                    self.signs.append(TempoSign(bar.tempo_word, self.onset, edges[-1], written))
                for index, (symbol, beats) in enumerate(bar.chords):
                    if index in bar.fermatas:
                        end = self.onset + beats
                        self.signs.append(TempoSign("fermata", self.onset, end, (*written, index)))
                    if index in bar.pushed:
                        self.pushed.add(self.onset)
                    if other := dict(bar.optional).get(index):
                        self.optional[self.onset] = transpose_chord(other, self.source, self.target)
                    chord = symbol and transpose_chord(symbol, self.source, self.target)
                    wish = self.recipe.scales.at(
                        number, (self.onset - bar_onset) / meter.pulse_beats + 1
                    )
                    places.append(self._place(section, chord, beats, wish, self.onset == start))
                    self.onset += beats
                number += 1
            self.sections.append(
                SectionSpan(
                    start,
                    self.onset - start,
                    section.name,
                    1 if is_outro else chorus,
                    section.key and transpose_key(section.key, self.source, self.target),
                    section.tempo is not None,
                )
            )
        self.jumps += [_jump_span(jump, all_edges) for jump in jumps]

    def _end_ritardando(self, onset: Fraction) -> None:
        """A ritardando ends where another word stands."""
        words = [index for index, sign in enumerate(self.signs) if sign.name != "fermata"]
        if words and self.signs[words[-1]].end_beats > onset:
            self.signs[words[-1]] = replace(self.signs[words[-1]], end_beats=onset)

    def obeyed_signs(self) -> tuple[TempoSign, ...]:
        """The signs, each obeyed the last time that it comes by."""
        last = {sign.written: sign.onset_beats for sign in self.signs}
        return tuple(
            replace(sign, is_played=sign.onset_beats == last[sign.written]) for sign in self.signs
        )

    def _edges(self, section: Section) -> list[Fraction]:
        """The bar lines of a section that begins here, its end the last."""
        edges = [self.onset]
        for bar in section.bars:
            edges.append(edges[-1] + (bar.meter or self.meter).bar_beats)
        return edges

    def _place(
        self, section: Section, chord: Chord | None, beats: Fraction, scale: Scale | None, starts: bool
    ) -> Place:
        key = section.key and transpose_key(section.key, self.source, self.target)
        return Place(chord, beats, starts, key, scale)

    @property
    def chords(self) -> tuple[ChordSpan, ...]:
        """The chord spans, each with the reading of its harmony."""
        spans: list[ChordSpan] = []
        onset = Fraction(0)
        for places, readings in zip(self.places, self._readings(), strict=True):
            for place, reading in zip(places, readings, strict=True):
                push = PUSH_BEATS if onset in self.pushed else Fraction(0)
                spans.append(
                    ChordSpan(
                        onset, place.length_beats, place.chord, reading, push, self.optional.get(onset)
                    )
                )
                onset += place.length_beats
        return tuple(spans)

    def _readings(self) -> list[tuple[Reading, ...]]:
        """The readings of each stretch. A chorus goes round; the intro is read as leading into the
        first one, the outro as coming from the last."""
        intro, *choruses, outro = self.places
        found: dict[tuple[Place, ...], tuple[Reading, ...]] = {}
        for chorus in choruses:
            if tuple(chorus) not in found:
                found[tuple(chorus)] = self._read(chorus)
        before = self._read([*intro, *choruses[0]], closed=False)[: len(intro)] if intro else ()
        after = self._read([*choruses[-1], *outro], closed=False)[len(choruses[-1]) :] if outro else ()
        return [before, *(found[tuple(chorus)] for chorus in choruses), after]

    def _read(self, places: list[Place], *, closed: bool = True) -> tuple[Reading, ...]:
        scales = {
            transpose_chord(chord, self.source, self.target).symbol: scale
            for chord, scale in self.recipe.scales.by_chord
        }
        return analyse(places, self.target, scales=scales, closed=closed).readings

"""What is made once for all exercises of a lesson: one sheet, one page, one take after another.

The exercises' own files are made as those of any lesson (``version_files.py``).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import cached_property
from typing import TYPE_CHECKING

from genex.compose import Composer, Composition
from genex.exact import Fraction
from genex.export.captions import Turn, turns_csv, turns_json, turns_vtt
from genex.export.joined_midi import joined_midi
from genex.lazy import lazy
from genex.publishing.files import Stage
from genex.publishing.sound_files import SoundOrder, mastered
from genex.publishing.version_files import (
    PAPER_OUTPUTS,
    Outlined,
    Report,
    VersionWriter,
)
from genex.recipe import Recipe, Version

if TYPE_CHECKING:
    from genex import audio
    from genex.audio import Marker, Renderer, Sound
    from genex.page.lesson import PageLesson
    from genex.publishing import page_files, printed_files
    from genex.publishing.kept_sounds import KeptSounds
else:
    audio = lazy("genex.audio")
    page_files = lazy("genex.publishing.page_files")
    printed_files = lazy("genex.publishing.printed_files")

PAUSE_SECONDS = 3
"""Of silence before each take: to read what is announced and to lift the hands."""


class WholeWriter(VersionWriter):
    """Stages what is made of all exercises of a lesson, in one key and tempo of the whole.

    ``turns`` are the exercises in order, each in the version that goes with that of the whole;
    ``pieces`` the first versions of all, if they are known; ``whole`` and ``kept`` as of
    ``VersionWriter``.
    """

    def __init__(
        self,
        recipe: Recipe,
        version: Version,
        composer: Composer,
        stage: Stage | None,
        report: Report,
        pieces: Sequence[Composition] = (),
        whole: Recipe | None = None,
        kept: KeptSounds | None = None,
    ) -> None:
        self.turns = []
        for number, exercise in enumerate(recipe.exercises):
            its, of_exercise = version_for(exercise, version), composer.exercises[number]
            known = pieces[number] if pieces and its == exercise.versions[0] else None
            piece = known or of_exercise.piece(its)
            self.turns.append(VersionWriter(exercise, its, piece, of_exercise, stage, report))
        super().__init__(recipe, version, self.turns[0].piece, composer, stage, report, whole, kept)

    def write_symbolic(self) -> None:
        """Nothing: MIDI, captions and timeline need the takes, whose ringing out counts."""

    def write_printed(self) -> None:
        """The sheet with all exercises, and the same in words."""
        if PAPER_OUTPUTS.isdisjoint(self.wanted):
            return
        self.report(f"{self.prefix}: the sheet")
        pieces = [turn.piece for turn in self.turns]
        for suffix, kind, make in printed_files.lesson_files(self.recipe, pieces):
            self.write(suffix, kind, make())

    def write_audio(self, renderer_for: Callable[[], Renderer]) -> None:
        """The takes one after the other, and what tells of them."""
        if "take" in self.wanted:
            super().write_audio(renderer_for)
            self._write_beside_the_take(self.files[-1].starts)

    def _write_beside_the_take(self, starts: Sequence[int]) -> None:
        """What tells what the take holds, by the frames at which its turns begin."""
        rate_hz = self.recipe.fields.audio.rate
        turns = [
            Turn(turn.take, turn.captions(turn.take), start - PAUSE_SECONDS, start, told)
            for turn, start, told in zip(
                self.turns, (Fraction(at, rate_hz) for at in starts), self._announcements, strict=True
            )
        ]
        for suffix, kind, make in self._beside_the_take():
            self.write(suffix, kind, make(turns, rate_hz))

    def sounds(self) -> Iterator[SoundOrder]:
        """See ``VersionWriter``."""
        if "take" in self.wanted:
            yield self._order

    def _make_sound(self, order: SoundOrder, renderer: Renderer) -> None:
        """See ``VersionWriter``: the takes of the exercises, one after the other."""
        takes, limited, levelled = [], 0.0, 0.0
        for turn in self.turns:
            self.report(f"{self.prefix}: the take of {turn.recipe.title}")
            sound, measured = mastered(self.recipe, renderer.take(turn.take), turn.take, loop=False)
            limited = max(limited, measured.limited_db)
            levelled = max(levelled, measured.levelled_db)
            takes.append(sound)
        rate_hz = renderer.rate_hz
        whole, starts = audio.in_turn(takes, PAUSE_SECONDS * rate_hz)
        takes.clear()
        loudness = audio.integrated_lufs(whole, loop=False)
        peak = audio.true_peak_dbtp(whole, loop=False)
        measured = audio.Measurement(loudness, peak, 0.0, limited, levelled)
        self.store_sound(order, whole, measured, starts)

    def marks(
        self, order: SoundOrder, rate_hz: int, starts: Sequence[int]
    ) -> tuple[Sequence[Marker], Sequence[Marker]]:
        """See ``VersionWriter``."""
        markers, chapters = [], []
        for turn, start, told in zip(self.turns, starts, self._announcements, strict=True):
            chapters.append(audio.Marker(start - PAUSE_SECONDS * rate_hz, told))
            markers.append(chapters[-1])
            markers += [
                audio.Marker(start + marker.sample, marker.label)
                for marker in audio.take_markers(turn.take, rate_hz)
            ]
        return markers, chapters

    def _beside_the_take(self) -> Iterator[tuple[str, str, Callable[[list[Turn], int], bytes]]]:
        """``(suffix, kind, make)`` of the files that tell what the take holds, and when."""
        title = self.recipe.title
        if "midi" in self.wanted:
            yield ".take.mid", "midi take", lambda turns, _: joined_midi(title, turns)
        if "captions" in self.wanted:
            yield ".take.vtt", "captions take", lambda turns, _: turns_vtt(turns).encode()
        if "timeline" in self.wanted:
            kind = "timeline take"
            yield ".take.timeline.csv", kind, lambda turns, rate: turns_csv(turns, rate).encode()
            yield (
                ".take.timeline.json",
                kind,
                lambda turns, rate: turns_json(title, turns, rate).encode(),
            )

    def page_lessons(self) -> list[PageLesson]:
        """The exercises, each in all of its own keys."""
        found = []
        for turn, composer in zip(self.turns, self._composer.exercises, strict=True):
            first = turn.recipe.versions[0]
            piece = turn.piece if turn.version == first else composer.piece(first)
            found.append(page_files.page_lesson(turn.recipe, piece, composer))
        return found

    def outline(self) -> list[Outlined]:
        """All files, without making one; the take to the last bar lines of its exercises."""
        found: list[Outlined] = []
        if not PAPER_OUTPUTS.isdisjoint(self.wanted):
            found += (
                Outlined(f"{self.prefix}{suffix}", kind)
                for name, (suffix, kind) in printed_files.SHEETS.items()
                if name in self.wanted
            )
        if "take" in self.wanted:
            found.append(Outlined(self.sound_name(self._order), "take", self._order.samples))
            beside = self._beside_the_take()
            found += (Outlined(f"{self.prefix}{suffix}", kind) for suffix, kind, _ in beside)
        if self.has_page:
            found.append(Outlined(self.page_name, "page"))
        return found

    @property
    def _announcements(self) -> list[str]:
        return [f"{number}. {turn.recipe.title}" for number, turn in enumerate(self.turns, start=1)]

    @cached_property
    def _order(self) -> SoundOrder:
        """The take of all."""
        rate = self.recipe.fields.audio.rate
        samples = 0
        for turn in self.turns:
            score = turn.piece.score
            beats = score.length_beats + score.lead_in_beats
            samples += PAUSE_SECONDS * rate + score.tempo.sample_at(beats, rate)
        return SoundOrder(".take", "take", "the take", samples, _no_sound, self._heard, loops=False)

    def _heard(self) -> str:
        """What is heard of all takes, one after the other."""
        rate = self.recipe.fields.audio.rate
        takes = [
            (audio.laid_take(turn.take, rate).digest, audio.levelling_for(turn.take.parts))
            for turn in self.turns
        ]
        return repr((PAUSE_SECONDS, takes))


def version_for(exercise: Recipe, whole: Version) -> Version:
    """The version of an exercise that goes with one of the whole lesson: of the same key and tempo,
    else of the same key or tempo, else its first."""
    for version in exercise.versions:
        if version.suffix == whole.suffix:
            return version
    for version in exercise.versions:
        if version.suffix and f"{version.suffix}." in f"{whole.suffix}.":
            return version
    return exercise.versions[0]


def _no_sound(renderer: Renderer) -> Sound:
    raise ValueError("the take of a lesson is put together of others")

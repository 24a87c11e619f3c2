"""The files of one version of a lesson: one key, one tempo."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from genex import __version__
from genex.compose import Composer, Composition, part_word
from genex.export.answer_key import passage, value_legend
from genex.export.captions import Caption, captions_vtt, chords_and_sections, timeline_csv, timeline_json
from genex.export.midi import midi_bytes
from genex.export.phrases import words
from genex.export.tab import tab_text
from genex.export.typography import with_signs
from genex.lazy import lazy
from genex.lines.study_plan import CueSpan
from genex.publishing.files import Stage, write_error, writing
from genex.publishing.worded import tag_of, worded
from genex.publishing.worksheets import task_text
from genex.recipe import Recipe, Version
from genex.score import Score

if TYPE_CHECKING:
    from genex import audio
    from genex.audio import Marker, Measurement, Renderer, Sound
    from genex.page.lesson import PageLesson
    from genex.publishing import page_files, printed_files
else:
    audio = lazy("genex.audio")
    page_files = lazy("genex.publishing.page_files")
    printed_files = lazy("genex.publishing.printed_files")

AUDIO_OUTPUTS = frozenset({"loop", "band", "take", "stems"})
PLAYED_OUTPUTS = AUDIO_OUTPUTS | {"page"}
"""What takes a soundfont."""
DRAWN_OUTPUTS = frozenset({"handout", "spoken", "diagrams"})
PAPER_OUTPUTS = DRAWN_OUTPUTS | {"chart", "musicxml", "leadsheet"}
Report = Callable[[str], None]
"""Is told, in a few words, what is being done."""


@dataclass(frozen=True)
class BuiltFile:
    """A file of a lesson. ``facts`` are what the manifest says beside kind, size and checksum."""

    name: str
    kind: str
    size_bytes: int
    sha256: str
    facts: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Outlined:
    """A file that will be made. ``samples`` is the length of a sound; of a take to its last bar."""

    name: str
    kind: str
    samples: int | None = None


@dataclass(frozen=True)
class SoundOrder:
    """A sound to be made: name, kind, what is said meanwhile, length and maker.

    ``follows_loop`` has the gain of the full loop where the recipe asks for the same level.
    """

    suffix: str
    kind: str
    said: str
    samples: int
    render: Callable[[Renderer], Sound]
    loops: bool = True
    mastered: bool = True
    follows_loop: bool = False


class VersionWriter:
    """Stages the files of one key and tempo and lists them in ``files``.

    ``whole`` is the recipe with all its versions, of which ``recipe`` may have a few only: the page,
    which the first version brings, has them all.
    """

    def __init__(
        self,
        recipe: Recipe,
        version: Version,
        piece: Composition,
        composer: Composer,
        stage: Stage | None,
        report: Report,
        whole: Recipe | None = None,
    ) -> None:
        self._whole = whole or recipe
        self.recipe, self.version, self._composer = recipe, version, composer
        self.language = tag_of(recipe)
        self.piece = worded(piece, self.language)
        self._stage, self.report = stage, report
        self.wanted = set(recipe.outputs)
        self.prefix = f"{recipe.slug}{version.suffix}"
        self.facts = {"key": str(version.key), "tempo": float(version.tempo)} if version.suffix else {}
        self.files: list[BuiltFile] = []

    @property
    def stage(self) -> Stage:
        """Where files are written. Raises ValueError for a writer that only gives an outline."""
        if self._stage is None:
            raise ValueError("there is no place to write to")
        return self._stage

    @cached_property
    def take(self) -> Score:
        """The piece as it is played once: with a count-in, and an ending that ends."""
        return worded(self._composer.piece(self.version, ending=True), self.language).score

    def write_symbolic(self) -> None:
        """MIDI, tab, answers, captions and timeline."""
        self.report(f"{self.prefix}: MIDI and text")
        for suffix, kind, make in self._symbolic():
            self.write(suffix, kind, make())

    def write_printed(self) -> None:
        """Handout, diagrams and MusicXML."""
        if not PAPER_OUTPUTS & self.wanted:
            return
        self.report(f"{self.prefix}: the sheet")
        for suffix, kind, make in printed_files.printed_files(self.recipe, self.piece):
            self.write(suffix, kind, make())

    def write_audio(self, renderer: Renderer) -> None:
        """Loops, minus mixes, stems and the take."""
        try:
            with audio.long_sounds_in(self.stage.place):
                for order in self.sounds():
                    self.report(f"{self.prefix}: {order.said}")
                    gain_db = self._loop_gain_db(renderer) if order.follows_loop else None
                    self._write_sound(order, order.render(renderer), gain_db)
        except audio.TapeError as problem:
            raise write_error(self.stage.folder, problem) from problem

    def write_page(self, soundfont: Path, digest: str | None) -> None:
        """The practice page. Raises SoundfontError."""
        if not self.has_page:
            return
        self.report(f"{self.prefix}: the page")
        page = page_files.lesson_page(self._whole, self.page_lessons(), soundfont, digest)
        self.add(self.page_name, "page", page)

    def page_lessons(self) -> list[PageLesson]:
        """What the page has to play, in order."""
        return [page_files.page_lesson(self._whole, self.piece, self._composer)]

    @property
    def has_page(self) -> bool:
        return "page" in self.wanted and self.version == self._whole.versions[0]

    @property
    def page_name(self) -> str:
        return f"{self.recipe.slug}.page.html"

    def outline(self) -> list[Outlined]:
        """All files, in the order in which they are made, without making one."""
        found = [Outlined(f"{self.prefix}{suffix}", kind) for suffix, kind, _ in self._symbolic()]
        if PAPER_OUTPUTS & self.wanted:
            printed = printed_files.printed_files(self.recipe, self.piece)
            found += [Outlined(f"{self.prefix}{suffix}", kind) for suffix, kind, _ in printed]
        if AUDIO_OUTPUTS & self.wanted:
            found += [Outlined(self.sound_name(o), o.kind, o.samples) for o in self.sounds()]
        if self.has_page:
            found.append(Outlined(self.page_name, "page"))
        return found

    def _symbolic(self) -> Iterator[tuple[str, str, Callable[[], bytes]]]:
        """``(suffix, kind, make)`` of everything that is neither drawn nor sounds."""
        score, passes = self.piece.score, self.recipe.fields.audio.passes
        if "midi" in self.wanted:
            yield ".mid", "midi", lambda: midi_bytes(score)
            if "take" in self.wanted:
                yield ".take.mid", "midi take", lambda: midi_bytes(self.take, include_lead_in=True)
        if "tab" in self.wanted and score.lead_parts:
            yield ".tab.txt", "tab", self._tab
        if "answers" in self.wanted and self.piece.answers:
            yield ".answers.txt", "answer key", lambda: self._answers().encode()
        if "captions" in self.wanted:

            def captions(score: Score, **how: Any) -> bytes:
                return captions_vtt(score, self.captions(score), **how).encode()

            yield ".vtt", "captions", lambda: captions(score, passes=passes)
            if "take" in self.wanted:
                yield ".take.vtt", "captions take", lambda: captions(self.take, include_lead_in=True)
        if "timeline" in self.wanted:
            rate = self.recipe.fields.audio.rate

            def loop(writer: Callable[..., str]) -> bytes:
                return writer(score, rate, passes=passes).encode()

            def take(writer: Callable[..., str]) -> bytes:
                return writer(self.take, rate, include_lead_in=True).encode()

            for suffix, writer in ((".csv", timeline_csv), (".json", timeline_json)):
                yield f".timeline{suffix}", "timeline", partial(loop, writer)
                if "take" in self.wanted:
                    yield f".take.timeline{suffix}", "timeline take", partial(take, writer)

    def sounds(self) -> Iterator[SoundOrder]:
        """Every sound file, in the order in which they are made."""
        score, audio = self.piece.score, self.recipe.fields.audio
        passes = audio.passes
        once = score.tempo.sample_at(score.length_beats, audio.rate)
        band = score.only(*(part.name for part in score.parts if not part.role.is_lead))

        def loop(suffix: str, kind: str, said: str, score: Score) -> SoundOrder:
            return SoundOrder(
                suffix, kind, said, once * passes, lambda renderer: renderer.loop(score, passes)
            )

        if "loop" in self.wanted:
            yield loop("", "loop", "the loop", score)
        if "band" in self.wanted and band.parts and len(band.parts) < len(score.parts):
            yield replace(loop(".band", "band loop", "the band", band), follows_loop=True)
        for role in audio.minus:
            kept = [part.name for part in score.parts if part_word(part) != role]
            if kept and len(kept) < len(score.parts):
                kind = f"loop without {role}"
                without = loop(f".minus-{role}", kind, f"without {role}", score.only(*kept))
                yield replace(without, follows_loop=True)
        if "stems" in self.wanted:

            def stem(name: str, renderer: Renderer) -> Sound:
                return renderer.stem(score, name, passes)

            for part in score.parts:
                yield SoundOrder(
                    f".stem-{part.name}", "stem", "the stems", once * passes,
                    partial(stem, part.name), mastered=False,
                )  # fmt: skip
        if "take" in self.wanted:
            beats = score.length_beats + score.lead_in_beats
            yield SoundOrder(
                ".take", "take", "the take", score.tempo.sample_at(beats, audio.rate),
                lambda renderer: renderer.take(self.take), loops=False,
            )  # fmt: skip

    def _loop_gain_db(self, renderer: Renderer) -> float | None:
        """The gain of the full loop, if what goes with it is to have the same one."""
        wanted = self.recipe.fields.audio
        if not wanted.same_level or not ("band" in self.wanted or wanted.minus):
            return None
        for file in self.files:
            if file.kind == "loop":
                return float(file.facts["gain_db"])
        score = self.piece.score
        sound = renderer.loop(score, wanted.passes)
        return mastered(self.recipe, sound, score, loop=True)[1].gain_db

    def captions(self, score: Score) -> list[Caption]:
        """The captions of calls and drills; chords and sections of a score where there are none.

        An answer that comes while the next call sounds stands in that call's caption: two captions
        at a time would compete.
        """
        cues = self.piece.cues
        if all(cue.kind == "section" for cue in cues):
            return chords_and_sections(score, self.language)
        phrases = words(self.language)
        captions: list[Caption] = []
        waiting: CueSpan | None = None
        for cue in cues:
            if cue.kind == "answer" and any(_overlap(cue, other) for other in cues if other is not cue):
                waiting = cue
                continue
            text = cue.text
            if waiting is not None and cue.onset_beats >= waiting.onset_beats:
                told = phrases["it_was"].format(text=text, answer=waiting.text)
                text, waiting = told, None
            captions.append(Caption(cue.onset_beats, cue.length_beats, with_signs(text)))
        if waiting is not None:
            captions.append(Caption(waiting.onset_beats, waiting.length_beats, with_signs(waiting.text)))
        return captions

    def _tab(self) -> bytes:
        """The lead part as tab, the student's task above it."""
        tab = tab_text(self.piece.score.written(), language=self.language)
        return (task_text(self.piece, self.language) + tab).encode()

    def _answers(self) -> str:
        """The answer key: each answer in words, a line each, then the lead part as tab."""
        score = self.piece.score
        phrases = words(self.language)
        lines = [phrases["answers_to"].format(title=score.title), ""]
        values: dict[str, None] = {}
        for answer in self.piece.answers:
            level = f" ({phrases['level'].format(level=answer.level)})" if answer.level else ""
            if not answer.length_beats:
                bar = score.timeline.bar_at(answer.onset_beats).number
                told_bar = phrases["bar"].format(bars=bar)
                lines.append(f"{answer.number}. {told_bar}{level}: {answer.text}")
                continue
            told = passage(score, answer.onset_beats, answer.length_beats, phrases)
            values |= dict.fromkeys(told.values)
            lines.append(
                f"{answer.number}. {told.bars}{level}: {told.chords}; {told.rhythm}; {answer.text}"
            )
        if values:
            lines.insert(1, phrases["rhythm_letters"].format(values=value_legend(values, phrases)))
        text = "\n".join(lines) + "\n"
        if not score.lead_parts:
            return text
        tab = tab_text(score, show_degrees=True, language=self.language)
        return f"{text}\n\n{tab}"

    def write(self, suffix: str, kind: str, data: bytes) -> None:
        self.add(f"{self.prefix}{suffix}", kind, data)

    def add(self, name: str, kind: str, data: bytes) -> None:
        self.stage.write(name, data)
        checksum = hashlib.sha256(data).hexdigest()
        self.files.append(BuiltFile(name, kind, len(data), checksum, self.facts))

    def sound_name(self, order: SoundOrder) -> str:
        return f"{self.prefix}{order.suffix}{audio.FORMATS[self.recipe.fields.audio.format].suffix}"

    def _write_sound(self, order: SoundOrder, sound: Sound, gain_db: float | None) -> None:
        loops = order.loops
        if order.mastered:
            score = self.piece.score
            sound, measured = mastered(self.recipe, sound, score, loop=loops, gain_db=gain_db)
        else:
            sound.widen(self.recipe.fields.audio.width)
            loudness = audio.integrated_lufs(sound, loop=loops)
            measured = audio.Measurement(loudness, audio.true_peak_dbtp(sound, loop=loops), 0.0, 0.0)
        rate_hz = sound.rate_hz
        if loops:
            passes = self.recipe.fields.audio.passes
            markers = audio.loop_markers(self.piece.score, rate_hz, passes)
            chapters = audio.loop_chapters(self.piece.score, rate_hz, passes)
        else:
            markers = audio.take_markers(self.take, rate_hz)
            chapters = audio.take_chapters(self.take, rate_hz)
        self.store_sound(order, sound, measured, markers, chapters)

    def store_sound(
        self,
        order: SoundOrder,
        sound: Sound,
        measured: Measurement,
        markers: Sequence[Marker],
        chapters: Sequence[Marker],
    ) -> None:
        """Write a sound that is as it shall be, and list it."""
        wanted, name = self.recipe.fields.audio, self.sound_name(order)
        facts: dict[str, Any] = {
            "sample_rate_hz": sound.rate_hz,
            "length_samples": sound.length_samples,
            "loops": order.loops,
        }
        path = self.stage.path(name)
        with writing(self.stage.folder / name):
            written = audio.write_audio(
                path,
                sound,
                wanted.format,
                self._tags(order.kind),
                markers,
                chapters=chapters,
                loop=order.loops,
                ceiling_dbtp=wanted.ceiling if order.mastered else None,
            )
            size = path.stat().st_size
        if written.true_peak_dbtp is not None:
            measured = replace(measured, true_peak_dbtp=written.true_peak_dbtp)
        facts |= _levels(measured)
        self.files.append(BuiltFile(name, order.kind, size, written.sha256, self.facts | facts))

    def _tags(self, kind: str) -> dict[str, str]:
        return {
            "title": self.recipe.title,
            "key": str(self.version.key),
            "tempo": f"{float(self.version.tempo):g}",
            "part": kind,
            "software": f"genex {__version__}",
        }


def mastered(
    recipe: Recipe, sound: Sound, score: Score, *, loop: bool, gain_db: float | None = None
) -> tuple[Sound, Measurement]:
    """A mix as wide and as loud as the recipe asks for, and what it then measures."""
    wanted = recipe.fields.audio
    sound.widen(wanted.width)
    return audio.master(
        sound,
        wanted.loudness,
        wanted.ceiling,
        loop=loop,
        gain_db=gain_db,
        most_levelling_db=audio.levelling_for(score.parts),
    )


def _overlap(one: CueSpan, other: CueSpan) -> bool:
    return other.onset_beats < one.end_beats and one.onset_beats < other.end_beats


def _levels(measured: Measurement) -> dict[str, Any]:
    return {
        "gain_db": round(measured.gain_db, 4),  # so finely that stems add up to the mix by it
        "integrated_lufs": _rounded(measured.integrated_lufs),
        "true_peak_dbtp": _rounded(measured.true_peak_dbtp),
        "limited_db": _rounded(measured.limited_db),
        "levelled_db": _rounded(measured.levelled_db),
    }


def _rounded(decibels: float | None) -> float | None:
    """Two decimals; silence has no level."""
    return None if decibels is None else round(decibels, 2)

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
from genex.export.phrases import named, words
from genex.export.tab import tab_text
from genex.export.typography import with_signs
from genex.lazy import lazy
from genex.lines.study_plan import CueSpan
from genex.publishing.files import Stage, write_error, writing
from genex.publishing.sound_files import SoundOrder, levels, mastered, wishes_of
from genex.publishing.worded import tag_of, worded
from genex.publishing.worksheets import task_text
from genex.recipe import Recipe, Version
from genex.score import Part, Score

if TYPE_CHECKING:
    from genex import audio
    from genex.audio import Marker, Measurement, Renderer, Sound
    from genex.page.lesson import PageLesson
    from genex.publishing import page_files, printed_files
    from genex.publishing.kept_sounds import KeptSounds
else:
    audio = lazy("genex.audio")
    page_files = lazy("genex.publishing.page_files")
    printed_files = lazy("genex.publishing.printed_files")

AUDIO_OUTPUTS = frozenset({"loop", "band", "take", "stems"})
PLAYED_OUTPUTS = AUDIO_OUTPUTS | {"page"}
"""What takes a soundfont."""
DRAWN_OUTPUTS = frozenset({"handout", "spoken", "diagrams"})
PAPER_OUTPUTS = DRAWN_OUTPUTS | {"chart", "musicxml", "leadsheet"}
_OF_THE_VERSION = ("key", "tempo")
Report = Callable[[str], None]
"""Is told, in a few words, what is being done."""


@dataclass(frozen=True)
class BuiltFile:
    """A file of a lesson. ``facts`` are what the manifest says beside kind, size and checksum.

    ``sound`` is the key of what is heard (see ``KeptSounds``), empty for what is no sound; ``starts``
    are the frames at which the takes of a sound of several begin.
    """

    name: str
    kind: str
    size_bytes: int
    sha256: str
    facts: dict[str, Any] = field(default_factory=dict)
    sound: str = ""
    starts: Sequence[int] = ()


@dataclass(frozen=True)
class Outlined:
    """A file that will be made. ``samples`` is the length of a sound; of a take to its last bar."""

    name: str
    kind: str
    samples: int | None = None


class VersionWriter:
    """Stages the files of one key and tempo and lists them in ``files``.

    ``whole`` is the recipe with all its versions, of which ``recipe`` may have a few only: the page,
    which the first version brings, has them all. ``kept`` are sounds of an earlier build.
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
        kept: KeptSounds | None = None,
    ) -> None:
        self._whole, self._kept = whole or recipe, kept
        self.recipe, self.version, self._composer = recipe, version, composer
        self.language = tag_of(recipe)
        self.piece = worded(piece, self.language)
        self._stage, self.report = stage, report
        self.wanted = set(recipe.outputs)
        self.prefix = f"{recipe.slug}{version.suffix}"
        self.facts = {"key": str(version.key), "tempo": float(version.tempo)} if version.suffix else {}
        self.files: list[BuiltFile] = []
        self._keys: dict[str, str] = {}  # of sounds, by their suffix

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

    def write_audio(self, renderer_for: Callable[[], Renderer]) -> None:
        """Loops, minus mixes, stems and the take. For those that are kept no renderer is asked for."""
        try:
            with audio.long_sounds_in(self.stage.place):
                for order in self.sounds():
                    if not self._keep_sound(order):
                        self._make_sound(order, renderer_for())
        except audio.TapeError as problem:
            raise write_error(self.stage.folder, problem) from problem

    def kept_sounds(self) -> list[str]:
        """Names of the sounds that an earlier build made and that are heard here as they are."""
        if self._kept is None or not AUDIO_OUTPUTS & self.wanted:
            return []
        orders = self.sounds()
        return [self.sound_name(o) for o in orders if self._kept.find(self.sound_key(o))]

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
        score, wanted = self.piece.score, self.recipe.fields.audio
        passes, rate = wanted.passes, wanted.rate
        once = score.tempo.sample_at(score.length_beats, rate)
        band = score.only(*(part.name for part in score.parts if not part.role.is_lead))

        def loop(suffix: str, kind: str, said: str, score: Score) -> SoundOrder:
            return SoundOrder(
                suffix, kind, said, once * passes, lambda renderer: renderer.loop(score, passes),
                lambda: audio.laid_loop(score, rate).digest,
            )  # fmt: skip

        if "loop" in self.wanted:
            yield loop("", "loop", "the loop", score)
        if "band" in self.wanted and band.parts and len(band.parts) < len(score.parts):
            yield replace(loop(".band", "band loop", "the band", band), follows_loop=True)
        for role in wanted.minus:
            kept = [part.name for part in score.parts if part_word(part) != role]
            if kept and len(kept) < len(score.parts):
                kind = f"loop without {role}"
                without = loop(f".minus-{role}", kind, f"without {role}", score.only(*kept))
                yield replace(without, follows_loop=True)
        if "stems" in self.wanted:

            def stem(name: str, renderer: Renderer) -> Sound:
                return renderer.stem(score, name, passes)

            def heard(part: Part) -> str:
                return audio.laid_loop(score, rate, [part]).digest

            for part in score.parts:
                yield SoundOrder(
                    f".stem-{part.name}", "stem", "the stems", once * passes,
                    partial(stem, part.name), partial(heard, part), mastered=False,
                )  # fmt: skip
        if "take" in self.wanted:
            beats = score.length_beats + score.lead_in_beats
            yield SoundOrder(
                ".take", "take", "the take", score.tempo.sample_at(beats, rate),
                lambda renderer: renderer.take(self.take),
                lambda: audio.laid_take(self.take, rate).digest, loops=False,
            )  # fmt: skip

    def sound_key(self, order: SoundOrder) -> str:
        """The key of a sound; empty where none is kept."""
        if self._kept is None:
            return ""
        if order.suffix not in self._keys:
            self._keys[order.suffix] = self._kept.key(
                order.heard(),
                wishes_of(self.recipe, order),
                audio.levelling_for(self.piece.score.parts),
                self._gain_from() if order.follows_loop else None,
            )
        return self._keys[order.suffix]

    def _gain_from(self) -> tuple[str, bool]:
        """What the gain of the full loop is taken from, and whether it is as exact as a manifest."""
        loop = audio.laid_loop(self.piece.score, self.recipe.fields.audio.rate)
        return loop.digest, "loop" in self.wanted

    def _keep_sound(self, order: SoundOrder) -> bool:
        """Write the sound of an earlier build, if it is heard as it is, with the tags of this one."""
        source = self._kept.find(self.sound_key(order)) if self._kept else None
        if source is None:
            return False
        file = source.file
        self.report(f"{self.prefix}: {order.said}, kept")
        rate_hz, frames = file.facts["sample_rate_hz"], file.facts["length_samples"]
        markers, chapters = self.marks(order, rate_hz, file.starts)
        name, wanted = self.sound_name(order), self.recipe.fields.audio
        target = self.stage.path(name)
        with writing(self.stage.folder / name):
            try:
                checksum = audio.rewrite_audio(
                    source.path, target, frames, rate_hz, wanted.format, self._tags(order.kind),
                    markers, chapters=chapters, loop=order.loops,
                )  # fmt: skip
            except (FileNotFoundError, ValueError):
                return False
            if not source.is_as_it_was():  # but was changed under our hands
                return False
            facts = {name: fact for name, fact in file.facts.items() if name not in _OF_THE_VERSION}
            facts = self.facts | facts
            self._list_sound(order, name, target, facts, checksum, file.starts)
        return True

    def _list_sound(
        self,
        order: SoundOrder,
        name: str,
        path: Path,
        facts: dict[str, Any],
        checksum: str,
        starts: Sequence[int] = (),
    ) -> None:
        """List a sound that is written."""
        key, size = self.sound_key(order), path.stat().st_size
        self.files.append(BuiltFile(name, order.kind, size, checksum, facts, key, list(starts)))

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
                told_bar = named(f"{told_bar}{level}", answer.text, phrases)
                lines.append(f"{answer.number}. {told_bar}")
                continue
            told = passage(score, answer.onset_beats, answer.length_beats, phrases)
            values |= dict.fromkeys(told.values)
            passed = f"{told.chords}; {told.rhythm}; {answer.text}"
            lines.append(f"{answer.number}. {named(f'{told.bars}{level}', passed, phrases)}")
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

    def _make_sound(self, order: SoundOrder, renderer: Renderer) -> None:
        self.report(f"{self.prefix}: {order.said}")
        gain_db = self._loop_gain_db(renderer) if order.follows_loop else None
        sound, loops = order.render(renderer), order.loops
        if order.mastered:
            score = self.piece.score
            sound, measured = mastered(self.recipe, sound, score, loop=loops, gain_db=gain_db)
        else:
            sound.widen(self.recipe.fields.audio.width)
            loudness = audio.integrated_lufs(sound, loop=loops)
            measured = audio.Measurement(loudness, audio.true_peak_dbtp(sound, loop=loops), 0.0, 0.0)
        self.store_sound(order, sound, measured)

    def marks(
        self, order: SoundOrder, rate_hz: int, starts: Sequence[int]
    ) -> tuple[Sequence[Marker], Sequence[Marker]]:
        """Markers and chapters of a sound. ``starts`` are those of a sound of several takes."""
        if order.loops:
            passes = self.recipe.fields.audio.passes
            markers = audio.loop_markers(self.piece.score, rate_hz, passes)
            return markers, audio.loop_chapters(self.piece.score, rate_hz, passes)
        return audio.take_markers(self.take, rate_hz), audio.take_chapters(self.take, rate_hz)

    def store_sound(
        self, order: SoundOrder, sound: Sound, measured: Measurement, starts: Sequence[int] = ()
    ) -> None:
        """Write a sound that is as it shall be, and list it."""
        markers, chapters = self.marks(order, sound.rate_hz, starts)
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
            if written.true_peak_dbtp is not None:
                measured = replace(measured, true_peak_dbtp=written.true_peak_dbtp)
            facts = self.facts | facts | levels(measured)
            self._list_sound(order, name, path, facts, written.sha256, starts)

    def _tags(self, kind: str) -> dict[str, str]:
        return {
            "title": self.recipe.title,
            "key": str(self.version.key),
            "tempo": f"{float(self.version.tempo):g}",
            "part": kind,
            "software": f"genex {__version__}",
        }


def _overlap(one: CueSpan, other: CueSpan) -> bool:
    return other.onset_beats < one.end_beats and one.onset_beats < other.end_beats

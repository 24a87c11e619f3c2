"""Makes versions of lessons one after the other, and keeps what the next one can use."""

from __future__ import annotations

import tempfile
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from genex.compose import Composer, Composition, compose
from genex.errors import GenexError, InputError, SoundfontError, library_error
from genex.inputs import Inputs, NotPlainFileError, require_plain
from genex.lazy import lazy
from genex.publishing.files import Stage
from genex.publishing.fonts import own_font
from genex.publishing.stamps import Known, Stamp, by_path, key_of, stamp_of
from genex.publishing.version_files import (
    AUDIO_OUTPUTS,
    DRAWN_OUTPUTS,
    PLAYED_OUTPUTS,
    BuiltFile,
    Report,
    VersionWriter,
)
from genex.publishing.whole_files import WholeWriter
from genex.recipe import Recipe, Version
from genex.resources import default_soundfont, user_cache_dir

if TYPE_CHECKING:
    from genex import audio
    from genex.audio import Renderer
    from genex.publishing import printed_files
else:
    audio = lazy("genex.audio")
    printed_files = lazy("genex.publishing.printed_files")


@dataclass(frozen=True)
class Job:
    """A checked recipe, ready to be built. ``piece`` is its first version.

    ``inputs`` holds what was read for it: whoever makes it reads the same. ``whole`` is the recipe
    with the versions too that are not to be made. A lesson of several exercises has the first
    versions of these in ``pieces``, and what is made of it is made of all.
    """

    recipe: Recipe
    piece: Composition
    inputs: Inputs = field(default_factory=Inputs)
    whole: Recipe | None = None
    pieces: tuple[Composition, ...] = ()

    @property
    def music(self) -> list[tuple[Recipe, Composition]]:
        """Every piece that is played, in its first version, and its recipe."""
        if self.pieces:
            return list(zip(self.recipe.exercises, self.pieces, strict=True))
        return [(self.recipe, self.piece)]

    def writer(
        self,
        version: Version,
        piece: Composition | None,
        composer: Composer,
        stage: Stage | None,
        report: Report,
    ) -> VersionWriter:
        """Who writes the files of a version; ``piece`` is composed if it is not given.

        With no stage it only gives an outline.
        """
        if self.recipe.exercises:
            return WholeWriter(self.recipe, version, composer, stage, report, self.pieces, self.whole)
        piece = piece or composer.piece(version)
        return VersionWriter(self.recipe, version, piece, composer, stage, report, self.whole)


class Order(NamedTuple):
    """What is to be made: a version of a lesson (by their numbers), and where it is staged.

    With no stage it is only composed, to know that it can be played.
    """

    lesson: int
    version: int
    stage: Stage | None = None


def prepare(recipe: Recipe, inputs: Inputs | None = None) -> Job:
    """Compose a recipe's first version. Raises InputError for what cannot be played or drawn."""
    if recipe.exercises:
        pieces = [prepare(exercise).piece for exercise in recipe.exercises]
        return prepare_whole(recipe, pieces, inputs)
    own_font(recipe)  # to be told of a bad one whatever is made
    job = Job(recipe, compose(recipe), inputs or Inputs())
    if DRAWN_OUTPUTS & set(recipe.outputs):
        printed_files.require_drawable(recipe, job.piece.score)
    return job


def prepare_whole(recipe: Recipe, pieces: Sequence[Composition], inputs: Inputs | None = None) -> Job:
    """What is made of all exercises of a lesson, by their first versions. Raises InputError."""
    printed_files.require_lesson_drawable(recipe, pieces)
    return Job(recipe, pieces[0], inputs or Inputs(), pieces=tuple(pieces))


def load_rooms(jobs: Sequence[Job]) -> None:
    """Load what making them takes: once, before processes are copied."""
    if any(PLAYED_OUTPUTS & set(job.recipe.outputs) for job in jobs):
        _ = audio.Renderer


def soundfont_digests(
    jobs: Sequence[Job], override: Path | None, fonts: Iterable[Known] = ()
) -> dict[Path, str]:
    """The digest of every soundfont that making them takes, as far as it can be read.

    ``fonts`` are those that are known.
    """
    recipes = [job.recipe for job in jobs if PLAYED_OUTPUTS & set(job.recipe.outputs)]
    digests: dict[Path, str] = {}
    found = by_path(fonts)
    for path in {soundfont_path(recipe, override) for recipe in recipes}:
        known = found.get(key_of(path))
        if known is not None and known.sha256 is not None:
            digests[path] = known.sha256
            continue
        with suppress(OSError):  # whoever plays with it will say so, with its place
            require_plain(path)
            digests[path] = audio.content_digest(path)
    return digests


def all_versions(recipe: Recipe) -> list[int]:
    """Numbers of all versions."""
    return list(range(len(recipe.versions)))


def other_keys(recipe: Recipe) -> list[int]:
    """Numbers of versions that are the first in their key, but for the very first."""
    firsts: dict[str, int] = {}
    for number, version in enumerate(recipe.versions):
        firsts.setdefault(str(version.key), number)
    return [number for number in firsts.values() if number]


def soundfont_path(recipe: Recipe, override: Path | None) -> Path:
    """The soundfont of a lesson: the option's, the recipe's (as seen from there), or the default."""
    if override is not None:
        return override
    written = recipe.fields.audio.soundfont
    if written is None:
        return default_soundfont()
    return recipe.source.folder_of(("audio", "soundfont")) / Path(written).expanduser()


def require_soundfont(path: Path) -> None:
    """Raise SoundfontError for what is no file, before anything waits for it."""
    try:
        require_plain(path)
    except (NotPlainFileError, IsADirectoryError) as error:
        raise SoundfontError(
            f"the soundfont {path} is not read: {error.strerror}",
            hint="give the path of an .sf2 or .sf3 file",
        ) from None
    except OSError:
        return  # a file that is not there is told of by whoever opens it


class RendererKeeper:
    """Keeps one renderer as long as soundfont and rate are the same. To be closed when done."""

    def __init__(self) -> None:
        self._renderer: Renderer | None = None
        self._made_with: tuple[Path, int, Stamp] | None = None

    def renderer(self, font: Path, rate_hz: int, digest: str | None) -> Renderer:
        """A renderer with a soundfont: the last one if it is the same. Raises SoundfontError.

        ``digest`` is that of the soundfont, if it is known.
        """
        require_soundfont(font)
        try:
            wanted = font, rate_hz, stamp_of(font)
        except OSError:
            wanted = None  # told of by whoever opens it
        if self._renderer is None or wanted is None or self._made_with != wanted:
            self.close()
            self._renderer = audio.Renderer(font, rate_hz, user_cache_dir(), digest)
            self._made_with = wanted
        return self._renderer

    def close(self) -> None:
        """Free the synthesizer. It may be asked for again."""
        if self._renderer is not None:
            self._renderer.close()
            self._renderer = None


class Maker:
    """Makes what is ordered of some lessons. To be closed when done.

    ``digests`` are those of soundfonts, by their paths, that are known already. ``keeper`` has the
    synthesizer where that is to outlive this maker.
    """

    def __init__(
        self,
        jobs: Sequence[Job],
        soundfont: Path | None,
        report: Report,
        digests: Mapping[Path, str] | None = None,
        keeper: RendererKeeper | None = None,
    ) -> None:
        self._jobs = jobs
        self._soundfont = soundfont
        self._report = report
        self._digests = digests or {}
        self._keeper = keeper or RendererKeeper()
        self._keeps_on = keeper is not None
        self._composer: tuple[int, Composer] | None = None

    def fulfil(self, order: Order) -> list[BuiltFile]:
        """Make one version, or compose it only. Raises GenexError."""
        job = self._jobs[order.lesson]
        with job.inputs.active():
            try:
                return self._fulfil(job, order)
            except MemoryError:
                version = job.recipe.versions[order.version]
                raise GenexError(
                    f"there is too little memory to make {job.recipe.slug}{version.suffix}",
                    hint="close other programs, or ask for shorter sound: fewer 'repeats' or 'passes'",
                ) from None
            except ImportError as problem:
                raise library_error(problem) from problem

    def _fulfil(self, job: Job, order: Order) -> list[BuiltFile]:
        composer = self._composer_for(order.lesson)
        recipe, version = job.recipe, job.recipe.versions[order.version]
        piece = None if order.version else job.piece
        writer = job.writer(version, piece, composer, order.stage, self._report)
        if order.stage is None:
            return []
        writer.write_symbolic()
        writer.write_printed()
        if AUDIO_OUTPUTS & set(recipe.outputs):
            writer.write_audio(self._renderer_for(recipe))
        if "page" in recipe.outputs:
            self._write_page(writer, recipe)
        return writer.files

    def _write_page(self, writer: VersionWriter, recipe: Recipe) -> None:
        """The page, if this version brings it. Raises SoundfontError, with its place if it has one."""
        path = soundfont_path(recipe, self._soundfont)
        with self._placing(recipe):
            require_soundfont(path)
            writer.write_page(path, self._digests.get(path))

    @contextmanager
    def _placing(self, recipe: Recipe) -> Iterator[None]:
        """Give what is wrong with the soundfont its place in the recipe, if that names it."""
        try:
            yield
        except InputError as error:
            if error.place is None and recipe.fields.audio.soundfont is not None:
                error.place = recipe.place("audio", "soundfont")
            raise

    def close(self) -> None:
        """Free the synthesizer, if it is this one's own."""
        if not self._keeps_on:
            self._keeper.close()

    def _composer_for(self, lesson: int) -> Composer:
        """A lesson's composer: the last one if it is the same."""
        if self._composer is None or self._composer[0] != lesson:
            self._composer = lesson, Composer(self._jobs[lesson].recipe)
        return self._composer[1]

    def _renderer_for(self, recipe: Recipe) -> Renderer:
        """A renderer with the recipe's soundfont: the last one if it is the same.

        Raises SoundfontError, with its place if it has one.
        """
        font = soundfont_path(recipe, self._soundfont)
        with self._placing(recipe):
            renderer = self._keeper.renderer(font, recipe.fields.audio.rate, self._digests.get(font))
        renderer.drums_come_again = bool(other_keys(recipe))
        return renderer


def files_of(job: Job, soundfont: Path | None) -> list[tuple[BuiltFile, bytes]]:
    """All files of a job with their content, in the order of its versions. Raises GenexError."""
    maker = Maker([job], soundfont, lambda text: None)
    numbers = all_versions(job.recipe)
    with tempfile.TemporaryDirectory(prefix="genex-") as folder:
        stage = Stage(Path(folder), Path(folder))
        try:
            # Versions of one tempo share their drums.
            in_turn = sorted(numbers, key=lambda number: job.recipe.versions[number].tempo)
            made = {number: maker.fulfil(Order(0, number, stage)) for number in in_turn}
        finally:
            maker.close()
        files = (file for number in numbers for file in made[number])
        return [(file, stage.path(file.name).read_bytes()) for file in files]

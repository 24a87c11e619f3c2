"""The command line: commands, progress and messages. No logic lives here.

The rooms behind the commands are loaded when a command first uses them, so that ``--help`` is
quick and a wrong option is answered at once.
"""

from __future__ import annotations

import errno
import io
import os
import signal
import sys
import time
import traceback
from collections.abc import Callable
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from genex import __version__, beginnings, playing, terminal
from genex.beginnings import AsJson, Quiet
from genex.errors import GenexError, InputError, library_error
from genex.lazy import lazy
from genex.processes import Stopped
from genex.terminal import note, say, say_json, say_titles

if TYPE_CHECKING:
    from genex import building
    from genex import docs as pages
    from genex.publishing import answers, check_answers, harmony_table, jobs, upkeep
else:
    building = lazy("genex.building")
    pages = lazy("genex.docs")
    answers = lazy("genex.publishing.answers")
    check_answers = lazy("genex.publishing.check_answers")
    harmony_table = lazy("genex.publishing.harmony_table")
    jobs = lazy("genex.publishing.jobs")
    upkeep = lazy("genex.publishing.upkeep")

_PATIENCE_SECONDS = 3.0
_SHORTAGES = (errno.EMFILE, errno.ENFILE, errno.ENOMEM)
_STOPPED_CODE = 128 + signal.SIGINT  # as shells count it
app = typer.Typer(
    name="genex",
    help="One text file in, a whole guitar lesson out: MIDI, audio and matching tab.",
    no_args_is_help=True,
    context_settings={"help_option_names": ["-h", "--help"]},
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)

Recipes = Annotated[list[Path], typer.Argument(metavar="RECIPE...", help="Recipe files (.yaml).")]
Tuning = Annotated[str, typer.Option(metavar="NAME", help="A tuning's name, or its open strings.")]
Capo = Annotated[int, typer.Option(metavar="FRET", help="Fret of the capo.")]
HandSize = Annotated[Literal["small", "medium", "large"], typer.Option(help="Size of the hand.")]
Out = Annotated[Path, typer.Option(metavar="DIR", help="Folder for the lessons.")]
InKey = Annotated[str | None, typer.Option(metavar="KEY", help="The key, such as Bb or D dorian.")]


def main() -> None:
    """Entry point: errors become one message on stderr and an exit code."""
    terminal.prepare_streams()
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")  # looking for some takes a while
    stops: list[float] = []
    signal.signal(signal.SIGINT, _stopper(os.getpid(), stops))
    try:
        try:
            _run()
        except Exception:
            # A library that is stopped while it is loaded or builds a model calls that a fault.
            if stops:
                raise Stopped from None
            raise
        finally:
            terminal.finish()
    except Stopped:
        note("genex: stopped; lessons that were finished are in place, all else is as it was")
        sys.exit(_STOPPED_CODE)
    except GenexError as error:
        terminal.fail(error)
    except BrokenPipeError:
        # The reader of a pipe has gone; nothing is left to say to it.
        terminal.mute()
        sys.exit(1)
    except MemoryError:
        terminal.fail(GenexError("there is too little memory", hint="close other programs"))
    except ImportError as problem:
        terminal.fail(library_error(problem))
    except Exception as error:
        if isinstance(error, OSError) and error.errno in _SHORTAGES:
            terminal.fail(GenexError(f"{error.strerror}", hint="close other programs and try again"))
        if os.environ.get("GENEX_DEBUG"):
            traceback.print_exc()
        note(
            f"genex: this is a fault in genex, not in your recipe: {type(error).__name__}: {error}\n"
            "  hint: set GENEX_DEBUG=1, run it again and report what it prints"
        )
        sys.exit(1)
    finally:
        signal.signal(signal.SIGINT, signal.SIG_IGN)  # nothing is left to stop


def _run() -> None:
    """Run the command that is asked for. What it cannot be asked for is told here, and clean."""
    try:
        sys.exit(app(standalone_mode=False) or 0)
    except typer.Abort:
        note("stopped: nothing was done")
        sys.exit(1)
    except Exception as error:
        # typer brings a click of its own, whose errors of usage can be told by this alone.
        if not (hasattr(error, "format_message") and hasattr(error, "show")):
            raise
        if "--json" in sys.argv:
            raise InputError(error.format_message(), hint="see --help") from None
        said = io.StringIO()
        error.show(file=said)
        note(said.getvalue().rstrip())
        sys.exit(2)


def _stopper(process: int, stops: list[float]) -> Callable[[int, FrameType | None], None]:
    """What Ctrl-C does: the process clears up what it began and ends; its helpers let it do so.

    Impatience does not stop the clearing up: for a while, more of it is not heard. ``stops`` is
    given the times at which it was heard.
    """

    def stop(number: int, frame: FrameType | None) -> None:
        now = time.monotonic()
        if os.getpid() == process and (not stops or now > stops[-1] + _PATIENCE_SECONDS):
            stops.append(now)
            raise Stopped

    return stop


def shows_pages() -> bool:
    """Whether text goes to a terminal, which can show it set out, and not into a pipe or a file."""
    return sys.stdout.isatty()


def _version(wanted: bool) -> None:
    if wanted:
        say(f"genex {__version__}")
        raise typer.Exit


@app.callback()
def _genex(
    version: Annotated[
        bool, typer.Option("--version", help="Print the version.", callback=_version, is_eager=True)
    ] = False,
) -> None:
    pass


@app.command("build")
def build_command(
    recipes: Recipes,
    out: Out = Path("lessons"),
    soundfont: Annotated[
        Path | None, typer.Option(metavar="PATH", help="Play with your own soundfont (.sf2, .sf3).")
    ] = None,
    rebuild: Annotated[bool, typer.Option("--rebuild", help="Build even what is up to date.")] = False,
    take_over: Annotated[
        bool, typer.Option("--take-over", help="Build into a folder that another recipe made.")
    ] = False,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Tell what would be made, replaced and removed.")
    ] = False,
    why: Annotated[bool, typer.Option("--why", help="Tell why each file is made or left.")] = False,
    watch: Annotated[
        bool, typer.Option("--watch", help="Stay, and build again whenever something is saved.")
    ] = False,
    shows: Annotated[
        bool, typer.Option("--open", help="Open the practice page, or else the sheet, in the browser.")
    ] = False,
    processes: Annotated[
        int | None, typer.Option("--jobs", metavar="N", min=1, max=64, help="Processes at work at once.")
    ] = None,
    cluster: Annotated[
        str | None, typer.Option(metavar="ADDRESS", help="Have other machines make it: tcp://HOST:PORT.")
    ] = None,
    quiet: Quiet = False,
    as_json: Annotated[bool, typer.Option("--json", help="Tell in JSON, an event a line.")] = False,
) -> None:
    """Write a lesson's files: DIR/<title>/ with MIDI, WAV, tab and a manifest."""
    choices = building.Choices(out, soundfont, rebuild, take_over, why, shows, processes, cluster)
    teller = building.Events() if as_json else building.Words(quiet=quiet)
    if watch and cluster:
        raise InputError("--watch builds on this machine", hint="leave away either it or --cluster")
    if dry_run:
        building.foresee(recipes, choices, teller, as_json=as_json)
        return
    try:
        (building.watch if watch else building.build)(recipes, choices, teller)
    except GenexError as error:
        if not as_json:
            raise
        teller.failed(error)
        sys.exit(error.exit_code)


@app.command()
def check(recipes: Recipes, quiet: Quiet = False, as_json: AsJson = False) -> None:
    """Validate recipes without rendering them."""
    check_all = jobs.check_all  # loaded before the waiting begins
    with terminal.Waiting(quiet=quiet or as_json) as waiting:
        good, errors = check_all(recipes, waiting.step)
    if as_json:
        say_json([*good, *(terminal.error_json(error) for error in errors)])
    elif not quiet:
        for answer in good:
            say(check_answers.check_line(answer))
            for text in answer["notes"]:
                note(text)
    if errors:
        for error in errors if not as_json else ():
            note(str(error))
        sys.exit(max(error.exit_code for error in errors))


@app.command()
def verify(
    folders: Annotated[list[Path], typer.Argument(metavar="FOLDER...", help="Of a lesson or series.")],
    quiet: Quiet = False,
    as_json: AsJson = False,
) -> None:
    """Hold finished lessons against their manifests: exit code 1 if a file is missing or changed."""
    bad = False
    answer = []
    for folder in folders:
        count, findings = upkeep.verify(folder)
        bad = bad or bool(findings)
        answer.append(
            {
                "folder": str(folder),
                "ok": not findings,
                "files": count,
                "findings": [{"file": str(one.path), "state": one.state} for one in findings],
            }
        )
        if not as_json:
            for one in findings:
                say(f"{one.path}: {one.state}")
            if not findings and not quiet:
                say(f"{folder}: {count} files, all as they were made")
    if as_json:
        say_json(answer)
    if bad:
        sys.exit(1)


@app.command()
def clean(
    out: Out = Path("lessons"),
    yes: Annotated[bool, typer.Option("--yes", "-y", help="Do not ask.")] = False,
    as_json: AsJson = False,
) -> None:
    """Remove what killed builds left and the cache: tells how much that is, and asks."""
    found = upkeep.disposable(out)
    if not as_json:
        for path in found.leftovers:
            say(str(path))
        say(
            f"{len(found.leftovers)} leftovers in {out}, {found.leftover_bytes / 1e6:.1f} MB; "
            f"cache {found.cache}: {found.cache_files} files, {found.cache_bytes / 1e6:.1f} MB"
        )
    # Without a terminal nobody can be asked: then it only tells.
    removed = yes or (not as_json and sys.stdin.isatty() and typer.confirm("Remove all that?"))
    if removed:
        upkeep.dispose(out)
    if as_json:
        say_json(found.as_json() | {"removed": removed})
    else:
        say("removed" if removed else "nothing was removed; --yes removes it")


for starting in (playing.play, beginnings.schema, beginnings.new, beginnings.examples):
    app.command()(starting)
app.command("import")(beginnings.import_chart)


@app.command()
def feels(as_json: AsJson = False) -> None:
    """List the feels: how the band can play."""
    answer = answers.feels_answer()
    if as_json:
        say_json(answer)
    else:
        say(answers.feels_text(answer))


@app.command()
def chord(
    symbols: Annotated[list[str], typer.Argument(metavar="SYMBOL...", help="Such as Gm7 or F#7b9.")],
    key: InKey = None,
    as_json: AsJson = False,
) -> None:
    """Tell a chord's notes, degrees, guide tones, names and scales, and its place in a key."""
    found = [answers.chord_answer(symbol, answers.key_named(key)) for symbol in symbols]
    if as_json:
        say_json(found[0] if len(found) == 1 else found)
    else:
        say("\n\n".join(answers.chord_text(answer) for answer in found))


@app.command()
def harmony(
    chart: Annotated[
        str, typer.Argument(metavar="RECIPE|CHART", help="A recipe, or a chart: 'Dm7 | G7 | Cmaj7 |'.")
    ],
    key: InKey = None,
    as_json: AsJson = False,
) -> None:
    """Explain a chart bar by bar: keys, Roman numerals, scales, guide tones, and why."""
    answer = harmony_table.harmony_answer(chart, answers.key_named(key))
    if as_json:
        say_json(answer)
    else:
        say(harmony_table.harmony_text(answer))


@app.command()
def shapes(
    chord: Annotated[str, typer.Argument(metavar="CHORD", help="Such as Cmaj7.")],
    form: Annotated[
        str | None, typer.Option(metavar="FORM", help="One form only: C, A, G, E, D or open.")
    ] = None,
    scale: Annotated[
        str | None, typer.Option(metavar="SCALE", help="A scale on the chord's root instead.")
    ] = None,
    tuning: Tuning = "standard",
    frets: Annotated[int | None, typer.Option(metavar="N", help="Frets of the neck.")] = None,
    capo: Capo = 0,
    hand: HandSize = "medium",
    closed: Annotated[bool, typer.Option("--closed", help="Leave the open form out.")] = False,
    all_tones: Annotated[
        bool, typer.Option("--all-tones", help="Ninths and more in order of pitch, not in thirds.")
    ] = False,
    fingerings: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Use the own shapes of this file.")
    ] = None,
    written: Annotated[
        bool, typer.Option("--written", help="Print the shapes as such a file, to start from.")
    ] = False,
    grips: Annotated[
        bool, typer.Option("--grips", help="Chords to comp with instead: shells, drop 2 and 3, triads.")
    ] = False,
    label: Annotated[
        Literal["degrees", "fingers", "notes"], typer.Option(help="What stands on the dots.")
    ] = "degrees",
    left_handed: Annotated[bool, typer.Option("--left-handed", help="Mirror the neck.")] = False,
    width: Annotated[int, typer.Option(metavar="COLUMNS", help="Width of the page.")] = 80,
    picture: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Draw a picture, .svg or .png, instead.")
    ] = None,
    theme: Annotated[Literal["light", "dark"], typer.Option(help="Colours of the picture.")] = "light",
    direction: Annotated[
        Literal["lying", "upright"], typer.Option(help="Shapes in the picture: as in tab, or as grips.")
    ] = "lying",
    spacing: Annotated[
        Literal["even", "true"], typer.Option(help="Frets in the picture: even, or as on a neck.")
    ] = "even",
    as_json: AsJson = False,
) -> None:
    """Show where a chord's tones lie: its shapes over the neck, with degrees or fingers."""
    neck = (tuning, frets, capo, hand)
    request = answers.ShapesRequest(
        chord, form, scale, *neck, closed=closed, in_thirds=not all_tones, fingerings=fingerings
    )
    for said in request.notes():
        note(said)
    if grips and as_json:
        say_json(answers.grips_answer(request))
    elif grips and picture is None:
        say(answers.grips_page(request, left_handed=left_handed))
    elif as_json:
        say_json(answers.shapes_answer(request))
    elif picture is not None:
        drawn = answers.Drawing(label, left_handed, theme, spacing, direction)
        (answers.grips_picture if grips else answers.shapes_picture)(request, picture, drawn)
        say(f"wrote {picture}")
    elif written:
        say(answers.shapes_written(request))
    else:
        say(answers.shapes_page(request, label=label, left_handed=left_handed, width=width))


@app.command()
def tab(
    file: Annotated[Path, typer.Argument(metavar="FILE.mid", help="A phrase of notes and chords.")],
    tuning: Tuning = "standard",
    capo: Capo = 0,
    position: Annotated[
        int | None,
        typer.Option(metavar="FRET", help="Fret of the first finger; the best place if left away."),
    ] = None,
    hand: HandSize = "medium",
    track: Annotated[
        int | None, typer.Option(metavar="N", help="Which track with notes, from 1.")
    ] = None,
    width: Annotated[int, typer.Option(metavar="COLUMNS", help="Width of the page.")] = 80,
    as_json: AsJson = False,
) -> None:
    """Finger a phrase from a MIDI file and print its tab."""
    score = answers.read_midi(
        file, tuning_name=tuning, capo=capo, hand=hand, position=position, track=track
    )
    if position is not None:
        text = answers.position_note(score, position, tuning_name=tuning, capo=capo, hand=hand)
        if text is not None:
            note(text)
    if as_json:
        say_json(answers.phrase_answer(score))
    else:
        say(answers.phrase_tab(score, width), end="")


@app.command()
def docs(
    name: Annotated[
        str | None, typer.Argument(metavar="PAGE", help="The page to show; a list if left away.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """List the pages of the documentation, or show one."""
    if name is None:
        found = [{"name": page.name, "title": page.title} for page in pages.read_pages()]
        say_titles(found, as_json=as_json)
        return
    shown = pages.read_page(name)
    if as_json:
        say_json({"name": shown.name, "title": shown.title, "text": shown.text})
    elif shows_pages():
        from rich.console import Console
        from rich.markdown import Markdown

        Console().print(Markdown(shown.text))
    else:
        say(shown.plain, end="")


if __name__ == "__main__":
    main()

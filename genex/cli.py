"""The command line: commands, progress and messages. No logic lives here.

The rooms behind the commands are loaded when a command first uses them, so that ``--help`` is
quick and a wrong option is answered at once.
"""

from __future__ import annotations

import gc
import io
import json
import math
import os
import signal
import sys
import time
import traceback
from collections.abc import Callable
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from genex import __version__
from genex.errors import GenexError
from genex.lazy import lazy

if TYPE_CHECKING:
    from genex.publishing import answers, jobs, up_to_date
else:
    answers = lazy("genex.publishing.answers")
    up_to_date = lazy("genex.publishing.up_to_date")
    jobs = lazy("genex.publishing.jobs")

_PATIENCE_SECONDS = 3.0
_STOPPED_CODE = 128 + signal.SIGINT  # as shells count it
app = typer.Typer(
    name="genex",
    help="One text file in, a whole guitar lesson out: MIDI, audio and matching tab.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)

Recipes = Annotated[list[Path], typer.Argument(metavar="RECIPE...", help="Recipe files (.yaml).")]
Tuning = Annotated[str, typer.Option(metavar="NAME", help="A tuning's name, or its open strings.")]
Capo = Annotated[int, typer.Option(metavar="FRET", help="Fret of the capo.")]
HandSize = Annotated[Literal["small", "medium", "large"], typer.Option(help="Size of the hand.")]
AsJson = Annotated[bool, typer.Option("--json", help="Answer in JSON.")]


def main() -> None:
    """Entry point: errors become one message on stderr and an exit code."""
    # A build makes many small values that live to its end: looking for garbage among them less
    # often saves a twentieth of its time.
    gc.set_threshold(50_000, 20, 20)
    # Matrix products of this size are done sooner by one thread; and so a build sounds the same
    # bit for bit on any number of processors of one kind.
    os.environ["OPENBLAS_NUM_THREADS"] = "1"
    for stream in (sys.stdout, sys.stderr):
        # A terminal that cannot show a sign such as ø shows another one; it is no fault.
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
    signal.signal(signal.SIGINT, _stopper(os.getpid()))
    try:
        app()
    except _Stopped:
        print(
            "genex: stopped; lessons that were finished are in place, all else is as it was",
            file=sys.stderr,
        )
        sys.exit(_STOPPED_CODE)
    except GenexError as error:
        _fail(error)
    except BrokenPipeError:
        # The reader of a pipe has gone; nothing is left to say to it.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(1)
    except Exception as error:
        if os.environ.get("GENEX_DEBUG"):
            traceback.print_exc()
        print(
            f"genex: this is a fault in genex, not in your recipe: {type(error).__name__}: {error}\n"
            "  hint: set GENEX_DEBUG=1, run it again and report what it prints",
            file=sys.stderr,
        )
        sys.exit(1)
    finally:
        signal.signal(signal.SIGINT, signal.SIG_IGN)  # nothing is left to stop


class _Stopped(BaseException):
    """Ctrl-C. Not an Exception, so that nothing on the way takes it for a fault."""


def _stopper(process: int) -> Callable[[int, FrameType | None], None]:
    """What Ctrl-C does: the process clears up what it began and ends; its helpers let it do so.

    Impatience does not stop the clearing up: for a while, more of it is not heard.
    """
    heard = -math.inf

    def stop(number: int, frame: FrameType | None) -> None:
        nonlocal heard
        if os.getpid() == process and time.monotonic() > heard + _PATIENCE_SECONDS:
            heard = time.monotonic()
            raise _Stopped

    return stop


def _fail(error: GenexError) -> None:
    print(error, file=sys.stderr)
    sys.exit(error.exit_code)


def _note(text: str) -> None:
    print(text, file=sys.stderr)


def _print_json(value: Any) -> None:
    print(json.dumps(value, ensure_ascii=False, indent=2))


class _Progress:
    """One line that is written over on a terminal, plain lines in a pipe."""

    def __init__(self) -> None:
        self.live = sys.stderr.isatty()
        self.width = 0

    def step(self, text: str) -> None:
        if self.live:
            print(f"\r{text:<{self.width}}", end="", file=sys.stderr, flush=True)
            self.width = len(text)

    def done(self, text: str) -> None:
        self.clear()
        print(text, flush=True)

    def clear(self) -> None:
        if self.live:
            print(f"\r{'':<{self.width}}\r", end="", file=sys.stderr, flush=True)
            self.width = 0


def _version(wanted: bool) -> None:
    if wanted:
        print(f"genex {__version__}")
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
    out: Annotated[Path, typer.Option(metavar="DIR", help="Folder for the lessons.")] = Path("lessons"),
    soundfont: Annotated[
        Path | None, typer.Option(metavar="PATH", help="Play with your own soundfont (.sf2, .sf3).")
    ] = None,
    rebuild: Annotated[bool, typer.Option("--rebuild", help="Build even what is up to date.")] = False,
) -> None:
    """Write a lesson's files: DIR/<title>/ with MIDI, WAV, tab and a manifest."""
    unchanged, stale = ({}, recipes) if rebuild else up_to_date.sort_out(recipes, out, soundfont)
    for printed in unchanged.values():
        print("\n".join([*printed, "  (unchanged)"]))
    if not stale:
        return
    progress = _Progress()
    built = jobs.build_all(
        stale,
        out,
        soundfont=soundfont,
        report=progress.step,
        unchanged=tuple(unchanged),
        note=_note,
    )
    try:
        for text in built:
            progress.done(text)
    finally:
        progress.clear()


@app.command()
def check(recipes: Recipes, as_json: AsJson = False) -> None:
    """Validate recipes without rendering them."""
    good, errors = jobs.check_all(recipes)
    if as_json:
        _print_json([*good, *(jobs.error_json(error) for error in errors)])
    else:
        for answer in good:
            print(jobs.check_line(answer))
            for text in answer["notes"]:
                _note(text)
    if errors:
        for error in errors if not as_json else ():
            print(error, file=sys.stderr)
        sys.exit(max(error.exit_code for error in errors))


@app.command()
def schema() -> None:
    """Print the JSON Schema of a recipe, for completion in an editor."""
    _print_json(jobs.recipe_schema())


@app.command()
def new(
    name: Annotated[str, typer.Argument(help="Title of the lesson, or the file to write.")],
    example: Annotated[
        str | None, typer.Option(metavar="EXAMPLE", help="Begin with an example ('genex examples').")
    ] = None,
) -> None:
    """Write a commented starter recipe."""
    print(f"wrote {jobs.new_recipe(name, example=example)}")


@app.command()
def examples(as_json: AsJson = False) -> None:
    """List the example recipes that come with genex."""
    found = jobs.list_examples()
    if as_json:
        _print_json(found)
        return
    width = max(len(entry["name"]) for entry in found)
    for entry in found:
        print(f"{entry['name']:<{width}}  {entry['title']}")


@app.command()
def feels(as_json: AsJson = False) -> None:
    """List the feels: how the band can play."""
    answer = answers.feels_answer()
    if as_json:
        _print_json(answer)
    else:
        print(answers.feels_text(answer))


@app.command()
def chord(
    symbols: Annotated[list[str], typer.Argument(metavar="SYMBOL...", help="Such as Gm7 or F#7b9.")],
    as_json: AsJson = False,
) -> None:
    """Tell a chord's notes, degrees, guide tones, names and scales."""
    found = [answers.chord_answer(symbol) for symbol in symbols]
    if as_json:
        _print_json(found[0] if len(found) == 1 else found)
    else:
        print("\n\n".join(answers.chord_text(answer) for answer in found))


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
    spacing: Annotated[
        Literal["even", "true"], typer.Option(help="Frets in the picture: even, or as on a neck.")
    ] = "even",
    as_json: AsJson = False,
) -> None:
    """Show where a chord's tones lie: its shapes over the neck, with degrees or fingers."""
    request = answers.ShapesRequest(
        chord,
        form,
        scale,
        tuning,
        frets,
        capo,
        hand,
        closed=closed,
        in_thirds=not all_tones,
        fingerings=fingerings,
    )
    for said in request.notes():
        _note(said)
    if grips and as_json:
        _print_json(answers.grips_answer(request))
    elif grips:
        print(answers.grips_page(request, left_handed=left_handed))
    elif as_json:
        _print_json(answers.shapes_answer(request))
    elif picture is not None:
        answers.shapes_picture(
            request, picture, label=label, left_handed=left_handed, theme=theme, spacing=spacing
        )
        print(f"wrote {picture}")
    elif written:
        print(answers.shapes_written(request))
    else:
        print(answers.shapes_page(request, label=label, left_handed=left_handed, width=width))


@app.command()
def tab(
    file: Annotated[Path, typer.Argument(metavar="FILE.mid", help="A single-note phrase.")],
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
            _note(text)
    if as_json:
        _print_json(answers.phrase_answer(score))
    else:
        print(answers.phrase_tab(score, width), end="")


if __name__ == "__main__":
    main()

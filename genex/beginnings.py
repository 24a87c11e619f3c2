"""Commands that a recipe begins with: a starter, an example, a chart from elsewhere, the schema."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from genex.lazy import lazy
from genex.terminal import note, say, say_json, say_titles

if TYPE_CHECKING:
    from genex.publishing import imports, jobs
else:
    imports = lazy("genex.publishing.imports")
    jobs = lazy("genex.publishing.jobs")

Quiet = Annotated[bool, typer.Option("--quiet", "-q", help="Print errors only.")]
AsJson = Annotated[bool, typer.Option("--json", help="Answer in JSON.")]


def schema(
    kind: Annotated[
        Literal["recipe", "groove", "defaults"],
        typer.Argument(metavar="KIND", help="One of recipe, groove and defaults."),
    ] = "recipe",
) -> None:
    """Print the JSON Schema of a recipe, a groove or a defaults file, for completion in an editor."""
    say_json(jobs.schema(kind))


def new(
    name: Annotated[str, typer.Argument(help="Title of the lesson, or the file to write.")],
    example: Annotated[
        str | None, typer.Option(metavar="EXAMPLE", help="Begin with an example ('genex examples').")
    ] = None,
    quiet: Quiet = False,
    as_json: AsJson = False,
) -> None:
    """Write a commented starter recipe."""
    path = jobs.new_recipe(name, example=example)
    if as_json:
        say_json({"file": str(path)})
    elif not quiet:
        say(f"wrote {path}")


def examples(as_json: AsJson = False) -> None:
    """List the example recipes that come with genex."""
    say_titles(jobs.list_examples(), as_json=as_json)


def import_chart(
    file: Annotated[
        Path, typer.Argument(metavar="FILE", help="A chart: .abc, .musicxml, .mxl, .mid or .txt.")
    ],
    out: Annotated[
        Path | None, typer.Option(metavar="RECIPE", help="The recipe to write; else by its title.")
    ] = None,
    tune: Annotated[
        int | None, typer.Option(metavar="N", help="Which tune of an ABC file, by its X: number.")
    ] = None,
    quiet: Quiet = False,
    as_json: AsJson = False,
) -> None:
    """Write a recipe from a chart in ABC, MusicXML, MIDI or text, and tell what was left out."""
    answer = imports.import_chart(file, out, tune)
    if as_json:
        say_json(answer)
        return
    for line in answer["left_out"]:
        note(f"note: {line}")
    if not quiet:
        say(imports.imported_text(answer))

"""The README against the code: every command shown is run, every output shown is compared.

A ```yaml block whose first line names a file is written to that file; a ```console block is run
line by line where ``$`` begins one. The line ``…`` stands for any lines. The table of fields is made
from the recipe's schema. ``python -m tests.test_docs`` brings the README up to date.
"""

from __future__ import annotations

import contextlib
import io
import os
import re
import shlex
import sys
import tempfile
from pathlib import Path
from typing import get_args

from genex.cli import main
from genex.fretboard import SEQUENCES, TUNINGS
from genex.lines.drills import INTERVALS
from genex.recipe import exercises, json_schema
from genex.recipe.fields import OutputName

ROOT = Path(__file__).parents[1]
README = ROOT / "README.md"
BLOCK = re.compile(r"^```(yaml|console)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
KINDS = re.compile(r"^\| kind \|.*?(?=^$)", re.MULTILINE | re.DOTALL)
EXERCISE_FIELDS = re.compile(r"^\| exercise field \|.*?(?=^$)", re.MULTILINE | re.DOTALL)
TABLE = re.compile(r"^\| field \|.*?(?=^$)", re.MULTILINE | re.DOTALL)


def run(command: str) -> str:
    """Output of ``genex …``, ``cat FILE`` or ``head -N FILE``, as a terminal would show it."""
    words = shlex.split(command)
    if words[0] in ("cat", "head"):
        text = Path(words[-1]).read_text("utf-8")
        count = int(words[1][1:]) if words[0] == "head" else None
        return "\n".join(text.splitlines()[:count]) + "\n"
    shown = io.StringIO()
    before = sys.argv
    sys.argv = words
    try:
        with contextlib.redirect_stdout(shown), contextlib.redirect_stderr(shown):
            main()
    except SystemExit:
        pass
    finally:
        sys.argv = before
    return shown.getvalue()


def replayed(text: str) -> str:
    """The README with every console block as it comes out today."""

    def block(match: re.Match[str]) -> str:
        kind, body = match.groups()
        if kind == "yaml":
            name = body.partition("\n")[0].removeprefix("#").strip()
            if name.endswith(".yaml"):
                Path(name).write_text(body, "utf-8")
            return match[0]
        shown = []
        for chunk in re.split(r"^\$ ", body, flags=re.MULTILINE)[1:]:
            command, _, expected = chunk.partition("\n")
            output = run(command)
            shown.append(f"$ {command}\n" + (expected if agrees(expected, output) else output))
        return "```console\n" + "".join(shown) + "```"

    with tempfile.TemporaryDirectory() as folder, contextlib.chdir(folder):
        return BLOCK.sub(block, text)


def agrees(expected: str, output: str) -> bool:
    """Whether an output is the expected one; a line ``…`` stands for any number of lines."""
    pattern = "".join(
        r"(?:.*\n)*?" if line.strip() == "…" else re.escape(line + "\n")
        for line in expected.splitlines()
    )
    return re.fullmatch(pattern, output) is not None


def field_table() -> str:
    """The recipe's fields as a Markdown table."""
    rows = ["| field | meaning | if left away |", "|---|---|---|"]
    schema = json_schema()
    for name, field in schema["properties"].items():
        rows.append(_row(name, field))
        group = _group(field, schema["$defs"])
        rows += [_row(f"{name}.{inner}", inner_field) for inner, inner_field in group.items()]
    return "\n".join(rows) + "\n"


def kind_table() -> str:
    """The kinds of exercise as a Markdown table."""
    rows = ["| kind | what it is | its fields |", "|---|---|---|"]
    for model in (*get_args(exercises.Line), *get_args(exercises.Study)):
        kind = get_args(model.model_fields["kind"].annotation)[0]
        names = ", ".join(f"`{name}`" for name in model.model_fields if name not in ("kind", "sound"))
        rows.append(f"| `{kind}` | {' '.join(model.__doc__.split())} | {names} |")
    return "\n".join(rows) + "\n"


def exercise_field_table() -> str:
    """Every field that some kind of exercise has, once, as a Markdown table."""
    rows = {}
    for model in (*get_args(exercises.Line), *get_args(exercises.Study)):
        for name, field in model.model_json_schema()["properties"].items():
            if name != "kind":
                rows.setdefault(name, _row(name, field))
    return (
        "\n".join(["| exercise field | meaning | if left away |", "|---|---|---|", *rows.values()])
        + "\n"
    )


def _group(field: dict, definitions: dict) -> dict:
    """The fields of a group that a field refers to."""
    options = [field, *field.get("anyOf", ())]
    names = [option["$ref"].rpartition("/")[2] for option in options if "$ref" in option]
    if "mapping" in field.get("discriminator", {}):
        return {}
    return definitions[names[0]]["properties"] if names else {}


def _row(name: str, field: dict) -> str:
    words = field.get("description", "").replace("|", "&#124;")
    options = (field, *field.get("anyOf", ()))
    # A word that stands for a group of fields is one of its kinds, which have a table of their own.
    kinds = any("discriminator" in option for option in options)
    choices = [option["enum"] for option in options if "enum" in option and not kinds]
    if choices:
        words = f"{words} One of {', '.join(map(str, choices[0]))}."
    several = [option["items"]["enum"] for option in options if "enum" in option.get("items", {})]
    if several:
        words = f"{words} Of {', '.join(several[0])}."
    default = field.get("default")
    if isinstance(default, dict) or default in (None, "", [], ()):
        default = ""
    return f"| `{name}` | {words} | {default} |".replace(" |  |", " | |")


def test_the_readme_shows_what_the_code_does():
    text = README.read_text("utf-8")
    for expected, actual in zip(BLOCK.findall(text), BLOCK.findall(replayed(text)), strict=True):
        assert actual == expected


def test_the_readme_lists_every_field():
    (table,) = TABLE.findall(README.read_text("utf-8"))
    assert table == field_table()


def test_the_readme_lists_every_kind_of_exercise():
    (table,) = KINDS.findall(README.read_text("utf-8"))
    assert table == kind_table()


def test_the_readme_lists_every_field_of_exercises_and_every_name():
    text = README.read_text("utf-8")
    (table,) = EXERCISE_FIELDS.findall(text)
    assert table == exercise_field_table()
    for name in (*SEQUENCES, *TUNINGS, *INTERVALS):
        assert name in " ".join(text.split()), name


def test_every_output_stands_in_the_table_of_files():
    text = README.read_text("utf-8")
    for name in get_args(OutputName):
        assert f"| `{name}` |" in text, name


def test_the_two_commands_are_single_lines_and_ci_runs_them():
    text = README.read_text("utf-8")
    ci = (ROOT / ".ci" / "run").read_text("utf-8")
    for heading in ("Set up and build the first lesson", "Set up and run the tests"):
        section = text.split(f"## {heading}\n")[1].split("\n## ")[0]
        assert len([line for line in section.splitlines() if line.startswith("    ")]) == 1
        assert f'readme_command "{heading}"' in ci


def test_the_readme_cares_for_hands_and_ears():
    text = README.read_text("utf-8")
    assert "clinician" in text and "teacher" in text and "volume" in text


if __name__ == "__main__":
    text = README.read_text("utf-8")
    text = KINDS.sub(lambda _: kind_table(), text.replace("KINDS\n", "| kind |\n"))
    text = EXERCISE_FIELDS.sub(
        lambda _: exercise_field_table(), text.replace("EXERCISEFIELDS\n", "| exercise field |\n")
    )
    text = TABLE.sub(lambda _: field_table(), text.replace("FIELDS\n", "| field |\n"))
    README.write_text(replayed(text), "utf-8")
    print(f"{README.name} is up to date in {os.fspath(ROOT.name)}")

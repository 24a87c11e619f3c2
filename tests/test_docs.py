"""README and pages against the code: all that they show is run, and what comes out is compared.

- A ```yaml block whose first line is ``# name.yaml`` is that file; recipes are checked by genex
  (``oops.yaml`` is wrong on purpose, files in a folder are groove files, a defaults file is inherited).
- Any other ```yaml block is a fragment: fields to be added to a recipe. It is checked within one.
- A ```console block is run line by line where ``$`` begins one. The line ``…`` stands for any lines.
- A ```pycon block is an example of Python, run as doctest does.
- What stands between ``<!-- table: … -->`` and ``<!-- end -->`` is made by ``genex/docs_tables.py``.

``python -m tests.test_docs`` brings tables, outputs and pictures up to date.
"""

from __future__ import annotations

import contextlib
import doctest
import inspect
import io
import json
import re
import shlex
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import get_args

import numpy as np
import pytest
from PIL import Image
from ruamel.yaml import YAML

import genex as face
from genex import terminal
from genex.band.kit import VOICES
from genex.cli import app, main
from genex.docs import FOLDER, PAGES, read_page
from genex.docs_pictures import DRAWN, PICTURES
from genex.docs_tables import with_tables
from genex.fretboard import SEQUENCES, TUNINGS
from genex.inputs import DEFAULTS_FILE
from genex.lines.drills import INTERVALS
from genex.recipe.fields import OutputName

ROOT = Path(__file__).parents[1]
README = ROOT / "README.md"
TEXTS = [README, *(FOLDER / f"{name}.md" for name in PAGES)]
BLOCK = re.compile(r"^```(yaml|console|pycon)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
FILE_NAME = re.compile(r"# ([\w/-]+\.yaml)\n")
MARK = re.compile(r"^<!-- table: ([\w.]+)(?:: ([^>]*?))? -->\n(.*?)^<!-- end -->$", re.M | re.S)

by_page = pytest.mark.parametrize("path", TEXTS, ids=lambda path: path.stem)


# Running what is shown


def run(command: str) -> tuple[int, str]:
    """Code and output of ``genex …``, ``cat FILE`` or ``head -N FILE``, as a terminal shows it."""
    words = shlex.split(command)
    if words[0] in ("cat", "head"):
        text = Path(words[-1]).read_text("utf-8")
        count = int(words[1][1:]) if words[0] == "head" else None
        return 0, "\n".join(text.splitlines()[:count]) + "\n"
    assert words[0] == "genex", command
    shown, before, code = io.StringIO(), sys.argv, 0
    sys.argv = words
    try:
        with contextlib.redirect_stdout(shown), contextlib.redirect_stderr(shown):
            main()
    except SystemExit as end:
        code = int(end.code or 0)
    finally:
        sys.argv = before
    return code, shown.getvalue()


def replayed(text: str) -> str:
    """A page with every console block as it comes out today; raises where an example is wrong."""
    recipes, fragments = [], []

    def block(match: re.Match[str]) -> str:
        kind, body = match.groups()
        if kind == "yaml":
            named = FILE_NAME.match(body)
            if named is None:
                fragments.append(body)
            else:
                path = Path(named[1])
                path.parent.mkdir(parents=True, exist_ok=True)
                path.write_text(body, "utf-8")
                recipes.append(path)
            return match[0]
        if kind == "pycon":
            return match[0]
        return "```console\n" + "".join(console(body)) + "```"

    with tempfile.TemporaryDirectory() as folder, contextlib.chdir(folder):
        shown = BLOCK.sub(block, text)
        for number, body in enumerate(fragments):
            recipes.append(Path(f"fragment-{number}.yaml"))
            recipes[-1].write_text(completed(body), "utf-8")
        for path in recipes:
            if path.parent == Path() and path.stem != "oops" and path.name != DEFAULTS_FILE:
                code, said = run(f"genex check {path}")
                assert code == 0, f"{path.read_text('utf-8')}\n{said}"
    return shown


def console(body: str) -> list[str]:
    shown = []
    for chunk in re.split(r"^\$ ", body, flags=re.MULTILINE)[1:]:
        command, _, expected = chunk.partition("\n")
        _, output = run(command)
        shown.append(f"$ {command}\n" + (expected if agrees(expected, output) else output))
    return shown


def agrees(expected: str, output: str) -> bool:
    """Whether an output is the expected one; a line ``…`` stands for any number of lines."""
    pattern = "".join(
        r"(?:.*\n)*?" if line.strip() == "…" else re.escape(line + "\n")
        for line in expected.splitlines()
    )
    return re.fullmatch(pattern, output) is not None


def completed(fragment: str) -> str:
    """A fragment within a whole recipe."""
    fields = YAML(typ="safe").load(fragment)
    given = [] if {"key", "chords"} <= fields.keys() or "chords" in fields else ["key: C"]
    if not {"chords", "sections"} & fields.keys():
        given += ["chords: Dm7 | G7 | Cmaj7 | A7 |"]
    if "exercise" not in fields:
        given += ["exercise: arpeggio"]
    return "\n".join([*given, fragment])


def files_of(text: str) -> None:
    """Write the files that a page shows into the current folder."""
    for kind, body in BLOCK.findall(text):
        named = FILE_NAME.match(body)
        if kind == "yaml" and named is not None:
            Path(named[1]).write_text(body, "utf-8")


@by_page
def test_a_page_shows_what_comes_out(path):
    text = path.read_text("utf-8")
    for expected, actual in zip(BLOCK.findall(text), BLOCK.findall(replayed(text)), strict=True):
        assert actual == expected


@by_page
def test_every_example_of_python_gives_what_is_shown(path, tmp_path, monkeypatch):
    text = path.read_text("utf-8")
    if "```pycon" not in text:
        assert path.stem != "python"
        return
    monkeypatch.chdir(tmp_path)
    files_of(text)
    code = "\n".join(body for kind, body in BLOCK.findall(text) if kind == "pycon")
    examples = doctest.DocTestParser().get_doctest(code, {}, path.name, str(path), 0)
    told: list[str] = []
    result = doctest.DocTestRunner(optionflags=doctest.NORMALIZE_WHITESPACE).run(
        examples, out=told.append
    )
    assert result.attempted > 5 and result.failed == 0, "".join(told)


# Tables, held by the JSON Schema: nothing of what makes them is used here

PRINTED = json.loads(run("genex schema")[1])
GROOVES = json.loads(run("genex schema groove")[1])
SCHEMAS = {"recipe": PRINTED["else"], "series": PRINTED["then"], "feel": GROOVES}
DEFINITIONS = PRINTED["$defs"] | GROOVES["$defs"]


def options(field: dict) -> list[dict]:
    """Every alternative that a field's schema allows, references followed."""
    if "$ref" in field:
        return options(DEFINITIONS[field["$ref"].rpartition("/")[2]])
    if "properties" not in field and ("anyOf" in field or "oneOf" in field):
        return [one for part in field.get("anyOf", field.get("oneOf")) for one in options(part)]
    return [field]


def groups_in(field: dict) -> Iterator[dict]:
    """Every group of fields that a field allows, also in its lists and by names of one's own."""
    for one in options(field):
        if "properties" in one:
            yield one
        for inner in ("items", "additionalProperties"):
            if isinstance(one.get(inner), dict):
                yield from groups_in(one[inner])


def schema_groups(path: str, schema: dict) -> dict[str, dict]:
    """Every group of fields, by the way to it; kinds are told by their ``kind``."""
    found = {path: schema}
    for name, field in schema["properties"].items():
        if (path, name) == ("recipe", "exercises"):
            continue  # an exercise's fields are the recipe's own, as the next test holds
        for group in groups_in(field):
            kind = group["properties"].get("kind", {}).get("const")
            found |= schema_groups(f"{path}.{name}.{kind}" if kind else f"{path}.{name}", group)
    return found


def shown_rows() -> list[tuple[str, str, list[str]]]:
    """Group, field and cells of every row of every generated table of fields on the pages."""
    rows = []
    for path in TEXTS:
        for group, _, body in MARK.findall(path.read_text("utf-8")):
            if group.partition(".")[0] in SCHEMAS:
                lines = [line for line in body.splitlines() if line.startswith("| `")]
                for line in lines:
                    cells = re.split(r"(?<!\\)\|", line)[1:-1]
                    name, *cells = (cell.strip().replace(r"\|", "|") for cell in cells)
                    rows.append((group, name.strip("`"), cells))
    return rows


GROUPS = {
    path: group for name, top in SCHEMAS.items() for path, group in schema_groups(name, top).items()
}


def test_every_field_of_the_schema_stands_in_one_table():
    shown = Counter((group, name) for group, name, _ in shown_rows())
    wanted = Counter(
        (path, name)
        for path, group in GROUPS.items()
        for name, field in group["properties"].items()
        if ("const" not in field or name != "kind")
        and not (path.endswith((".layers", ".fills")) and name in VOICES)  # these are listed
    )
    assert shown == wanted
    assert len(GROUPS) >= 24 and len(wanted) > 150, "the walk goes everywhere"


def test_the_fields_of_an_exercise_are_those_of_the_recipe():
    fields = SCHEMAS["recipe"]["properties"]
    (entry,) = groups_in(fields["exercises"])
    assert entry["properties"].items() <= fields.items()
    of_the_lesson = {"exercises", "letterhead", "language", "note_names", "font"}
    assert fields.keys() - entry["properties"].keys() == of_the_lesson


def test_tables_tell_the_schema_s_words_defaults_limits_and_choices():
    for path, name, (meaning, allowed, default) in shown_rows():
        group = GROUPS[path]
        field = group["properties"][name]
        where = f"{path}.{name}"
        assert meaning == field["description"], where
        expected = field.get("default")
        if name in group.get("required", ()):
            assert default == "(must be written)", where
        elif expected in (None, "", [], {}) or isinstance(expected, dict):
            assert default == "", where
        else:
            assert YAML(typ="safe").load(default.strip("`")) == expected, where
            assert not re.search(r"True|False|None|'", default), where
        assert choices_in(allowed) == choices_of(field), where
        assert limits_in(allowed) == limits_of(field), where


def parts_of(field: dict) -> list[dict]:
    """The alternatives of a field, and of what is in its lists, but for text in place of a list."""
    found = []
    for one in options(field):
        if one.keys() == {"type"} and isinstance(one["type"], list):
            continue  # a word or a line of them that stands for a list or a group
        found.append(one)
        found += options(one["items"]) if "items" in one else []
        found += options(one["propertyNames"]) if "propertyNames" in one else []
        values = one.get("additionalProperties")
        found += options(values) if isinstance(values, dict) else []
    return found


def choices_of(field: dict) -> set[str]:
    found = [str(word) for part in parts_of(field) for word in part.get("enum", ())]
    found += [str(part["const"]) for part in parts_of(field) if "const" in part]
    if any(part.get("type") == "boolean" for part in parts_of(field)):
        found += ["true", "false"]
    return set(found)


def choices_in(cell: str) -> set[str]:
    return set(re.findall(r"`([^`]+)`", cell))


def limits_of(field: dict) -> set[float]:
    return {
        float(part[limit])
        for part in parts_of(field)
        for limit in ("minimum", "maximum", "maxLength")
        if limit in part
    }


def limits_in(cell: str) -> set[float]:
    return {float(number) for number in re.findall(r"-?\d+(?:\.\d+)?", re.sub(r"`[^`]+`", "", cell))}


@by_page
def test_the_tables_and_lists_of_a_page_are_what_genex_makes_of_them(path):
    text = path.read_text("utf-8")
    assert text == with_tables(text)


def test_all_names_that_a_recipe_may_use_stand_on_a_page():
    text = " ".join(" ".join(path.read_text("utf-8") for path in TEXTS).split())
    for name in (*SEQUENCES, *TUNINGS, *INTERVALS):
        assert name in text, name


def test_every_output_stands_in_the_table_of_files():
    text = read_page("formats").text
    for name in get_args(OutputName):
        assert f"| `{name}` |" in text, name


def test_every_command_and_every_name_for_python_is_told():
    commands, python = read_page("commands").text, read_page("python").text
    for command in app.registered_commands:
        name = command.name or command.callback.__name__
        assert f"`genex {name}`" in commands
        assert re.search(rf"^(## .*\b{name}\b|\$ genex {name}\b)", commands, re.MULTILINE), name
    for name in set(face.__all__) - {"__version__"}:
        assert re.search(rf"`{name}[`(]", python), name


def test_the_functions_for_python_have_the_parameters_that_are_told():
    rows = re.findall(r"^\| `(\w+)\((.*?)\)` \|", read_page("python").text, re.MULTILINE)
    assert {name for name, _ in rows} == {
        name for name in face.__all__ if inspect.isfunction(getattr(face, name))
    }
    for name, told in rows:
        parameters = inspect.signature(getattr(face, name)).parameters.values()
        shown = [
            one.name
            + ("…" if one.kind is one.VAR_POSITIONAL else "")
            + ("" if one.default is one.empty else f"={json.dumps(one.default)}")
            for one in parameters
        ]
        assert told == ", ".join(shown).replace("null", "None").replace("false", "False")


# Pages and how they are shown


def test_the_folder_holds_the_pages_and_nothing_else():
    assert sorted(path.stem for path in FOLDER.glob("*.md")) == sorted(PAGES)
    text = README.read_text("utf-8")
    for name in PAGES:
        assert f"genex/docs/{name}.md" in text, name


@pytest.mark.parametrize("name", [name for name in PAGES if name != "changelog"])
def test_a_page_begins_with_a_whole_recipe(name):
    kind, body = BLOCK.findall(read_page(name).text)[0]
    assert kind == "yaml" and FILE_NAME.match(body)
    assert read_page(name).text.index("```yaml") < 200


def test_the_changelog_begins_with_this_version():
    assert re.findall(r"^## (\S+)", read_page("changelog").text, re.MULTILINE)[0] == face.__version__


def test_docs_lists_and_shows_pages(genex):
    listed = genex("docs").out
    assert [line.split()[0] for line in listed.splitlines()] == list(PAGES)
    assert [page["name"] for page in json.loads(genex("docs", "--json").out)] == list(PAGES)
    shown = genex("docs", "charts").out
    assert shown == read_page("charts").plain and "<!--" not in shown
    assert "| `|: Am7 | D7 :|` | played twice; `:|x3` three times |" in shown
    assert json.loads(genex("docs", "feels", "--json").out)["text"] == read_page("feels").text


def test_an_unknown_page_is_answered_with_the_nearest(genex):
    answer = genex("docs", "exercise")
    assert answer.code == 2 and "did you mean 'exercises'?" in answer.err


@pytest.mark.parametrize("name", PAGES)
def test_a_terminal_shows_a_page_set_out(genex, monkeypatch, name):
    monkeypatch.setattr("genex.cli.shows_pages", lambda: True)
    answer = genex("docs", name)
    assert answer.code == 0 and read_page(name).title in answer.out
    assert "| --- |" not in answer.out and "```" not in answer.out


def test_links_and_pictures_lead_somewhere():
    for path in TEXTS:
        for target in re.findall(r"\]\(([^)#]+)\)", path.read_text("utf-8")):
            assert (path.parent / target).exists(), f"{path.name}: {target}"


@pytest.mark.parametrize("name", DRAWN)
def test_a_picture_is_what_genex_draws(name):
    """Drawings to the byte; of a page set in points, a newer typesetter may shade an edge otherwise."""
    kept, drawn = (PICTURES / name).read_bytes(), DRAWN[name]()
    if name.endswith(".svg"):
        assert kept == drawn
        return
    one, other = (
        np.asarray(Image.open(io.BytesIO(data)).convert("L"), dtype=float) for data in (kept, drawn)
    )
    assert one.shape == other.shape
    assert np.abs(one - other).mean() < 0.5
    assert one.std() > 20, "there is something on the page"


def test_pictures_are_small_and_all_of_them_are_shown():
    names = {path.name for path in PICTURES.iterdir()}
    assert names == set(DRAWN) | {"page.png"}  # that one is a browser's: tests/page/test_picture.py
    assert sum(path.stat().st_size for path in PICTURES.iterdir()) < 400_000
    text = "".join(path.read_text("utf-8") for path in TEXTS)
    assert all(f"pictures/{name})" in text for name in names)


# The README


def test_the_readme_is_short():
    assert len(README.read_bytes()) <= 6_000


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


def bring_up_to_date() -> None:
    """Write tables, outputs and pictures anew, and say which files changed."""
    terminal.PATIENCE_SECONDS = 600.0  # a busy machine's lines on what takes long are no part of a page
    for path in TEXTS:
        before = path.read_text("utf-8")
        after = replayed(with_tables(before))
        if after != before:
            path.write_text(after, "utf-8")
            print(f"wrote {path.relative_to(ROOT)}")
    for name, draw in DRAWN.items():
        data, path = draw(), PICTURES / name
        if not path.exists() or path.read_bytes() != data:
            path.write_bytes(data)
            print(f"wrote {path.relative_to(ROOT)}")


if __name__ == "__main__":
    bring_up_to_date()

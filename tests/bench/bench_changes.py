"""What a change costs: a lesson built again in a new process, as ratios to a build of all of it.

    python -m tests.bench.bench_changes [RECIPE...]

Each change is made to the recipe, which is built again in place, and from nothing in another folder.
Printed are how many sounds were rendered and how many were kept, the processor time of the build as a
ratio to that from nothing (start of the program and imports included, notes found on disk), and whether
every file is the same. The examples are taken if no recipe is named.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from tests.bench.bench_cluster import digests

EXAMPLES = Path(__file__).parents[2] / "recipes"
TAKEN = ("lantern-street.yaml", "harbour-lights.yaml", "thursday-evening.yaml")
CHANGES = {
    "title": {"title": "Another Evening"},
    "aim": {"aim": "Every note as long as the other."},
    "tab more": {"outputs": "[midi, tab, loop, take, captions]"},
    "mix": {"mix": "{drums: {level: -3}}"},
    "tempo": {"tempo": "97"},
    "seed": {"seed": "77"},
    "loudness": {"audio": "{loudness: -20}"},
}
FIRST = {"outputs": "[midi, loop, take]"}


def with_fields(text: str, fields: dict[str, str]) -> str:
    """A recipe with some top-level fields in place of its own."""
    for name, value in fields.items():
        text = re.sub(rf"(?m)^{name}:.*\n(?:[ \t]+.*\n|- .*\n)*", "", text)
        text += f"\n{name}: {value}\n"
    return text


def build(recipe: Path, out: str, cache: Path) -> tuple[float, int, int]:
    """Seconds of processor time; sounds that were rendered and that were kept, as ``--why`` says."""
    before = os.times()
    words = [sys.executable, "-m", "genex", "build", recipe.name, "--out", out, "--why", "--json"]
    done = subprocess.run(
        [*words, "--jobs", "1"], cwd=recipe.parent, capture_output=True, text=True,
        env={**os.environ, "XDG_CACHE_HOME": str(cache)},
    )  # fmt: skip
    after = os.times()
    if done.returncode:
        raise SystemExit(done.stdout + done.stderr)
    events = [json.loads(line) for line in done.stdout.splitlines()]
    sounds = [e for e in events if e["event"] == "why" and e["made"] and e["file"].endswith(".wav")]
    kept = sum("its sound is kept" in one["why"] for one in sounds)
    seconds = after.children_user + after.children_system
    return seconds - before.children_user - before.children_system, len(sounds) - kept, kept


def main() -> None:
    """Print the table."""
    recipes = [Path(word) for word in sys.argv[1:]] or [EXAMPLES / name for name in TAKEN]
    folder = Path(tempfile.mkdtemp())
    print(f"{'recipe':<22} {'change':<10} rendered kept  ratio  same")
    for recipe in recipes:
        shutil.copytree(recipe.parent, folder / "recipes", dirs_exist_ok=True)  # files that it names
        target = folder / "recipes" / recipe.name
        text = with_fields(recipe.read_text(), FIRST)
        for name, fields in CHANGES.items():
            out, clean = target.parent / "out", target.parent / "clean"
            for place in (out, clean):
                shutil.rmtree(place, ignore_errors=True)
            target.write_text(text)
            build(target, "out", folder / "cache")
            target.write_text(with_fields(text, fields))
            seconds, rendered, kept = build(target, "out", folder / "cache")
            build(target, "clean", folder / "cache")  # its notes are on disk from here on
            shutil.rmtree(clean)
            whole, _, _ = build(target, "clean", folder / "cache")
            (made,) = clean.iterdir()
            same = digests(out / made.name) == digests(made)
            counts = f"{rendered:>8} {kept:>4} {seconds / whole:>6.2f}"
            print(f"{recipe.stem:<22} {name:<10} {counts}  {same}", flush=True)
    shutil.rmtree(folder)


if __name__ == "__main__":
    main()

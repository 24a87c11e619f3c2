"""The page's modules without a browser: node's own test runner over ``tests/page/app``."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

from genex.page.document import module_names

HERE = Path(__file__).parent / "app"
OLDEST_NODE = 20


def node() -> str | None:
    """Node, if it is there and new enough."""
    path = shutil.which("node")
    if path is None:
        return None
    told = subprocess.run([path, "--version"], capture_output=True, text=True, check=True).stdout
    return path if int(told.strip().lstrip("v").split(".")[0]) >= OLDEST_NODE else None


def test_the_modules_by_themselves() -> None:
    path = node()
    if path is None:
        print(f"no node {OLDEST_NODE} or newer: the page's modules were not tested", file=sys.__stderr__)
        return
    files = sorted(map(str, HERE.glob("*.test.mjs")))
    done = subprocess.run([path, "--test", *files], capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr


def test_every_module_is_small() -> None:
    app = Path(__file__).parents[2] / "genex" / "page" / "app"
    for name in module_names():
        assert len((app / f"{name}.js").read_text("utf-8").splitlines()) <= 500, name

"""A page that is served on this machine, and takes what is built while it plays."""

from __future__ import annotations

import json
import threading
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from genex.page import live
from genex.page.document import words
from genex.page.merge import page_data
from tests.page.pages import TUNE, page

OTHER = TUNE.replace("Gm7 | D7b9 |", "Gm7 | Ab7 |").replace("132", "120")


@pytest.fixture
def served(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[tuple[Path, str]]:
    """The tune's page in a file, and where it is served."""
    monkeypatch.setattr(live, "WAIT_SECONDS", 0.2)
    file = tmp_path / "tune.page.html"
    file.write_bytes(page())
    server, address = live.serve(file)
    thread = threading.Thread(target=server.serve_forever, args=[0.01])
    thread.start()
    yield file, address
    server.shutdown()
    thread.join()
    server.server_close()


def got(address: str, **headers: str) -> tuple[int, bytes, dict[str, str]]:
    try:
        with urllib.request.urlopen(urllib.request.Request(address, headers=headers)) as answer:
            return answer.status, answer.read(), dict(answer.headers)
    except urllib.error.HTTPError as refused:
        return refused.code, refused.read(), dict(refused.headers)


def test_it_may_ask_whoever_served_it_and_nobody_else(served: tuple[Path, str]) -> None:
    # [published: W3C Content Security Policy Level 3, connect-src]
    file, address = served
    status, text, _ = got(address)
    assert status == 200 and page_data(text) == page_data(file.read_bytes())
    assert b"connect-src &#x27;self&#x27;" in text and b"connect-src" not in file.read_bytes()
    assert address.startswith("http://127.0.0.1:")


def test_the_next_lesson_comes_when_there_is_one(served: tuple[Path, str]) -> None:
    file, address = served
    mark = got(address)[2]["X-Lesson"]
    assert got(f"{address}next?after={mark}")[:2] == (204, b"")
    file.write_bytes(page(OTHER))
    status, text, headers = got(f"{address}next?after={mark}")
    assert status == 200 and headers["X-Lesson"] != mark
    assert json.loads(text) == page_data(file.read_bytes())
    file.unlink()  # folders are exchanged: what was there is told meanwhile
    assert got(f"{address}next?after={mark}")[1] == text
    file.write_bytes(b"<html>")
    assert got(f"{address}next?after={mark}")[1] == text


def test_other_names_and_other_paths_are_refused(served: tuple[Path, str]) -> None:
    """A page of somebody else whose name leads here must not read the lesson."""
    _, address = served
    root = address.split("/", 3)[0:3]
    assert got(address, Host="example.org")[0] == 404
    assert got("/".join([*root, ""]))[0] == 404
    assert got("/".join([*root, "guess", ""]))[0] == 404
    assert got(f"{address}../../etc/passwd")[0] == 404


def test_an_open_page_takes_what_is_saved_while_it_plays(browser: Any, served: tuple[Path, str]) -> None:
    if browser is None:
        return
    file, address = served
    tab = browser.new_page()
    faults: list[str] = []
    tab.on("pageerror", lambda error: faults.append(str(error)))
    tab.goto(address)
    tab.evaluate("page.store.set({count: 0, percent: 90, label: 'fingers'}); page.start(0)")
    tab.wait_for_function("() => page.player.isPlaying && page.tick > 480")
    before = tab.evaluate("page.tick")
    file.write_bytes(page(OTHER))
    tab.wait_for_function("() => document.querySelector('#chart').textContent.includes('A♭7')")
    assert tab.text_content(".unseen") == words("en")["taken"]
    state = tab.evaluate("[page.store.values.percent, page.store.values.label, page.player.isPlaying]")
    assert state == [90, "fingers", True]
    assert tab.evaluate("page.tick") >= before, "it goes on where it was"
    assert tab.evaluate("page.player.transport.wishes.setting === page.setting")
    tab.wait_for_function("() => page.tick > 960 * 4")
    assert tab.evaluate("page.player.transport.late") == 0 and faults == []
    tab.close()

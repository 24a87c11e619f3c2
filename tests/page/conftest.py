from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.page.pages import FLAGS, chromium, page, tell_no_browser, write


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """Chromium; None where there is none, which is said."""
    path = chromium()
    if path is None:
        tell_no_browser()
        yield None
        return
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        opened = driver.chromium.launch(executable_path=path, args=list(FLAGS))
        yield opened
        opened.close()


@pytest.fixture(scope="session")
def shown(browser: Any, tmp_path_factory: pytest.TempPathFactory) -> Any:
    """The page of the tune, opened once for what only measures."""
    if browser is None:
        return None
    tab = browser.new_page()
    tab.goto(write(tmp_path_factory.mktemp("page"), page()).as_uri())
    return tab


@pytest.fixture
def opened(browser: Any, tmp_path: Path) -> Iterator[Callable[..., Any]]:
    """Open a page anew: ``opened(data, width=320)``; ``tab.faults`` lists what went wrong in it."""
    contexts = []

    def open_page(data: bytes, *, before: str = "", **options: Any) -> Any:
        context = browser.new_context(**options)
        contexts.append(context)
        tab = context.new_page()
        tab.faults = []
        tab.requests = []
        tab.on("pageerror", lambda error: tab.faults.append(str(error)))
        tab.on("console", lambda said: said.type == "error" and tab.faults.append(said.text))
        tab.on("request", lambda request: tab.requests.append(request.url))
        if before:
            tab.add_init_script(before)
        tab.goto(write(tmp_path, data).as_uri())
        tab.wait_for_selector(".transport")
        return tab

    yield open_page
    for context in contexts:
        context.close()

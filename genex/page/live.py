"""A page that follows the pen: served to browsers on this machine alone, newer as soon as it is built.

    python -m genex.page.live FILE

prints an address and serves the page there until its standard input is closed, so it ends with whoever
started it. It is a process of its own: a build copies its process and may have no threads. The page asks
``next``, which answers when the file holds another lesson than the one that is shown.

Only 127.0.0.1 is listened to. The address has a secret in it, and requests under another name than that
of the address are refused, so that no page of somebody else can read a lesson through the browser.
"""

from __future__ import annotations

import hashlib
import json
import secrets
import signal
import sys
import threading
import time
from functools import partial
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

from genex.page.document import document
from genex.page.merge import page_data

LOOPBACK = "127.0.0.1"
LOOK_SECONDS = 0.04
"""So often the file is looked at while a page waits."""
WAIT_SECONDS = 20.0
"""After so long a page is told that nothing is new, and asks again."""


def serve(file: Path) -> tuple[ThreadingHTTPServer, str]:
    """A server for a page's file, not yet running, and the address of the page. Raises OSError."""
    secret = secrets.token_urlsafe(16)
    server = ThreadingHTTPServer((LOOPBACK, 0), partial(_Handler, _Lesson(file), secret))
    server.daemon_threads = True
    return server, f"http://{LOOPBACK}:{server.server_address[1]}/{secret}/"


class _Lesson:
    """What lies in a page's file now: its data, and a mark that is another one if they are."""

    def __init__(self, file: Path) -> None:
        self._file = file
        self._lock = threading.Lock()
        self._stamp: tuple[int, int, int] | None = None
        self._read: tuple[str, dict[str, Any]] | None = None

    def read(self) -> tuple[str, dict[str, Any]] | None:
        """Mark and data. While the file is away, or no page, what it held before."""
        with self._lock:
            try:
                status = self._file.stat()
                stamp = status.st_ino, status.st_size, status.st_mtime_ns
                if stamp != self._stamp:
                    page = self._file.read_bytes()
                    self._read = hashlib.sha256(page).hexdigest()[:16], page_data(page)
                    self._stamp = stamp
            except (OSError, ValueError):
                pass
            return self._read

    def next(self, seen: str) -> tuple[str, dict[str, Any]] | None:
        """Mark and data as soon as the mark is another than ``seen``; None after a while."""
        end = time.monotonic() + WAIT_SECONDS
        while True:
            found = self.read()
            if found is not None and found[0] != seen:
                return found
            if time.monotonic() > end:
                return None
            time.sleep(LOOK_SECONDS)


class _Handler(BaseHTTPRequestHandler):
    server_version, sys_version = "genex", ""

    def __init__(
        self, lesson: _Lesson, secret: str, request: Any, client: Any, server: ThreadingHTTPServer
    ) -> None:
        self._lesson, self._secret, self._port = lesson, secret, server.server_address[1]
        super().__init__(request, client, server)

    def do_GET(self) -> None:
        """The page, or the lesson when there is another one."""
        path, _, query = self.path.partition("?")
        own = f"{LOOPBACK}:{self._port}"
        if self.headers.get("host") != own or not path.startswith(f"/{self._secret}/"):
            self._answer(HTTPStatus.NOT_FOUND)
        elif path == f"/{self._secret}/next":
            found = self._lesson.next(query.removeprefix("after="))
            if found is None:
                self._answer(HTTPStatus.NO_CONTENT)
            else:
                self._answer(HTTPStatus.OK, json.dumps(found[1]), "application/json", found[0])
        elif path == f"/{self._secret}/" and (found := self._lesson.read()) is not None:
            mark, data = found
            page = document(data["title"], data, data["language"], follows=mark)
            self._answer(HTTPStatus.OK, page, "text/html; charset=utf-8", mark)
        else:
            self._answer(HTTPStatus.NOT_FOUND)

    def _answer(
        self, status: HTTPStatus, text: str = "", kind: str = "text/plain", mark: str = ""
    ) -> None:
        body = text.encode()
        self.send_response(status)
        self.send_header("Content-Type", kind)
        self.send_header("Content-Length", str(len(body)))
        self.send_header("Cache-Control", "no-store")
        self.send_header("X-Content-Type-Options", "nosniff")
        self.send_header("Cross-Origin-Resource-Policy", "same-origin")
        self.send_header("X-Lesson", mark)
        self.end_headers()
        try:
            self.wfile.write(body)
        except OSError:
            return  # the page was closed

    def log_message(self, format: str, *args: Any) -> None:
        """Nothing: whoever builds has the terminal."""


def main() -> None:
    """Serve the page that is named, until the standard input ends."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for whoever started this
    server, address = serve(Path(sys.argv[1]))
    threading.Thread(target=server.serve_forever, daemon=True).start()
    print(address, flush=True)
    sys.stdin.read()


if __name__ == "__main__":
    main()

"""The head of a sheet: who hands it out, a logo, a link to be opened with a telephone."""

from __future__ import annotations

import base64
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from genex.errors import GenexError, InputError
from genex.export.handout.settings import Letterhead
from genex.export.handout.typeset import plain_text, png_pages
from genex.lazy import lazy
from genex.readers.logo import Logo

if TYPE_CHECKING:
    import segno
else:
    segno = lazy("segno")

MODULE_MM = 0.5
"""Width of a square of a QR code on paper. Printed codes are read well from 0.4 mm on [memory]."""
QUIET_MODULES = 4
"""White squares around a QR code [published: ISO/IEC 18004, 5.3.8]."""


def letterhead_data(head: Letterhead) -> dict[str, Any]:
    """What the templates need of a letterhead: ``licence``, and ``letterhead`` where there is one."""
    lines = [plain_text(text) for text in (head.teacher, head.contact) if text.strip()]
    told: dict[str, Any] = {
        "school": plain_text(head.school),
        "lines": lines,
        "logo": "",
        "link": "",
    }
    if head.logo is not None:
        told["logo"] = _svg(head.logo)
    if head.link:
        told |= {"link": head.link, "code": qr_code(head.link)}
    licence = plain_text(head.licence)
    shown = any(told.values())
    return {"licence": licence, "letterhead": told if shown else None}


def qr_code(link: str) -> Mapping[str, Any]:
    """A link as QR code, as the templates take pictures.

    Level M: it can be read with a seventh of it covered [published: ISO/IEC 18004, 7.5.1].
    """
    code = segno.make_qr(link, error="m", boost_error=False)
    rows = [bytes(row) for row in code.matrix]
    size = len(rows) + 2 * QUIET_MODULES
    squares = "".join(
        f"M{x + QUIET_MODULES} {y + QUIET_MODULES}h1v1h-1z"
        for y, row in enumerate(rows)
        for x, dark in enumerate(row)
        if dark
    )
    return {
        "svg": f'<svg xmlns="http://www.w3.org/2000/svg" width="{size}" height="{size}" '
        f'viewBox="0 0 {size} {size}" shape-rendering="crispEdges"><path d="{squares}"/></svg>',
        "width_mm": size * MODULE_MM,
        "height_mm": size * MODULE_MM,
        "pull_mm": QUIET_MODULES * MODULE_MM,
        "alt": link,
    }


def require_picture(logo: Logo) -> None:
    """Raise InputError for a picture that the typesetter cannot decode."""
    data = {"svg": logo.data.decode()} if logo.format == "svg" else {"png": list(logo.data)}
    try:
        png_pages("logo", data, dots_per_inch=36)
    except GenexError:
        raise InputError(
            f"the logo is no {logo.format.upper()} that can be printed", hint="save it again, or as PNG"
        ) from None


def _svg(logo: Logo) -> str:
    """A logo as drawing: of a PNG one that holds it."""
    if logo.format == "svg":
        return logo.data.decode()
    width, height = logo.pixels
    coded = base64.b64encode(logo.data).decode("ascii")
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        f'width="{width}" height="{height}" viewBox="0 0 {width} {height}">'
        f'<image width="{width}" height="{height}" xlink:href="data:image/png;base64,{coded}"/></svg>'
    )

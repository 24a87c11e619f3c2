"""The strokes that diagrams are drawn with, as lines of SVG. Lengths are SVG user units."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from genex.export.typography import FONT_FAMILY, xml_safe


def svg_page(
    width: float, height: float, title: str, paper: str, drawn: Sequence[str], *, about: str = ""
) -> str:
    """A whole picture on paper of a colour; ``about`` says in words what it shows."""
    size = f"{number(width)} {number(height)}".split()
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{size[0]}" height="{size[1]}" '
        f'viewBox="0 0 {size[0]} {size[1]}" font-family="{FONT_FAMILY}, sans-serif" role="img">',
        f"<title>{escape(title, quote=False)}</title>",
        *([f"<desc>{escape(about, quote=False)}</desc>"] if about else []),
        f'<rect width="100%" height="100%" fill="{paper}"/>',
        *drawn,
        "</svg>",
    ]
    return xml_safe("\n".join(lines) + "\n")


def number(value: float) -> str:
    """A number with at most two decimals."""
    return f"{value:.2f}".rstrip("0").rstrip(".")


def line(x1: float, y1: float, x2: float, y2: float, color: str, width: float) -> str:
    """A straight stroke."""
    return (
        f'<line x1="{number(x1)}" y1="{number(y1)}" x2="{number(x2)}" y2="{number(y2)}" '
        f'stroke="{color}" stroke-width="{number(width)}"/>'
    )


def circle(x: float, y: float, radius: float, fill: str, edge: str = "none", width: float = 0) -> str:
    """A disc, with an edge if it has a width."""
    stroke = f' stroke="{edge}" stroke-width="{number(width)}"' if width else ""
    return f'<circle cx="{number(x)}" cy="{number(y)}" r="{number(radius)}" fill="{fill}"{stroke}/>'


def text_at(
    x: float,
    y: float,
    content: str,
    color: str,
    size: float,
    *,
    anchor: str = "middle",
    bold: bool = False,
    halo: str = "",
) -> str:
    """Words on a base line, with a halo of a colour where lines run behind them."""
    weight = ' font-weight="bold"' if bold else ""
    around = f' stroke="{halo}" stroke-width="3" paint-order="stroke"' if halo else ""
    return (
        f'<text x="{number(x)}" y="{number(y)}" fill="{color}" font-size="{number(size)}" '
        f'text-anchor="{anchor}"{weight}{around}>{escape(content, quote=False)}</text>'
    )

"""Logos: what is kept of a picture, and what is refused before anything draws it."""

import io
import re

import pytest
from lxml import etree
from PIL import Image

from genex.errors import InputError
from genex.readers.logo import MAX_BYTES, read_logo

HEAD = (
    '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
    'viewBox="0 0 9 9"'
)
BOX = '<rect width="9" height="9"/>'


def svg(body, more="", before=""):
    return f"{before}{HEAD}{more}>{body}</svg>".encode()


def png(width=4, height=3):
    buffer = io.BytesIO()
    Image.new("RGB", (width, height), "red").save(buffer, "PNG")
    return buffer.getvalue()


def kept(body, **how):
    return read_logo(svg(body, **how), "logo.svg").data


def test_shapes_come_through_as_they_are():
    body = (
        '<defs><linearGradient id="a"><stop offset="0"/></linearGradient></defs>'
        '<g transform="scale(2)" style="fill:url(#a)"><path d="M0 0h4v4z"/><use xlink:href="#b"/></g>'
        '<circle id="b" r="2"/><style>.x{fill:url(#a)}</style>'
    )
    # Read by another parser: the same elements with the same attributes.
    before, after = etree.fromstring(svg(body)), etree.fromstring(kept(body))
    assert [(e.tag, dict(e.attrib)) for e in after.iter()] == [
        (e.tag, dict(e.attrib)) for e in before.iter()
    ]


def test_what_runs_or_is_foreign_is_left_away():
    found = kept(
        f'<script>alert(1)</script><metadata><x/></metadata><a:b xmlns:a="urn:a"/><title>t</title>'
        f'<rect width="9" height="9" onclick="run()" ONLOAD="run()" a:c="d"/>{BOX}'
    ).decode()
    assert not re.search(r"script|alert|run|metadata|a:|title", found)
    assert found.count("<rect") == 2


@pytest.mark.parametrize(
    ("body", "said"),
    [
        ('<image href="http://example.org/x.png"/>', "'image' in the logo cannot be printed"),
        ('<image href="/secret.png"/>', "'image' in the logo cannot be printed"),
        ("<foreignObject/>", "'foreignObject' in the logo cannot be printed"),
        ("<text>Hi</text>", "the logo holds text"),
        (f'{BOX}<use href="other.svg#a"/>', "outside its file"),
        (f'{BOX}<use xlink:href="http://example.org/a.svg#a"/>', "outside its file"),
        ('<rect fill="url(http://example.org/a)"/>', "outside its file"),
        ("<rect style=\"fill: URL( 'file:///a' )\"/>", "outside its file"),
        ('<rect style="fill: u\\72l(x)"/>', "style from elsewhere"),
        (f"<style>@import url(x.css);</style>{BOX}", "style from elsewhere"),
        (f'<style>.a{{mask:url(#m)}}</style><mask id="m">{BOX}</mask>{BOX}', "more than gradients"),
        ('<g id="a"><rect/><use href="#a"/></g>', "refers to itself"),
        ("<g/>", "nothing is drawn"),
        (BOX * 10_001, "draws more than 10000 things"),
        ("<g>" * 70 + BOX + "</g>" * 70, "too large for a logo"),
        ("<rect", "no XML, or it is damaged"),
    ],
)
def test_what_cannot_be_drawn_as_it_looks_is_refused_with_its_line(body, said):
    with pytest.raises(InputError, match=re.escape(said)) as caught:
        kept(body)
    assert caught.value.place.file == "logo.svg" and caught.value.place.line == 1
    assert caught.value.hint


def test_groups_that_use_groups_are_counted_as_often_as_they_are_drawn():
    lines = "".join(f'<g id="n{n}">' + f'<use href="#n{n + 1}"/>' * 10 + "</g>" for n in range(30))
    with pytest.raises(InputError, match="draws more than 10000"):
        kept(f'{lines}<g id="n30">{BOX}</g>')


def test_a_long_chain_of_references_ends():
    chain = "".join(f'<g id="n{n}"><use href="#n{n + 1}"/></g>' for n in range(3000))
    with pytest.raises(InputError, match="on and on"):
        kept(chain + BOX)


def test_declared_entities_are_refused_and_a_plain_doctype_is_not():
    laughs = '<!DOCTYPE svg [<!ENTITY a "ha"><!ENTITY b "&a;&a;">]>'
    with pytest.raises(InputError, match="declares entities, which no logo needs"):
        kept(BOX, before=laughs)
    plain = '<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "http://www.w3.org/svg11.dtd">'
    assert b"DOCTYPE" not in kept(BOX, before=plain)


def test_a_png_tells_its_size():
    found = read_logo(png(40, 30), "logo.png")
    assert (found.format, found.pixels) == ("png", (40, 30))


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"GIF89a", "neither SVG nor PNG"),
        (b"", "neither SVG nor PNG"),
        (png()[:15], "damaged PNG"),
        (png()[:16] + b"\xff" * 4 + png()[20:], "4294967295 x 3 pixels"),
        (b"\x89PNG\r\n\x1a\n" + bytes(MAX_BYTES), "larger than 1024 kB"),
    ],
)
def test_pictures_that_are_not_what_they_seem(data, said):
    with pytest.raises(InputError, match=said):
        read_logo(data, "logo.png")

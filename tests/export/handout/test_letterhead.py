"""The head of the sheet, as it is printed."""

import io

import pytest
import zxingcpp
from PIL import Image

from genex.errors import InputError
from genex.export.handout import HandoutSettings, Letterhead, handout_pdf, handout_pngs, require_picture
from genex.export.handout.letterhead import letterhead_data
from genex.readers.logo import Logo, read_logo
from tests.export.builders import small_score
from tests.export.handout.sheets import pages, squeezed
from tests.readers.test_logo import BOX, png, svg

LINK = "https://example.org/lantern-street/evening-class"


def settings(**head):
    return HandoutSettings(blocks=("chart",), letterhead=Letterhead(**head))


def test_without_a_letterhead_nothing_stands_there():
    assert letterhead_data(Letterhead()) == {"licence": "", "letterhead": None}


def test_names_stand_above_the_title_and_the_licence_at_the_foot():
    head = settings(school="Lantern Street", teacher="Guitar", contact="Room 4", licence="CC BY 4.0")
    (page,) = pages(handout_pdf(small_score(), head))
    order = ["LanternStreet", "Guitar", "Room4", squeezed(small_score().title), "Chart", "CCBY4.0"]
    places = [squeezed(page).index(text) for text in order]
    assert places == sorted(places)


@pytest.mark.parametrize("link", [LINK, "https://example.org/" + "x" * 180], ids=["usual", "long"])
def test_the_code_on_the_page_is_read_by_another_library(link):
    """[package: zxing-cpp 3.1.1]"""
    (page,) = handout_pngs(small_score(), settings(school="Lantern Street", link=link))
    (code,) = zxingcpp.read_barcodes(Image.open(io.BytesIO(page)))
    assert code.text == link
    assert code.format == zxingcpp.BarcodeFormat.QRCode


@pytest.mark.parametrize(
    "data", [png(40, 30), svg(BOX.replace("/>", ' fill="red"/>'))], ids=["png", "svg"]
)
def test_a_logo_is_drawn_at_the_left_margin(data):
    logo = read_logo(data, "logo")
    require_picture(logo)
    (page,) = handout_pngs(small_score(), settings(school="Lantern Street", logo=logo))
    picture = Image.open(io.BytesIO(page)).convert("RGB")
    width, _ = picture.size
    red = [
        (x, y)
        for x in range(0, width, 4)
        for y in range(0, 240, 4)
        if picture.getpixel((x, y)) == (255, 0, 0)
    ]
    # 150 dots an inch: a margin of 17 mm, a logo at most 16 mm high
    assert len(red) > 200 and min(x for x, _ in red) in range(96, 108)
    assert max(y for _, y in red) - min(y for _, y in red) <= 96


def test_a_picture_that_cannot_be_decoded_is_told():
    broken = png()[:-20] + b"x" * 20
    with pytest.raises(InputError, match="no PNG that can be printed"):
        require_picture(Logo("png", broken, (4, 3)))

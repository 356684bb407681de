"""The files of the Export menu, saved by a real browser and looked at where nothing of the page is known."""

from __future__ import annotations

import base64
import io

import pytest
from PIL import Image

from tests.browser.test_every_page import violations

pytestmark = pytest.mark.browser

COOLING = "Cooling is lost while somebody tests"


def save(page, link: str) -> tuple[str, bytes]:
    """Click a link and return the file's name and content."""
    with page.expect_download() as started:
        page.click(link)
    return started.value.suggested_filename, started.value.path().read_bytes()


def show(chromium, svg: bytes) -> Image.Image:
    """Draw a picture in a browser without network, as an image, so that it has nothing but itself."""
    context = chromium.new_context(viewport={"width": 1200, "height": 900}, offline=True)
    page = context.new_page()
    page.set_content(f'<img width="1200" src="data:image/svg+xml;base64,{base64.b64encode(svg).decode()}">')
    page.wait_for_function("document.images[0].complete")
    assert page.evaluate("document.images[0].naturalWidth") > 0
    shown = Image.open(io.BytesIO(page.screenshot()))
    context.close()
    return shown.convert("RGB")


@pytest.mark.parametrize("width", [1440, 390])
def test_the_menu_saves_files_and_the_picture_can_be_seen(open_page, tree_path, chromium, width):
    page = open_page(width=width)
    page.goto(tree_path(page, COOLING))
    page.click(".export summary")
    assert violations(page) == []
    box = page.locator(".export__panel").bounding_box()
    assert box["x"] >= 0
    assert box["x"] + box["width"] <= width
    name, svg = save(page, "text=Whole tree as SVG")
    assert name == "cooling-revision-1.svg"
    colours = {colour: count for count, colour in show(chromium, svg).getcolors(2**20)}
    assert colours[255, 255, 255] > 100_000  # the ground
    assert sum(count for colour, count in colours.items() if max(colour) < 100) > 2_000  # letters and boxes
    assert (207, 227, 222) in colours  # an event
    name, report = save(page, "text=PDF, A4")
    assert (name, report[:5]) == ("cooling-revision-1.pdf", b"%PDF-")
    for link, ending in (("Minimal cut sets as CSV", ".csv"), ("Plain JSON", ".json"), ("Exchange XML as it", ".xml")):
        name, content = save(page, f"text={link}")
        assert name.endswith(ending)
        assert content


def test_what_is_unfolded_now_is_saved(open_page, tree_path):
    page = open_page()
    page.goto(tree_path(page, COOLING))
    before = save(page, "text=Save as shown, SVG")[1]
    page.locator('.ft-link[data-does="fold"]').first.focus()
    page.keyboard.press("Enter")
    page.wait_for_selector('a[href*="diagram.svg?shut="]')
    after = save(page, "text=Save as shown, SVG")[1]
    assert len(after) < len(before)
    assert b"Not all is drawn" in after

"""Evidence in a real browser: pages fit, pictures come on request, files are saved and never run."""

from __future__ import annotations

import subprocess
import sys

import pytest

from tests.browser.conftest import PASSWORD
from tests.browser.test_every_page import violations
from tests.config.processes import ROOT

pytestmark = pytest.mark.browser

LOAD = """
import sys, django; django.setup()
from tests.anomalies import people
from tests.anomalies.files import PNG, make_evidence, make_photograph, upload
from anomalies.services.timeline import add_timeline_entry
for person in (people.recorder(), people.viewer()):
    person.set_password(sys.argv[1]); person.save()
anomaly = people.make_open(title="Coolant wept for the record of evidence")
rows = ["time,value"]
rows += [f"2024-03-05T09:{n // 60:02}:{n % 60:02}Z,{35 if 900 < n < 1200 else 20}" for n in range(3600)]
plain = {"statement": "", "stated_by": ""}
series = make_evidence(anomaly, kind="telemetry", title="Coolant temperature at the quick disconnect " * 3, unit="°C",
    low=10.0, high=30.0, file=upload("\\n".join(rows).encode(), "t.csv"), **plain)
entry = {"at": people.SEEN_AT, "text": "Frost.", "evidence_id": series.pk}
add_timeline_entry(anomaly_id=anomaly.pk, actor=people.recorder(), **entry)
make_photograph(anomaly, open("fixtures/pictures/phone.png", "rb").read())
active = upload(b"<script>document.title='ran'</script>", "x.html")
make_evidence(anomaly, kind="document", title="A page that would run", file=active, **plain)
make_evidence(anomaly, title="x" * 150, statement="y" * 400, stated_by="EV2")
print(anomaly.get_absolute_url())
"""


@pytest.fixture(scope="session")
def dossier(site, records) -> str:
    """The address of an anomaly with evidence of most kinds: E1 telemetry, E2 photograph, E3 HTML, E4 statement."""
    environment = site.environment | {"PYTHONPATH": str(ROOT)}
    command = [sys.executable, "-c", LOAD, PASSWORD]
    done = subprocess.run(command, cwd=ROOT, env=environment, check=True, capture_output=True, text=True)
    return done.stdout.split()[-1]


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1440, 390])
@pytest.mark.parametrize("place", ["", "evidence/E1/", "evidence/E2/?show", "evidence/E4/"])
def test_axe_finds_nothing_and_the_page_fits(open_page, dossier, place, width, scheme):
    page = open_page(dossier + place, who="recorder", width=width, scheme=scheme)
    assert violations(page) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize(("width", "shown", "hidden"), [(1440, "wide", "narrow"), (390, "narrow", "wide")])
def test_each_screen_gets_its_own_chart_as_wide_as_the_plate(open_page, dossier, width, shown, hidden):
    page = open_page(f"{dossier}evidence/E1/", who="viewer", width=width)
    assert not page.locator(f".telemetry--{hidden}").is_visible()
    chart = page.locator(f".telemetry--{shown}").bounding_box()
    plate = page.locator(".telemetry-figure").bounding_box()
    assert chart["width"] > plate["width"] - 40
    ticks = page.locator(f".telemetry--{shown} .chart-tick")
    boxes = [ticks.nth(number).bounding_box() for number in range(ticks.count())]
    assert min(box["height"] for box in boxes) > 9


def test_a_picture_is_loaded_when_asked_for_and_that_is_on_the_page(open_page, dossier):
    page = open_page(f"{dossier}evidence/E2/", who="viewer")
    asked = []
    page.on("request", lambda request: asked.append(request.url))
    page.reload()
    assert not any("/file/" in url for url in asked)
    page.click("text=Show the picture")
    page.locator(".evidence__picture").evaluate("picture => picture.decode()")
    page.reload()
    assert "2 people" in page.inner_text("#custody")
    assert "Tobin Vale" in page.inner_text("#custody")


def test_a_file_that_a_browser_could_run_is_saved_instead(open_page, dossier):
    page = open_page(f"{dossier}evidence/E3/", who="viewer")
    with page.expect_download() as saving:
        page.click("text=Save the file")
    assert saving.value.suggested_filename == "x.html"
    with page.expect_download():
        page.evaluate(f"location.assign('{dossier}evidence/E3/file/?show')")
    assert "ran" not in page.title()


def test_photographs_are_added_in_place_and_a_refused_one_is_told(open_page, dossier, tmp_path):
    (tmp_path / "a.png").write_bytes((ROOT / "fixtures/pictures/phone.png").read_bytes())
    (tmp_path / "b.jpg").write_bytes(b"%PDF-1.7")
    page = open_page(dossier, who="recorder", width=390)
    page.click("text=Add photographs")
    page.wait_for_selector(".move [name=file]")
    page.set_input_files(".move [name=file]", [tmp_path / "a.png", tmp_path / "b.jpg"])
    page.fill(".move [name=title]", "Frost at the collar")
    page.click(".move .button--main")
    page.wait_for_selector(".move .field__errors")
    assert "“b.jpg” is a PDF document" in page.inner_text(".move .field__errors")
    assert page.input_value(".move [name=title]") == "Frost at the collar"
    page.set_input_files(".move [name=file]", [tmp_path / "a.png"])
    page.click(".move .button--main")
    page.wait_for_selector("#evidence >> text=Frost at the collar")
    assert page.url.endswith("#evidence")

"""The files of a revision and of a run, each opened by something that shares no code with what wrote it."""

from __future__ import annotations

import html
import io
import json
import math
import re
from urllib.parse import unquote

import pandas
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from lxml import etree

from faulttree.bridge import read_model, read_source
from faulttree.engine.exchange.plain_json import read_json
from faulttree.models import Run, Tree, TreeRevision
from tests.engine.exchange.schemas import PLAIN_JSON, find_faults
from tests.faulttree.people import PUMPS, PUMPS_PROBABILITY, make_done_run, make_revision, make_run
from tests.trees import ROOT

COOLING = (ROOT / "fixtures" / "trees" / "suit-cooling.xml").read_text()
UNREACHED = """<opsa-mef><define-fault-tree name="sure"><label>Ends # once "surely"</label>
<define-gate name="top"><or><basic-event name="a"/></or></define-gate>
<define-basic-event name="a"><label>=1+1, "so"</label><float value="0.5"/></define-basic-event>
</define-fault-tree></opsa-mef>"""


@pytest.fixture
def revision(engineer):
    return make_revision(engineer)


def fetch(client, url):
    """The bytes of a file, whether it is streamed or not, and what it is called."""
    answer = client.get(url)
    assert answer.status_code == 200, answer.content
    content = b"".join(answer.streaming_content) if answer.streaming else answer.content
    return content, answer.headers["Content-Disposition"].partition("filename=")[2].strip('"')


def read_table(content):
    """The facts at the head of a CSV file and its table, read by a library for tables."""
    lines = content.decode().splitlines()
    count = next(number for number, line in enumerate(lines) if not line.startswith(("#", '"#')))
    facts = pandas.read_csv(io.BytesIO(content), nrows=count, header=None, dtype=str, names=["name", "value"])
    table = pandas.read_csv(io.BytesIO(content), skiprows=count)
    return dict(zip(facts.name.str.removeprefix("# "), facts.value, strict=True)), table


def test_the_exchange_file_is_valid_and_says_the_same(as_viewer, revision):
    content, name = fetch(as_viewer, f"{revision.get_absolute_url()}model.xml")
    assert name == "pumps-revision-1.xml"
    assert find_faults(content) == []
    assert read_source(content) == read_model(revision)


def test_the_plain_json_is_valid_and_says_the_same(as_viewer, revision):
    content, name = fetch(as_viewer, f"{revision.get_absolute_url()}model.json")
    assert name == "pumps-revision-1.json"
    PLAIN_JSON.validate(json.loads(content))
    assert read_json(content) == read_model(revision)


def test_plain_json_can_be_imported_and_is_kept_as_exchange_xml(as_engineer, as_viewer, revision):
    content, name = fetch(as_viewer, f"{revision.get_absolute_url()}model.json")
    sent = SimpleUploadedFile(name, content)
    page = as_engineer.post("/trees/import/", {"file": sent, "name": "copy"}, follow=True).content.decode()
    copy = TreeRevision.objects.get(tree__name="copy")
    assert read_model(copy) == read_model(revision)
    assert find_faults(bytes(copy.source)) == []
    assert copy.file_name == "pumps-revision-1.json, kept as exchange XML"
    assert "The JSON was written as exchange XML" in page


def test_the_same_plain_json_again_is_no_new_revision(as_engineer, revision):
    content, name = fetch(as_engineer, f"{revision.get_absolute_url()}model.json")
    url = f"/trees/{revision.tree_id}/revise/"
    assert as_engineer.post(url, {"file": SimpleUploadedFile(name, content)}).status_code == 302
    again = as_engineer.post(url, {"file": SimpleUploadedFile(name, content)})
    assert again.status_code == 422
    assert "is the same as the newest revision" in again.content.decode()
    assert TreeRevision.objects.count() == 2


@pytest.mark.parametrize(
    ("name", "content", "says"),
    [
        ("bad.json", b'{"gates": {"g": {"formula": {"or": ["a"]}}}}', "a is not defined"),
        ("bad.json", b"<opsa-mef/>", "This is not JSON"),
        ("named-otherwise.txt", b' {"gates": []}', "is not an object"),
    ],
)
def test_bad_plain_json_is_refused_with_every_problem(as_engineer, name, content, says):
    answer = as_engineer.post("/trees/import/", {"file": SimpleUploadedFile(name, content)})
    assert answer.status_code == 422
    assert says in answer.content.decode()
    assert not Tree.objects.exists()


def test_cut_sets_say_what_they_are_and_that_all_are_there(as_viewer, engineer, revision):
    run = make_done_run(engineer, revision)
    content, name = fetch(as_viewer, f"/runs/{run.pk}/cut-sets.csv")
    facts, table = read_table(content)
    assert name == f"pumps-revision-1-run-{run.pk}-cut-sets.csv"
    assert facts["method"] == "exact"
    assert float(facts["top-event probability"]) == pytest.approx(PUMPS_PROBABILITY, rel=1e-14)
    assert facts["list"] == "All 2 minimal cut sets are listed."
    assert "Decision support" in facts["caution"]
    assert [set(events.split()) for events in table["events"]] == [{"pump-1", "pump-2"}, {"valve"}]
    assert table["probability"].tolist() == pytest.approx([0.02, 0.01], rel=1e-14)
    assert table["order"].tolist() == [2, 1]
    assert table["titles"][1] == "Valve stuck"


def test_cut_sets_that_are_not_listed_are_counted(as_viewer, engineer):
    run = make_done_run(engineer, make_revision(engineer, COOLING), mission_time=8.0, list_count=3, max_order=2)
    facts, table = read_table(fetch(as_viewer, f"/runs/{run.pk}/cut-sets.csv")[0])
    count = run.result["cut_sets"]["count"]
    assert len(table) == 3 < count == int(facts["minimal cut sets in all"])
    assert facts["list"] == (
        f"The 3 likeliest of {count:,} minimal cut sets are listed (asked for: at most 3, of order 2 and below); "
        f"{count - 3:,} are not."
    )
    assert facts["listed here"] == "3"
    assert facts["mission time, h"] == "8.0"


def test_a_bracket_is_called_one(as_viewer, engineer, revision):
    run = make_done_run(engineer, revision)
    result = {name: value for name, value in run.result.items() if name != "probability"}
    result |= {"method": "bracket", "lower": 0.02, "upper": 0.03, "importance": {}}
    result["cut_sets"]["exact"] = False
    Run.objects.filter(pk=run.pk).update(result=result)
    facts, table = read_table(fetch(as_viewer, f"/runs/{run.pk}/cut-sets.csv")[0])
    assert facts["method"] == "certified bracket, not exact"
    assert "top-event probability" not in facts
    assert facts["top-event probability, at least"] == "0.02"
    assert facts["top-event probability, at most"] == "0.03"
    assert facts["minimal cut sets that were kept"] == "2"
    assert table["share of the top event"].isna().all()
    answer = as_viewer.get(f"/runs/{run.pk}/importance.csv")
    assert answer.status_code == 409
    assert "a bracket has none" in answer.content.decode()


def test_importance_holds_every_measure_of_every_event(as_viewer, engineer, revision):
    run = make_done_run(engineer, revision)
    facts, table = read_table(fetch(as_viewer, f"/runs/{run.pk}/importance.csv")[0])
    by_event = table.set_index("event")
    assert set(by_event.index) == set(run.result["importance"])
    measures = run.result["importance"]["valve"]
    assert by_event.loc["valve"].to_dict() == {
        "title": "Valve stuck",
        "probability": 0.01,
        "Birnbaum importance": measures["birnbaum"],
        "Criticality importance, also Fussell-Vesely by risk reduction": measures["criticality"],
        "Fussell-Vesely, union form (b)": measures["fussell_vesely_union"],
        "Fussell-Vesely, rare-event form (a)": measures["fussell_vesely_rare_event"],
        "Risk achievement worth": measures["risk_achievement_worth"],
        "Risk reduction worth": measures["risk_reduction_worth"],
        "Diagnostic importance": measures["diagnostic"],
    }
    assert facts["empty cell"] == "the measure doesn't apply"


def test_an_infinite_ratio_is_inf_and_no_cell_is_a_formula(as_viewer, engineer):
    run = make_done_run(engineer, make_revision(engineer, UNREACHED))
    content, _ = fetch(as_viewer, f"/runs/{run.pk}/importance.csv")
    facts, table = read_table(content)
    assert math.isinf(table["Risk reduction worth"][0])
    assert b",inf," in content
    assert table["title"][0] == '\'=1+1, "so"'
    assert facts["tree"] == 'Ends # once "surely" (sure)'


@pytest.mark.parametrize("name", ["cut-sets.csv", "importance.csv"])
def test_a_run_without_an_answer_says_so(as_viewer, engineer, revision, name):
    answer = as_viewer.get(f"/runs/{make_run(engineer, revision).pk}/{name}")
    assert answer.status_code == 409
    assert "no answer yet" in answer.content.decode()


@pytest.mark.parametrize("name", ["model.xml", "model.json"])
def test_strangers_find_no_file(as_stranger, revision, name):
    assert as_stranger.get(f"{revision.get_absolute_url()}{name}").status_code == 404


def test_a_name_without_letters_gives_a_file_a_name(as_viewer, engineer):
    source = PUMPS.replace('<define-fault-tree name="pumps">', '<define-fault-tree name="冷却">')
    revision = make_revision(engineer, source)
    _, name = fetch(as_viewer, f"{revision.get_absolute_url()}model.xml")
    assert name == f"tree-{revision.tree_id}-revision-1.xml"


def test_the_api_hands_out_the_same_files(as_viewer, engineer, revision):
    run = make_done_run(engineer, revision)
    at = f"trees/{revision.tree_id}/revisions/1"
    pairs = {
        f"/{at}/source/": f"{at}/source/",
        f"/{at}/model.xml": f"{at}/xml/",
        f"/{at}/model.json": f"{at}/model/",
        f"/{at}/diagram.svg?whole=1&run={run.pk}": f"{at}/diagram/?whole=true&run={run.pk}",
        f"/runs/{run.pk}/cut-sets.csv": f"runs/{run.pk}/cut-sets/",
        f"/runs/{run.pk}/importance.csv": f"runs/{run.pk}/importance/",
    }
    for page, operation in pairs.items():
        assert fetch(as_viewer, page) == fetch(as_viewer, f"/api/v1/{operation}")


def picture(client, revision, query=""):
    """The words of the diagram's file."""
    content, name = fetch(client, f"{revision.get_absolute_url()}diagram.svg{query}")
    assert name == f"{revision.tree.name}-revision-1.svg"
    root = etree.fromstring(content)
    return [text.text for text in root.iter("{http://www.w3.org/2000/svg}text")]


def test_the_picture_is_the_diagram_of_the_page(as_viewer, engineer):
    revision = make_revision(engineer, COOLING)
    run = make_done_run(engineer, revision, mission_time=8.0)
    query = "?focus=no-pumping&shut=both-pumps-out&cut=1"
    page = as_viewer.get(f"/runs/{run.pk}/{query}").content.decode()
    link = re.search(r'href="([^"]*diagram\.svg\?focus[^"]*)"', page)[1]
    assert unquote(html.unescape(link)).endswith(f"diagram.svg{query}&run={run.pk}")
    on_page = [text.text for text in etree.HTML(page).iterfind(".//div[@data-view]//text")]
    content, _ = fetch(as_viewer, html.unescape(link))
    in_file = [text.text for text in etree.fromstring(content).iter("{http://www.w3.org/2000/svg}text")]
    assert on_page == in_file[: len(on_page)]
    assert len(on_page) > 10
    assert "Cut set 1 of the run's list is lit." in in_file
    assert any("Not all is drawn" in words for words in in_file)
    assert any("Decision support" in words for words in in_file)


def test_the_whole_tree_shows_every_gate_and_event(as_viewer, engineer):
    revision = make_revision(engineer, COOLING)
    run = make_done_run(engineer, revision, mission_time=8.0)
    said = picture(as_viewer, revision, f"?whole=1&run={run.pk}")
    names = {name for name in read_model(revision).gates if "#" not in name}
    content, _ = fetch(as_viewer, f"{revision.get_absolute_url()}diagram.svg?whole=1&run={run.pk}")
    drawn = {element.get("data-name") for element in etree.fromstring(content).iter()}
    assert names <= drawn
    assert not any("Not all is drawn" in words for words in said)
    assert any("exact" in words for words in said)


def test_a_picture_that_is_cut_says_so(as_viewer, revision, monkeypatch):
    monkeypatch.setattr("faulttree.reads.pictures.MOST", 2)
    assert "Not all is drawn: 1 gate folded; numbers tell how much lies below." in picture(
        as_viewer, revision, "?whole=1"
    )


def test_a_picture_without_a_run_says_that_nothing_is_computed(as_viewer, revision):
    assert "No answer: the tree as drawn, not computed." in picture(as_viewer, revision)


@pytest.mark.parametrize("run", ["999", "x", ""])
def test_a_run_of_another_revision_is_not_found(as_viewer, revision, run):
    assert as_viewer.get(f"{revision.get_absolute_url()}diagram.svg?run={run}").status_code == 404


def test_the_page_offers_what_there_is(as_viewer, engineer, revision):
    before = as_viewer.get(revision.get_absolute_url()).content.decode()
    assert "model.json" in before
    assert "cut-sets.csv" not in before
    run = make_done_run(engineer, revision)
    page = as_viewer.get(revision.get_absolute_url()).content.decode()
    for link in re.findall(r'href="([^"]+)" download', page):
        assert as_viewer.get(html.unescape(link)).status_code == 200, link
    assert f"/runs/{run.pk}/cut-sets.csv" in page

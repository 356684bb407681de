"""The page of a tree: every part, as a whole and in pieces."""

from __future__ import annotations

import re
from datetime import timedelta
from pathlib import Path

import pytest
from django.utils import timezone
from lxml import html

from faulttree.bridge import Overrides, TimeGrid
from faulttree.models import Run, TreeRevision
from faulttree.services.execution import claim_run
from faulttree.services.runs import cancel_run
from tests.builders import wide_tree
from tests.faulttree.people import PUMPS, TIMED, TWO_TOPS, make_done_run, make_revision, make_run


@pytest.fixture
def revision(engineer):
    return make_revision(engineer)


@pytest.fixture
def full_run(engineer):
    """A run with everything that can be asked for."""
    return make_done_run(
        engineer,
        make_revision(engineer, TIMED),
        mission_time=100.0,
        samples=50,
        time_grid=TimeGrid(0.0, 100.0, 10.0),
        evidence={"valve": False},
    )


def get(client, url, target="", **params):
    """The page, or the piece that htmx asks for, parsed."""
    headers = {"HX-Request": "true", "HX-Target": target} if target else {}
    answer = client.get(url, params, headers=headers)
    assert answer.status_code == 200
    return html.fromstring(answer.content.decode())


def words(element):
    """The text as it is read."""
    return re.sub(r"\s+", " ", element.text_content())


def test_an_exact_answer_says_so_with_figures_and_caution(as_viewer, engineer, revision):
    make_done_run(engineer, revision)
    answer = words(get(as_viewer, revision.get_absolute_url()).get_element_by_id("answer"))
    assert "exact" in answer
    assert "0.029800" in answer
    assert "rare-event sum: 0.030000" in answer
    assert "Decision support" in answer
    assert "independent" in answer


def test_every_part_is_there(as_viewer, full_run):
    page = get(as_viewer, full_run.get_absolute_url())
    parts = ("answer", "diagram", "cut-sets", "diagnosis", "importance", "uncertainty", "time", "settings")
    for part in parts:
        assert page.get_element_by_id(part) is not None, part
    assert "50 samples" in words(page.get_element_by_id("uncertainty")).replace("\u202f", "")
    assert page.get_element_by_id("time").xpath(".//path[contains(@class, 'curve--2')]")
    assert "valve did not occur" in words(page.get_element_by_id("diagnosis"))
    for form in ("(a)", "(b)", "(c)"):
        assert form in words(page.get_element_by_id("importance"))


def test_what_drives_the_uncertainty_is_named_with_its_basis(as_viewer, engineer):
    suits = Path(__file__).parents[3] / "fixtures" / "trees" / "suit-cooling.xml"
    run = make_done_run(engineer, make_revision(engineer, suits.read_text()), mission_time=8.0, samples=400)
    found = words(get(as_viewer, run.get_absolute_url()).get_element_by_id("uncertainty"))
    assert "rank-based, Spearman" in found
    assert "variance-based, first order" in found
    assert "Measured on 400 samples" in found
    owner = run.result["uncertainty"]["drivers"][0]["owner"]
    assert owner.removeprefix("parameter ").removeprefix("basic event ") in found
    assert "given-data" in run.result["uncertainty"]["driver_measures"]["variance_share"]


def test_a_bracket_is_never_called_exact(as_viewer, engineer, revision):
    run = make_done_run(engineer, revision)
    bracket = {**run.result, "method": "bracket", "lower": 0.02, "upper": 0.04, "importance": {}}
    del bracket["probability"]
    bracket["cut_sets"] = {**bracket["cut_sets"], "exact": False}
    Run.objects.filter(pk=run.pk).update(result=bracket)
    page = get(as_viewer, run.get_absolute_url())
    answer = words(page.get_element_by_id("answer"))
    assert "bracket, not exact" in answer
    assert "0.020000 to 0.040000" in answer
    assert not page.xpath("//*[@id='answer']//*[contains(@class,'is-good')]")
    assert "not known with a bracket" in words(page.get_element_by_id("cut-sets"))
    assert "needs the exact solution" in words(page.get_element_by_id("importance"))


def test_a_part_that_was_asked_for_and_left_out_is_not_said_to_be_unasked(as_viewer, full_run):
    gone = ("time", "average_probability", "expected_failures", "uncertainty", "posterior", "evidence_probability")
    left = {name: value for name, value in full_run.result.items() if name not in gone}
    nothing = {"cut_sets": None, "rare_event": None, "min_cut_upper_bound": None, "importance": {}}
    Run.objects.filter(pk=full_run.pk).update(result={**left, **nothing})
    page = get(as_viewer, full_run.get_absolute_url())
    for part in ("cut-sets", "importance", "uncertainty", "time", "diagnosis"):
        assert "left out; the notes of the answer say why" in words(page.get_element_by_id(part)), part
    everything = words(page)
    assert "asked for. Set" not in everything
    assert "bracket" not in words(page.get_element_by_id("cut-sets"))


@pytest.mark.parametrize("target", ["diagram", "cut-sets", "importance"])
def test_htmx_gets_the_piece_it_asks_for(as_viewer, full_run, target):
    piece = get(as_viewer, full_run.get_absolute_url(), target)
    assert (piece.tag, piece.get("id")) == ("section", target)


def test_htmx_gets_the_whole_page_for_a_piece_that_is_not_there(as_viewer, full_run):
    answer = as_viewer.get(full_run.get_absolute_url(), headers={"HX-Request": "true", "HX-Target": "nonsense"})
    assert "<html" in answer.content.decode()


def test_the_table_is_sorted_and_filtered_without_script(as_viewer, engineer, revision):
    make_done_run(engineer, revision)
    url = revision.get_absolute_url()
    rows = get(as_viewer, url).xpath("//*[@id='cut-sets']//tbody/tr")
    assert [words(row.find("th")).split()[0] for row in rows] == ["1", "2"]
    head = get(as_viewer, url).xpath("//*[@id='cut-sets']//th[@aria-sort='descending']/a")[0]
    turned = get(as_viewer, url + head.get("href").split("#")[0])
    assert [words(row.find("th")).split()[0] for row in turned.xpath("//*[@id='cut-sets']//tbody/tr")] == ["2", "1"]
    assert len(get(as_viewer, url, **{"with": "valve"}).xpath("//*[@id='cut-sets']//tbody/tr")) == 1


def test_a_cut_set_lights_up_in_table_and_diagram(as_viewer, engineer, revision):
    run = make_done_run(engineer, revision)
    number = [cut["events"] for cut in run.result["cut_sets"]["listed"]].index(["pump-1", "pump-2"]) + 1
    page = get(as_viewer, revision.get_absolute_url(), cut=number)
    lit = set(page.xpath("//*[@id='diagram']//*[contains(@class,'is-lit')]/@data-name"))
    assert lit == {"no-flow", "both", "pump-1", "pump-2"}
    assert len(page.xpath("//*[@id='cut-sets']//tr[@class='is-lit']")) == 1


def test_a_branch_is_shown_alone_with_the_way_back(as_viewer, revision):
    page = get(as_viewer, revision.get_absolute_url(), focus="both")
    names = page.xpath("//*[@id='diagram']//*[@data-name]/@data-name")
    assert "no-flow" not in names
    assert "pump-1" in names
    assert "Nothing flows" in words(page.xpath("//ol[@class='trail']")[0])


def test_a_large_tree_unfolds_step_by_step(as_viewer, engineer):
    url = make_revision(engineer, wide_tree(60)).get_absolute_url()
    page = get(as_viewer, url)
    few = len(page.xpath("//*[@id='diagram']//*[@data-name]"))
    more = page.xpath("//*[@id='diagram']//a[text()='Unfold more']/@href")[0]
    page = get(as_viewer, url + more.split("#")[0])
    assert len(page.xpath("//*[@id='diagram']//*[@data-name]")) > few


def test_gates_and_events_are_found(as_viewer, revision):
    found = words(get(as_viewer, revision.get_absolute_url(), find="stuck").find_class("diagram__found")[0])
    assert "1 found" in found
    assert "Valve stuck" in found


@pytest.mark.parametrize(
    "params",
    [
        {"focus": "nobody", "open": "x", "shut": "y", "cut": "99"},
        {"cut": "x", "cuts_page": "x", "events_page": "-1", "by": "x", "cuts": "x", "order": "²"},
        {"room": "99999999"},
        {"room": "²"},
        {"focus": "valve", "find": "<script>", "with": "<script>"},
    ],
)
def test_nonsense_in_the_address_is_harmless(as_viewer, engineer, revision, params):
    make_done_run(engineer, revision)
    answer = as_viewer.get(revision.get_absolute_url(), params)
    assert answer.status_code == 200
    assert "<script>" not in answer.content.decode().split("<body>")[1]


@pytest.mark.parametrize(("source", "said"), [(TWO_TOPS, "2 top events"), (TIMED, "mission time")])
def test_a_tree_without_a_run_says_what_is_needed(as_engineer, engineer, source, said):
    page = get(as_engineer, make_revision(engineer, source).get_absolute_url())
    assert said in words(page.find_class("run-bar")[0])
    assert not page.xpath("//*[@id='answer']")


def test_a_running_run_shows_progress_and_asks_again(as_engineer, as_viewer, engineer, revision):
    run = make_run(engineer, revision)
    claim_run(run_id=run.pk)
    Run.objects.filter(pk=run.pk).update(step="Counting cut sets", share=0.4, attempt=2)
    page = get(as_engineer, revision.get_absolute_url())
    bar = page.get_element_by_id("progress")
    assert bar.get("hx-get") == f"/runs/{run.pk}/progress/"
    assert "Counting cut sets" in words(bar)
    assert "restarted" in words(bar)
    assert bar.xpath(".//form")
    assert not get(as_viewer, revision.get_absolute_url()).get_element_by_id("progress").xpath(".//form")


def test_a_run_that_no_worker_takes_says_so(as_viewer, engineer, revision):
    run = make_run(engineer, revision)
    url = revision.get_absolute_url()
    assert "No worker" not in words(get(as_viewer, url).get_element_by_id("progress"))
    Run.objects.filter(pk=run.pk).update(queued_at=timezone.now() - timedelta(seconds=20))
    assert "No worker has taken it yet" in words(get(as_viewer, url).get_element_by_id("progress"))


def test_a_failed_run_says_what_to_mend(as_engineer, engineer, revision):
    run = make_done_run(engineer, revision, evidence={"no-flow": False})
    bar = words(get(as_engineer, run.get_absolute_url()).find_class("run-bar")[0])
    assert "evidence can't be true" in bar
    assert "Run it again" in bar


def test_a_cancelled_run_can_be_run_again(as_engineer, engineer, revision):
    run = make_run(engineer, revision)
    cancel_run(run_id=run.pk, actor=engineer)
    page = get(as_engineer, run.get_absolute_url())
    assert "cancelled" in words(page.find_class("run-bar")[0])
    assert page.xpath(f"//form[@action='/runs/{run.pk}/repeat/']")


def test_a_stranger_gets_404_and_nobody_gets_the_log_in(as_stranger, client, engineer, revision):
    run = make_run(engineer, revision)
    for url in (revision.get_absolute_url(), revision.tree.get_absolute_url(), run.get_absolute_url()):
        assert as_stranger.get(url).status_code == 404
        assert client.get(url).status_code == 302


def test_the_source_is_handed_out_byte_for_byte(as_viewer, as_stranger, revision):
    url = f"/trees/{revision.tree_id}/revisions/1/source/"
    answer = as_viewer.get(url)
    assert answer.content == PUMPS.encode()
    assert answer.headers["Content-Disposition"].startswith("attachment")
    assert as_stranger.get(url).status_code == 404


def test_a_group_that_is_too_large_to_write_out_is_drawn_as_it_is(as_engineer, engineer):
    names = [f"m{number}" for number in range(10)]
    uses = "".join(f'<basic-event name="{name}"/>' for name in names)
    events = "".join(f'<define-basic-event name="{name}"/>' for name in names)
    factors = "".join(f'<factor level="{level}"><float value="0.1"/></factor>' for level in range(1, 11))
    source = f"""<opsa-mef><define-fault-tree name="large">
        <define-gate name="top"><and>{uses}</and></define-gate>{events}
        <define-CCF-group name="g" model="alpha-factor"><members>{uses}</members>
        <distribution><float value="0.1"/></distribution><factors>{factors}</factors></define-CCF-group>
        </define-fault-tree></opsa-mef>"""
    run = make_done_run(engineer, make_revision(engineer, source))
    page = get(as_engineer, run.get_absolute_url())
    assert "at most 8 members" in words(page.find_class("run-bar")[0])
    assert page.xpath("//*[@id='diagram']//*[@data-name='m1']")


def test_a_page_needs_few_queries(as_viewer, engineer, revision, django_assert_max_num_queries):
    run = make_done_run(engineer, revision)
    with django_assert_max_num_queries(12):
        as_viewer.get(run.get_absolute_url())
    assert TreeRevision.objects.count() == 1


def test_a_run_with_overrides_does_not_stand_for_the_tree(as_viewer, engineer):
    revision = make_revision(engineer)
    make_done_run(engineer, revision)
    changed = make_done_run(engineer, revision, overrides=Overrides(events={"valve": False}))
    page = as_viewer.get(f"/trees/{revision.tree_id}/").content.decode()
    assert "computed with overrides" not in page
    assert "with overrides" in page  # in the list of runs
    assert "0.0298" in as_viewer.get("/trees/").content.decode()
    assert "computed with overrides" in as_viewer.get(f"/runs/{changed.pk}/").content.decode()

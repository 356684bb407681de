"""The page of an investigation: who has it, what it says, its forms, its explanations."""

from __future__ import annotations

import pytest
from django.urls import reverse

from anomalies.models import Investigation
from tests.anomalies.fault_trees import conclude, enter, judge, judge_all, make_investigation, make_origin, plan, revise
from tests.anomalies.files import make_evidence
from tests.anomalies.people import board_member, make_open, make_stranger, viewer
from tests.anomalies.web.pages import HTMX, log_in
from tests.faulttree.people import TIMED, TWO_TOPS

pytestmark = pytest.mark.django_db


def show(investigation, person=None, **more):
    return log_in(person or viewer()).get(investigation.get_absolute_url(), **more)


def form_of(record, name):
    return reverse("anomalies:move", args=(record.KIND, record.pk, name))


def send(record, name, **data):
    return log_in(board_member()).post(form_of(record, name), data)


def test_who_may_see_the_anomaly_sees_it():
    investigation = make_investigation()
    page = show(investigation).content.decode()
    for words in ("Valve stuck", "pump-1", "suit-flow", "Decision support", "No inspection is on the list"):
        assert words in page
    assert form_of(investigation, "judge") not in page
    assert form_of(investigation, "judge") in show(investigation, board_member()).content.decode()
    assert show(investigation, make_stranger()).status_code == 404


def test_an_anomaly_without_one_has_no_page():
    address = reverse("anomalies:investigation", args=(make_open().number,))
    assert log_in(viewer()).get(address).status_code == 404


def test_the_inspections_are_a_piece_for_htmx_and_keep_their_order():
    investigation = make_investigation()
    plan(investigation, cost=1.0)
    piece = show(investigation, data={"rank": "cost"}, headers=HTMX).content.decode()
    assert "<html" not in piece
    assert piece.strip().startswith('<section class="plate" id="inspections"')
    assert '<option value="cost" selected>' in piece
    assert '<option value="hours" selected>' in show(investigation, data={"rank": "luck"}).content.decode()


def test_a_conflict_is_named_and_inspections_stay():
    investigation = make_investigation()
    judge(investigation, "ruled_out", "valve", "both")
    plan(investigation)
    page = show(investigation, board_member()).content.decode()
    assert "This can't all be true." in page
    assert "valve ruled out" in page
    assert "nothing can be ranked" in page
    assert form_of(investigation.inspections.get(), "carry-out") in page


def test_a_concluded_one_offers_only_to_resume():
    investigation = make_investigation()
    inspection, bearing = plan(investigation), enter(investigation, "valve", "ratio", ratio=2.0)
    conclude(judge_all(investigation))
    page = show(investigation, board_member()).content.decode()
    assert form_of(investigation, "resume") in page
    refused = [(investigation, name) for name in ("judge", "weigh", "plan-inspection", "set-time", "conclude")]
    refused += [(inspection, name) for name in ("edit", "carry-out", "drop")] + [(bearing, "withdraw")]
    for record, name in refused:
        assert form_of(record, name) not in page


def test_the_newest_revision_is_offered():
    investigation = make_investigation()
    assert form_of(investigation, "take-up") not in show(investigation, board_member()).content.decode()
    revise(investigation)
    page = show(investigation, board_member()).content.decode()
    assert form_of(investigation, "take-up") in page
    assert "Revision 2 of this tree" in page


@pytest.mark.parametrize("figure", ["prior", "given-top", "posterior"])
def test_a_figure_explains_itself(figure):
    investigation = make_investigation()
    address = reverse("anomalies:explain", args=(investigation.anomaly.number, figure))
    page = log_in(viewer()).get(address, {"of": "valve"})
    assert "Valve stuck" in page.content.decode()
    assert "Decision support" in page.content.decode()
    assert log_in(viewer()).get(address, {"of": "tap"}).status_code == 404
    assert log_in(viewer()).get(address).status_code == 404
    assert log_in(make_stranger()).get(address, {"of": "valve"}).status_code == 404


def test_every_figure_on_the_page_leads_to_its_explanation():
    investigation = make_investigation()
    enter(investigation, "valve", "ratio", ratio=2.0)
    judge(investigation, "ruled_out", "pump-2")
    plan(investigation, hours=1.0)
    page = show(investigation).content.decode()
    links = {part.partition('"')[0] for part in page.split('href="') if "/explain/" in part.partition('"')[0]}
    assert {link.split("/")[5] for link in links} == {"prior", "given-top", "posterior", "explanation", "ratio", "bits"}
    client = log_in(viewer())
    assert {link: client.get(link.replace("&amp;", "&")).status_code for link in links} == dict.fromkeys(links, 200)


def open_it(anomaly, **data):
    return log_in(board_member()).post(form_of(anomaly, "open-investigation"), data)


def test_it_is_opened_on_the_tree_that_is_chosen():
    anomaly, origin = make_open(), make_origin()
    made = open_it(anomaly, tree=origin.tree_id)
    investigation = Investigation.objects.get()
    assert (made.status_code, investigation.top, investigation.origin) == (302, "no-flow", origin)
    assert (
        form_of(anomaly, "open-investigation")
        not in log_in(board_member()).get(anomaly.get_absolute_url()).content.decode()
    )


def test_what_opening_lacks_is_said_beside_its_field_and_nothing_typed_is_lost():
    anomaly = make_open()
    several = open_it(anomaly, tree=make_origin(TWO_TOPS).tree_id, mission_time="12.5")
    assert several.status_code == 422
    page = several.content.decode()
    assert "several top events" in page
    assert 'value="12.5"' in page
    timed = open_it(anomaly, tree=make_origin(TIMED).tree_id)
    assert timed.status_code == 422
    assert list(timed.context["form"].errors) == ["mission_time"]
    assert not Investigation.objects.exists()


def test_a_test_without_its_rates_is_sent_back():
    investigation = make_investigation()
    given = {"event": "valve", "says": "test", "justification": "A dye check.", "sensitivity": "0.9"}
    sent = send(investigation, "weigh", **given, evidence=make_evidence(investigation.anomaly).pk)
    assert sent.status_code == 422
    assert list(sent.context["form"].errors) == ["false_alarm"]
    assert "A dye check." in sent.content.decode()


def test_a_judgement_on_figures_that_changed_is_sent_back_with_what_was_typed():
    investigation = make_investigation()
    evidence = make_evidence(investigation.anomaly)
    seen = investigation.version
    enter(investigation, "pump-1", "ratio", ratio=2.0)
    given = {"disposition": "ruled_out", "events": ["valve"], "rationale": "It turned.", "evidence": evidence.pk}
    sent = send(investigation, "judge", **given, version=seen)
    assert sent.status_code == 409
    assert sent.context["form"].data["version"] == str(seen + 1)
    page = sent.content.decode()
    assert "It turned." in page
    for box in ('value="valve"', f'name="evidence" value="{evidence.pk}"'):
        assert "checked" in page.partition(box)[2].partition(">")[0]
    assert not investigation.dispositions.exists()


def test_events_are_ticked_where_the_link_names_one():
    investigation = make_investigation()
    page = log_in(board_member()).get(form_of(investigation, "judge"), {"events": "pump-2"}).content.decode()
    assert 'value="pump-2"' in page
    box = page.partition('value="pump-2"')[2].partition(">")[0]
    assert "checked" in box
    assert 'value="no-flow"' not in page


def test_the_dossier_says_how_far_it_is():
    investigation = make_investigation()
    judge(investigation, "ruled_out", "valve")
    page = log_in(viewer()).get(investigation.anomaly.get_absolute_url()).content.decode()
    assert "2 of 3 events open" in page
    assert investigation.get_absolute_url() in page

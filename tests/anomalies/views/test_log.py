"""The log: filters that are addresses, saved views, the export, pages of a long list; and the search."""

from __future__ import annotations

import csv
import io
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from anomalies.models import Anomaly, SavedView
from anomalies.reads.log import LogFilter, find_log
from anomalies.risk import MATRIX, Risk
from anomalies.services.saved_views import save_view
from anomalies.services.screening import screen_anomaly
from anomalies.web import slices
from tests.anomalies.files import make_evidence
from tests.anomalies.people import (
    SEEN_AT,
    board_member,
    make_constraint,
    make_draft,
    make_item,
    make_open,
    make_reported,
    make_stranger,
    recorder,
    safety_engineer,
    viewer,
)
from tests.anomalies.web.pages import HTMX, log_in
from tests.faulttree.people import make_revision

pytestmark = pytest.mark.django_db
LOG = "/log/"


def read(path, person=None, **headers):
    answer = log_in(person or viewer()).get(path, **headers)
    assert answer.status_code == 200
    return answer.content.decode()


def titles(**filters):
    return [row.title for row in find_log(viewer(), LogFilter.read(filters))]


def test_each_filter_leaves_out_what_it_should():
    item = make_item("SN-9")
    first = make_open(title="First", occurred_at=SEEN_AT - timedelta(days=800), hardware_ids=[item.pk])
    make_reported(title="Second")
    assert titles() == ["Second", "First"]
    assert titles(sort="oldest") == ["First", "Second"]
    for name, value in {
        "state": "open",
        "risk": first.risk.value,
        "severity": "2",
        "lead": str(first.lead_id),
        "type": str(item.type_id),
        "year": str(first.occurred_at.year),
        "words": "SN-9 first",
    }.items():
        assert titles(**{name: value}) == ["First"], name


def test_words_are_looked_for_in_the_whole_dossier():
    anomaly = make_open(title="Plain")
    make_reported(title="Other")
    make_evidence(anomaly, statement="A zebra at the hatch.")
    assert titles(words="zebra") == ["Plain"]


def test_what_holds_an_activity_to_come():
    make_reported(title="Free")
    anomaly = make_open(title="Holding")
    make_constraint(anomaly)
    assert titles(holds="1") == []  # the type is used by no activity to come
    from anomalies.services.activities import add_activity_hardware
    from tests.anomalies.people import activity_lead, make_activity

    item = make_item("B9")
    add_activity_hardware(activity_id=make_activity().pk, item_id=item.pk, actor=activity_lead())
    assert titles(holds="1") == ["Holding"]


def test_mine_is_what_i_lead_or_recorded():
    make_open(title="Led")
    wanted = LogFilter.read({"mine": "1"})
    assert [row.title for row in find_log(board_member(), wanted)] == ["Led"]
    assert [row.title for row in find_log(recorder(), wanted)] == ["Led"]
    assert list(find_log(safety_engineer(), wanted)) == []


def test_the_gravest_risk_comes_first_as_the_matrix_has_it():
    for (severity, level), _ in sorted(MATRIX.items(), key=lambda each: str(each[0]), reverse=True)[::3]:
        if level == "F":
            continue
        anomaly = make_reported()
        screen_anomaly(
            anomaly_id=anomaly.pk,
            actor=safety_engineer(),
            severity=severity,
            probability=level,
            rationale="So.",
            lead_id=board_member().pk,
        )
    make_reported()
    risks = [row.risk for row in find_log(viewer(), LogFilter.read({"sort": "risk"}))]
    assert risks[-1] is None
    order = [Risk.values.index(risk) for risk in risks[:-1]]
    assert order == sorted(order)
    assert len(set(order)) > 1


def test_a_draft_is_only_in_its_recorders_log():
    make_draft(title="Half written")
    assert "Half written" in read(LOG, recorder())
    assert "Half written" not in read(LOG)


def test_pages_of_a_long_log_follow_each_other(monkeypatch):
    monkeypatch.setattr(slices, "SIZE", 2)
    for number in range(5):
        make_reported(title=f"Title {number}", occurred_at=SEEN_AT + timedelta(hours=number))
    pages = [read(f"{LOG}?page={page}") for page in (1, 2, 3)]
    shown = [[n for n in range(5) if f"Title {n}" in page] for page in pages]
    assert shown == [[3, 4], [1, 2], [0]]
    assert 'rel="next"' not in pages[2]
    assert "No anomaly fits" in read(f"{LOG}?page=9")


def test_a_count_that_stops_says_so(monkeypatch):
    monkeypatch.setattr(slices, "SIZE", 1)
    monkeypatch.setattr(slices, "COUNTED", 2)
    told = ["1 anomaly", "2 anomalies", "More than 2 anomalies", "More than 2 anomalies"]
    for count, said in enumerate(told, start=1):
        make_reported()
        for page in range(1, count + 2):
            assert f">{said} ·" in read(f"{LOG}?page={page}"), (count, page)


def test_the_export_holds_every_row_of_the_filter(monkeypatch):
    monkeypatch.setattr(slices, "SIZE", 2)
    for number in range(5):
        make_reported(title=f"+{number}")
    make_open(title="Other")
    answer = log_in(viewer()).get("/log/export.csv?state=reported")
    rows = list(csv.DictReader(io.StringIO(b"".join(answer.streaming_content).decode())))
    assert sorted(row["title"] for row in rows) == [f"'+{number}" for number in range(5)]


def test_a_view_is_kept_used_shared_renamed_and_deleted():
    make_open(title="Seen")
    client = log_in(viewer())
    answer = client.post("/log/views/", {"name": "Open ones", "state": "open", "is_shared": "on"})
    assert answer.url == "/log/?state=open"
    view = SavedView.objects.get()
    assert "Open ones" in read(LOG, recorder())
    assert log_in(recorder()).post(f"/log/views/{view.pk}/", {"delete": "1"}).status_code == 403
    client.post(f"/log/views/{view.pk}/", {"name": "Open"})
    view.refresh_from_db()
    assert view.name == "Open"
    client.post(f"/log/views/{view.pk}/", {"delete": "1"})
    assert not SavedView.objects.exists()


def test_another_ones_private_view_is_not_there():
    view = save_view(actor=recorder(), name="Mine", query="state=open")
    assert log_in(viewer()).post(f"/log/views/{view.pk}/", {"name": "Yours"}).status_code == 404


def test_an_empty_log_says_what_to_do():
    assert "two minutes on a phone" in read(LOG, recorder())
    assert "No anomaly fits" in read(f"{LOG}?state=closed")


def test_the_fragment_alone_for_htmx_and_nothing_without_a_role():
    make_reported()
    assert "<html" not in read(LOG, headers=HTMX)
    assert log_in(make_stranger()).get(LOG).status_code == 403


def test_queries_dont_grow_with_the_log():
    make_open()
    client = log_in(viewer())
    counts = []
    for _ in range(2):
        client.get(LOG)
        with CaptureQueriesContext(connection) as queries:
            client.get(LOG)
        counts.append(len(queries))
        for _ in range(4):
            make_open()
    assert counts[0] == counts[1]


def test_the_search_marks_words_and_escapes_the_rest():
    anomaly = make_reported(title="<b>Coolant</b> leaked", description="x " * 200 + "a leak <i>there</i>")
    page = read("/search/?words=leaking")
    assert "&lt;b&gt;Coolant&lt;/b&gt; <mark>leaked</mark>" in page
    assert "a <mark>leak</mark> &lt;i&gt;there" in page
    assert f"/records/anomaly/{anomaly.pk}/" in page


def test_the_search_finds_fault_trees_by_their_words():
    tree = make_revision(safety_engineer()).tree
    page = read("/search/?words=flow")
    assert f'href="{tree.get_absolute_url()}"' in page
    assert "Nothing holds" not in page
    assert tree.get_absolute_url() not in read("/search/?words=flow", make_stranger())
    assert tree.get_absolute_url() not in read("/search/?words=giraffe")


def test_all_that_was_found_is_exported():
    anomaly = make_open(title="=Zebra", occurred_at=SEEN_AT)
    make_evidence(anomaly, title="Zebra picture")
    make_draft(title="Zebra draft")

    def export(query):
        answer = log_in(viewer()).get(f"/search/export.csv?{query}")
        return list(csv.DictReader(io.StringIO(b"".join(answer.streaming_content).decode())))

    found = export("words=zebra")
    assert [(row["kind"], row["title"], row["anomaly"]) for row in found] == [
        ("anomaly", "'=Zebra", anomaly.number),
        ("evidence", "Zebra picture", anomaly.number),
    ]
    assert [row["kind"] for row in export("words=zebra&kind=evidence")] == ["evidence"]
    assert export("words=giraffe") == export("") == []


def test_the_search_can_be_narrowed_to_a_kind():
    anomaly = make_open(title="Zebra")
    make_evidence(anomaly, title="Zebra picture")
    assert "</mark> picture" not in read("/search/?words=zebra&kind=anomaly")
    assert "</mark> picture" in read("/search/?words=zebra&kind=nonsense")
    assert "Nothing holds" in read("/search/?words=giraffe")
    assert "What are you looking for" in read("/search/")


class AnyAddress(TestCase):
    """Whatever stands in the address, the log answers, and its own address means the same."""

    @settings(max_examples=50, suppress_health_check=list(HealthCheck))
    @given(st.dictionaries(st.sampled_from(LogFilter.__slots__), st.text(max_size=20) | st.sampled_from(["1", "open"])))
    def test_any_filter_is_read(self, query):
        from django.http import QueryDict

        wanted = LogFilter.read(query)
        assert LogFilter.read(QueryDict(wanted.query).dict()) == wanted
        list(find_log(viewer(), wanted))
        assert Anomaly.objects.count() == 0


@pytest.mark.parametrize("path", [LOG, "/search/", "/actions/", "/procedures/", "/activities/", "/hardware/"])
def test_a_sign_that_no_text_can_hold_breaks_no_list(path):
    make_open()
    assert read(f"{path}?words=%00zebra&q=%00&kind=%00&state=%00")

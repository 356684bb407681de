"""The trends page, the records behind its figures, and its addresses in the API."""

from __future__ import annotations

import html
import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from anomalies.clock import pretending
from tests.anomalies.people import make_item, make_stranger, viewer
from tests.anomalies.trends import NOW, close, confirm, day, hold, owe, repeat, report

pytestmark = pytest.mark.django_db
ASKED = "/trends/?split=system&period=activity&measure=hours"
PLACES = ("/trends/", "/trends/records/?what=all", "/trends/explain/rate/", "/api/v1/trends/")


def text(response):
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", response.content.decode())))


def get(client, path):
    with pretending(NOW):
        return client.get(path)


def tell(first: int = 0) -> None:
    """A year with something of everything."""
    for n in range(first, first + 4):
        at = n % 4 * 95 + n // 4
        item = make_item(f"S{n}", f"PSA-{n}")
        activity = hold(day(at), items=[item], title=f"Sortie {n}")
        anomaly = report(day(at, 1), screened=True, activity_id=activity.pk, hardware_ids=[item.pk])
        owe(confirm(anomaly, day(at + 1)), day(at + 2).date(), day(at + 1))
        old = report(day(at, 2), screened=True)
        close(old, day(at + 1))
        repeat(report(day(at + 2)), old, day(at + 3))


def test_an_empty_log_says_how_much_is_needed(client):
    client.force_login(viewer())
    page = get(client, "/trends/")
    for words in ("Three anomalies and some exposure", "four periods", "No control chart yet", "No cause is confirmed"):
        assert words in text(page), words
    assert b"<svg" not in page.content.split(b"<main")[1]


def test_a_filter_that_nothing_fits_says_so(client):
    tell()
    client.force_login(viewer())
    assert "No anomaly fits" in text(get(client, "/trends/?kind=docking"))


def test_those_without_a_role_see_none(client):
    client.force_login(make_stranger())
    assert [client.get(path).status_code for path in PLACES] == [403] * 4


def test_every_link_of_the_page_leads_somewhere(client):
    tell()
    client.force_login(viewer())
    links = set()
    for path in (ASKED, "/trends/?split=severity&until=last&causes_by=system", "/trends/?split=kind&period=year"):
        page = get(client, path)
        links |= {html.unescape(link) for link in re.findall(r'href="(/[^"]+)"', page.content.decode())}
    wanted = [link for link in links if link.startswith(("/trends/", "/log/A-", "/actions/CA-"))]
    assert len(wanted) > 60
    for link in wanted:
        assert get(client, link).status_code == 200, link


def test_charts_are_drawn_with_a_table_and_units(client):
    tell()
    client.force_login(viewer())
    page = get(client, "/trends/")
    assert page.content.count(b'class="chart trend trend--wide"') == 4
    for words in ("Anomalies per outing", "Exposure so far, outings", "power law", "Share of confirmed causes"):
        assert words in text(page), words
    assert page.content.count(b"<summary>The numbers</summary>") == 4
    assert "safety authority" in text(page)


def test_records_are_paged_and_nonsense_is_not_found(client):
    for n in range(52):
        report(day(1, n))
    client.force_login(viewer())
    first, second = (text(get(client, f"/trends/records/?what=all&page={n}")) for n in (1, 2))
    assert "1–50 of 52" in first
    assert "51–52 of 52" in second
    for query in ("", "?what=nonsense", "?what=period&of=1999-Q1", "?what=group&of=3"):
        assert get(client, f"/trends/records/{query}").status_code == 404, query
    assert get(client, "/trends/explain/nonsense/").status_code == 404


@pytest.mark.parametrize("path", [ASKED, "/trends/records/?what=all", "/api/v1/trends/?split=system"])
def test_the_number_of_queries_does_not_grow_with_the_log(client, path):
    def count() -> int:
        with CaptureQueriesContext(connection) as found:
            assert get(client, path).status_code == 200
        return len(found)

    tell()
    client.force_login(viewer())
    count()
    before = count()
    tell(4)
    assert count() == before


def test_the_api_has_the_rows_of_every_figure(client):
    tell()
    client.force_login(viewer())
    shown = get(client, "/api/v1/trends/?measure=hours&split=kind").json()
    assert shown["whole"] == {"key": "", "label": "All", "count": 12, "exposure": 24.0, "rate": 0.5}
    assert sum(row["count"] for row in shown["rows"]) == 12
    assert [group["key"] for group in shown["groups"]] == ["none", "sortie"]
    assert len(shown["trend"]["placed"]) == 12
    assert shown["trend"]["laplace"]["used"] == 12
    low, high = shown["trend"]["growth"]["beta_limits"].values()
    assert low < shown["trend"]["growth"]["beta"] < high
    assert (
        shown["recurrences"]["closed"] == shown["recurrences"]["returned"] == len(shown["recurrences"]["repeats"]) == 4
    )
    assert [wait["key"] for wait in shown["waits"]] == ["screen", "cause", "close"]
    assert {each["owner"] for each in shown["overdue"]} == {"action-owner"}
    assert shown["causes"] == [
        {"key": "proximate", "label": "Proximate cause", "count": 4, "share": 1.0, "cumulative": 1.0}
    ]
    assert "safety authority" in shown["caution"]


def test_the_api_lists_what_a_figure_counts(client):
    tell()
    client.force_login(viewer())
    found = get(client, "/api/v1/trends/records/?what=screen&of=waiting").json()
    assert len(found["anomalies"]) == 4
    assert found["causes"] == []
    assert len(get(client, "/api/v1/trends/records/?what=causes&of=proximate").json()["causes"]) == 4
    assert "what" in get(client, "/api/v1/trends/records/?what=nonsense").json()["fields"]
    for query in ("", "?what=period", "?what=group&of=3", "?what=period&of=1999-Q1"):
        assert get(client, f"/api/v1/trends/records/{query}").status_code == 400, query
    assert "of" in get(client, "/api/v1/trends/records/?what=screen&of=x").json()["fields"]
    assert "period" in get(client, "/api/v1/trends/?period=moon").json()["fields"]

"""The search through the JSON API."""

from __future__ import annotations

import pytest

from tests.anomalies.files import make_evidence
from tests.anomalies.people import make_draft, make_item, make_open, make_stranger, viewer
from tests.anomalies.web.pages import log_in

pytestmark = pytest.mark.django_db
HERE = "/api/v1/search/"


def find(person=None, **asked):
    answer = log_in(person or viewer()).get(HERE, asked)
    assert answer.status_code == 200, answer.json()
    return [(hit["kind"], hit["code"], hit["title"], hit["anomaly"]) for hit in answer.json()["results"]]


def test_records_of_all_kinds_are_found_by_words_numbers_and_serials():
    item = make_item("ZB-9")
    anomaly = make_open(title="Zebra stripes", hardware_ids=[make_item("ZC-9").pk])
    make_evidence(anomaly, title="Picture of the zebra")
    make_draft(title="Zebra draft")  # its recorder's alone
    assert sorted(find(words="zebra")) == [
        ("anomaly", anomaly.number, "Zebra stripes", anomaly.number),
        ("evidence", f"{anomaly.number} E1", "Picture of the zebra", anomaly.number),
    ]
    assert find(words="zebra", kind="anomaly") == [("anomaly", anomaly.number, "Zebra stripes", anomaly.number)]
    assert find(words=f" {anomaly.number.lower()}")[0][0] == "anomaly"
    assert [hit[0] for hit in find(words="zb-9")] == ["hardware"]
    assert find(words="zb-9")[0][3] is None
    assert item.serial_number in find(words="zb-9")[0][1]


def test_who_may_see_nothing_finds_nothing():
    make_open(title="Zebra")
    assert find(make_stranger(), words="zebra") == []


@pytest.mark.parametrize(("asked", "field"), [({}, "words"), ({"words": "x", "kind": "run"}, "kind")])
def test_what_can_not_be_looked_for_is_refused_by_field(asked, field):
    answer = log_in(viewer()).get(HERE, asked)
    assert (answer.status_code, answer.json()["fields"].keys()) == (400, {field})


def test_its_queries_do_not_grow_with_what_is_found(django_assert_max_num_queries):
    for number in range(12):
        make_open(title=f"Zebra {number}")
    client = log_in(viewer())
    with django_assert_max_num_queries(8):
        assert client.get(HERE, {"words": "zebra"}).json()["count"] == 12

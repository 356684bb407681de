"""The search finds words, numbers and serials, and shows nobody what isn't theirs to see."""

from __future__ import annotations

import pytest
from django.core.management import call_command
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from anomalies.models import SearchText
from anomalies.models.base import record_models
from anomalies.search_texts import WRITERS
from anomalies.services.anomalies import add_anomaly_hardware, edit_anomaly, remove_anomaly_hardware
from tests.anomalies.actions import make_proposed
from tests.anomalies.files import make_evidence
from tests.anomalies.investigation import make_cause, make_finding
from tests.anomalies.lessons import make_lesson
from tests.anomalies.people import make_draft, make_item, make_open, make_reported, make_stranger, recorder, viewer
from tests.anomalies.procedures import make_drafted

pytestmark = pytest.mark.django_db


def find(words, actor=None):
    rows = SearchText.objects.visible_to(actor or viewer()).matching(words).best_first(words)
    return [(row.kind, row.record_id) for row in rows]


def test_words_are_found_in_any_order_by_their_stem_and_by_their_beginning():
    anomaly = make_reported(title="Coolant leaked at the coupling")
    for words in ("coupling coolant", "leaking", "coup", "COOLANT"):
        assert find(words) == [("anomaly", anomaly.pk)]
    assert find("coolant valve") == []


def test_a_number_is_found_whole_and_by_its_beginning():
    anomaly = make_reported()
    make_reported()
    assert find(anomaly.number) == [("anomaly", anomaly.pk)]
    assert len(find(anomaly.number[:8])) == 2


def test_serials_are_found_on_the_item_and_on_the_anomaly_while_it_is_concerned():
    item, anomaly = make_item("SN-0417"), make_reported()
    add_anomaly_hardware(anomaly_id=anomaly.pk, item_id=item.pk, actor=recorder())
    assert set(find("SN-0417")) == {("hardware", item.pk), ("anomaly", anomaly.pk)}
    remove_anomaly_hardware(anomaly_id=anomaly.pk, item_id=item.pk, actor=recorder())
    assert find("sn-0417") == [("hardware", item.pk)]


def test_an_edit_is_found_at_once_and_the_words_before_are_not():
    anomaly = make_reported(title="Coolant wept")
    edit_anomaly(anomaly_id=anomaly.pk, actor=recorder(), version=1, changes={"title": "Glycol wept"})
    assert find("glycol")
    assert not find("coolant")


def test_every_kind_is_found():
    anomaly = make_open(title="Zebra")
    make_evidence(anomaly, title="zebra", statement="zebra")
    make_finding(anomaly, statement="A zebra was seen.")
    make_proposed(make_cause(anomaly, statement="Zebra loose"), title="Catch the zebra")
    make_drafted(None, "Watch for the zebra.")
    make_lesson(why="A zebra.")
    kinds = {kind for kind, _ in find("zebra")}
    assert {"anomaly", "evidence", "finding", "cause", "action", "procedure", "lesson"} <= kinds


def test_a_draft_is_its_recorders_alone():
    make_draft(title="Secret")
    assert find("secret", recorder())
    assert not find("secret", viewer())


def test_without_a_role_nothing_is_found():
    make_reported()
    assert find("coolant", make_stranger()) == []


def test_the_better_match_comes_first():
    make_reported(title="Other", description="a coupling somewhere in a long story about many things")
    best = make_reported(title="Coupling")
    assert find("coupling")[0] == ("anomaly", best.pk)


def test_rebuilt_it_is_the_same():
    anomaly = make_open()
    make_evidence(anomaly)
    make_proposed()
    before = set(SearchText.objects.values_list("kind", "record_id", "codes", "title", "body", "anomaly", "owner"))
    call_command("rebuild_search", verbosity=0, stdout=open("/dev/null", "w"))  # noqa: SIM115
    assert before == set(
        SearchText.objects.values_list("kind", "record_id", "codes", "title", "body", "anomaly", "owner")
    )


def test_kinds_that_are_not_searched_are_meant_so():
    ties = {"crew_assignment", "activity_hardware", "anomaly_hardware", "link", "installation", "board_seat"}
    ties |= {"finding_evidence", "cause_finding", "cause_evidence", "action_cause", "action_evidence", "concurrence"}
    others = {"access_token", "evidence_opening", "sign_off", "acknowledgement", "procedure_use", "procedure_revision"}
    ties |= {"disposition_evidence", "disposition_finding", "action_tie", "occurrence"}
    others |= {"exposure", "parameter_update", "baseline"}  # figures
    others |= {"poll_position", "poll_answer", "readiness_review", "readiness_snapshot", "waiver", "fulfilment"}
    others |= {"brief_share", "calendar_key"}
    others |= {"requirement", "standard_position", "lesson_place", "lesson_use"}
    others |= {"board_meeting", "meeting_attendance", "meeting_decision"}
    on_one_page = {"investigation", "disposition", "bearing", "inspection", "effect", "failure_mode"}
    expected = ties | others | on_one_page  # the last are found on the page of their anomaly, or of learning
    assert {model.KIND for model in record_models()} - {model.KIND for model in WRITERS} == expected


class AnyWords(TestCase):
    """Whatever is typed, the search answers."""

    @settings(max_examples=60, suppress_health_check=list(HealthCheck))
    @given(st.text(max_size=40) | st.text("\"'*()&|!:<->-+~^ abAND OR NOT NEAR\\%_", max_size=30))
    def test_nothing_that_is_typed_breaks_it(self, words):
        list(SearchText.objects.all().matching(words))

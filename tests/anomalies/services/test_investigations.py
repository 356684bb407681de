"""An investigation is opened on a tree of its own, kept in step with it, concluded, resumed."""

from __future__ import annotations

import io

import pytest
from django.core.management import call_command

from anomalies.errors import EditConflict, Missing
from anomalies.models import LedgerEntry
from anomalies.services.closing import close_anomaly
from anomalies.services.investigations import (
    MOST_NAMED,
    open_investigation,
    resume_investigation,
    set_mission_time,
    take_up_revision,
)
from anomalies.services.unexplained import accept_unexplained
from config.kit.errors import BadInput, NotAllowed, Refused, WrongState
from faulttree.models import Tree
from tests.anomalies.fault_trees import (
    WITHOUT_PUMP_2,
    conclude,
    enter,
    judge,
    judge_all,
    make_investigation,
    make_origin,
    plan,
    revise,
)
from tests.anomalies.people import board_member, make_open, make_reported, safety_engineer, viewer
from tests.anomalies.procedures import prove
from tests.anomalies.refusals import refused
from tests.faulttree.people import PUMPS, TIMED, TWO_TOPS

pytestmark = pytest.mark.django_db


def begin(anomaly, **changes):
    given = {"top": "no-flow"} if "revision_id" in changes else {"top": "no-flow", "revision_id": make_origin().pk}
    return open_investigation(anomaly_id=anomaly.pk, actor=board_member(), **given | changes)


def set_time(investigation, hours, **changes):
    given = {"version": investigation.version, "mission_time": hours}
    return set_mission_time(investigation_id=investigation.pk, actor=board_member(), **given | changes)


def test_it_works_on_a_copy_of_the_tree():
    anomaly, origin = make_open(), make_origin()
    made = begin(anomaly)
    assert (made.origin_id, made.opened_by, made.state) == (origin.pk, board_member(), "under_way")
    assert made.tree_id != origin.tree_id
    assert bytes(made.revision.source) == bytes(origin.source)
    assert anomaly.number in made.tree.label
    assert LedgerEntry.objects.of("investigation", made.pk).get().action == "investigation.open"


def test_an_anomaly_has_one():
    investigation = make_investigation()
    with refused(Refused, code="opened_already"):
        begin(investigation.anomaly)
    assert Tree.objects.count() == 2


def test_any_gate_of_the_tree_can_be_what_happened():
    assert make_investigation(top="both").top == "both"


@pytest.mark.parametrize(
    ("changes", "code", "field"),
    [
        ({"revision_id": 0}, "not_there", "revision_id"),
        ({"top": "flow"}, "no_gate", "top"),
        ({"top": "valve"}, "no_gate", "top"),
        ({"mission_time": -1.0}, "bad_time", "mission_time"),
        ({"mission_time": float("nan")}, "bad_time", "mission_time"),
        ({"mission_time": float("inf")}, "bad_time", "mission_time"),
    ],
)
def test_what_can_not_be_opened_is_refused(changes, code, field):
    anomaly = make_open()
    make_origin()
    trees = Tree.objects.count()
    with refused(BadInput, code=code) as caught:
        begin(anomaly, **changes)
    assert list(caught.value.fields) == [field]
    assert Tree.objects.count() == trees


def test_a_tree_over_time_needs_a_mission_time():
    anomaly, origin = make_open(), make_origin(TIMED)
    with refused(BadInput, code="no_time"):
        begin(anomaly, revision_id=origin.pk)
    made = begin(anomaly, revision_id=origin.pk, mission_time=8.0)
    with refused(BadInput, code="no_time"):
        set_time(made, None)
    assert set_time(made, 12.0).mission_time == 12.0


def test_only_a_screened_anomaly_is_investigated():
    anomaly = make_reported()
    make_origin()
    with refused(WrongState):
        begin(anomaly)


def test_who_may_not_learns_nothing():
    anomaly = make_open()
    with refused(NotAllowed):
        open_investigation(anomaly_id=anomaly.pk, actor=viewer(), revision_id=0, top="")


def test_a_mission_time_set_on_an_old_version_is_a_conflict():
    investigation = make_investigation()
    set_time(investigation, 8.0)
    with refused(EditConflict) as caught:
        set_time(investigation, 9.0, version=1)
    assert caught.value.theirs["mission_time"]["after"] == 8.0
    with refused(BadInput, code="bad_time"):
        set_time(investigation.reread(), -8.0)


def test_a_newer_revision_of_its_own_tree_is_taken_up():
    investigation = make_investigation()
    judge(investigation, "ruled_out", "pump-2")
    with refused(Refused, code="newest_already"):
        take_up(investigation)
    newer = revise(investigation)
    with refused(EditConflict):
        take_up(investigation, version=1)
    taken = take_up(investigation)
    assert (taken.revision_id, taken.revision.number) == (newer.pk, 2)
    assert taken.dispositions.get().event == "pump-2"


def test_what_happened_must_stay_in_the_tree():
    investigation = make_investigation(source=TWO_TOPS, top="other")
    revise(investigation, PUMPS.replace('"pumps"', '"two-tops"'))
    with refused(Refused, code="no_top"):
        take_up(investigation)


def test_a_revision_over_time_waits_for_a_mission_time():
    investigation = make_investigation()
    revise(investigation, TIMED)
    with refused(Refused, code="no_time"):
        take_up(investigation)
    set_time(investigation, 8.0)
    assert take_up(investigation).revision.number == 2


def take_up(investigation, **changes):
    given = {"version": investigation.reread().version}
    return take_up_revision(investigation_id=investigation.pk, actor=board_member(), **given | changes)


def test_every_event_has_a_disposition_before_it_is_concluded():
    investigation = make_investigation()
    with refused(Missing, code="something_open") as caught:
        conclude(investigation)
    assert [gap.text.split()[0] for gap in caught.value.gaps] == ["valve", "pump-1", "pump-2"]
    judge(investigation, "credible", "valve")
    judge(investigation, "ruled_out", "both")
    with refused(BadInput):
        conclude(investigation, conclusion=" ")
    with refused(EditConflict):
        conclude(investigation, version=1)
    done = conclude(investigation)
    assert (done.state, done.concluded_by) == ("concluded", board_member())


def test_an_event_that_was_opened_again_has_no_disposition():
    investigation = judge_all(make_investigation())
    judge(investigation, "open", "valve")
    with refused(Missing) as caught:
        conclude(investigation)
    assert [gap.text for gap in caught.value.gaps] == ["valve has no disposition."]


def test_what_contradicts_itself_is_not_concluded():
    investigation = make_investigation()
    judge(investigation, "ruled_out", "valve", "pump-1", "pump-2")
    with refused(Missing) as caught:
        conclude(investigation)
    assert ["can't all be true" in gap.text for gap in caught.value.gaps] == [True]


def test_a_long_list_of_open_events_says_how_many_more():
    inputs = "".join(f'<basic-event name="e{n}"/>' for n in range(MOST_NAMED + 5))
    values = "".join(
        f'<define-basic-event name="e{n}"><float value="0.1"/></define-basic-event>' for n in range(MOST_NAMED + 5)
    )
    source = (
        f'<opsa-mef><define-fault-tree name="wide"><define-gate name="no-flow"><or>{inputs}</or></define-gate>{values}'
        "</define-fault-tree></opsa-mef>"
    )
    investigation = make_investigation(source=source)
    with refused(Missing) as caught:
        conclude(investigation)
    assert len(caught.value.gaps) == MOST_NAMED + 1
    assert caught.value.gaps[-1].text == "5 more events have no disposition."


def test_resumed_it_is_open_to_everything_again():
    investigation = judge_all(make_investigation())
    conclude(investigation)
    given = {"investigation_id": investigation.pk, "actor": board_member()}
    with refused(BadInput):
        resume_investigation(**given, reason="")
    resumed = resume_investigation(**given, reason="Frost was seen.")
    assert (resumed.state, resumed.conclusion, resumed.concluded_by) == ("under_way", "", None)
    told = LedgerEntry.objects.of("investigation", resumed.pk).order_by("sequence").last()
    assert (told.action, told.reason) == ("investigation.resume", "Frost was seen.")
    assert "A stuck valve" in told.before


def test_the_anomaly_is_not_closed_while_it_is_under_way():
    investigation = judge_all(make_investigation())
    engineer = safety_engineer()
    anomaly = accept_unexplained(
        anomaly_id=investigation.anomaly_id,
        actor=engineer,
        version=investigation.anomaly.reread().version,
        rationale="All tried.",
        proof=prove(engineer),
    )
    given = {"anomaly_id": anomaly.pk, "actor": engineer, "version": anomaly.version}
    given |= {"statement": "It was the valve.", "proof": prove(engineer)}
    with refused(Missing) as caught:
        close_anomaly(**given)
    assert [(gap.kind, gap.record_id) for gap in caught.value.gaps] == [("investigation", investigation.pk)]
    conclude(investigation)
    assert close_anomaly(**given).state == "closed"
    with refused(WrongState):  # a closed anomaly keeps its investigation as it is
        resume_investigation(investigation_id=investigation.pk, actor=board_member(), reason="Frost was seen.")


def test_the_ledger_holds_all_of_it():
    investigation = make_investigation()
    judge(investigation, "credible", "valve")
    enter(investigation, "pump-1", "ratio", ratio=0.25)
    plan(investigation)
    revise(investigation, WITHOUT_PUMP_2)
    take_up(investigation)
    judge(investigation, "confirmed", "valve")
    judge(investigation, "ruled_out", "pump-1")
    conclude(investigation)
    said = io.StringIO()
    call_command("verify_ledger", stdout=said)
    assert said.getvalue().startswith("The ledger is whole")

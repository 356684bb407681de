"""Whatever people try, in whatever order: the ledger stays whole and no record reaches a state it mustn't."""

from __future__ import annotations

from functools import partial

import pytest
from django.contrib.auth.models import User
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from anomalies.models import Anomaly, AnomalyLink, Constraint, HardwareItem, LedgerEntry
from anomalies.permissions import ROLES
from anomalies.services import anomalies, hardware, screening, ties
from anomalies.services.ledger_proof import prove_ledger
from config.kit.errors import DomainError
from tests.anomalies.people import (
    SEEN_AT,
    activity_lead,
    board_member,
    make_item,
    make_person,
    make_stranger,
    make_type,
    recorder,
    safety_engineer,
    viewer,
)
from tests.anomalies.refusals import everything


def everybody() -> User:
    """Somebody with every role, so that calls come through often enough to get somewhere."""
    for role in ROLES:
        person = make_person(role, "everybody")
    return person


SMALL = st.integers(1, 3)
PEOPLE = (
    everybody,
    everybody,
    everybody,
    recorder,
    board_member,
    safety_engineer,
    activity_lead,
    viewer,
    make_stranger,
)
RISK = {"severity": 1, "rationale": "Seen."}
ANOMALY_CALLS = {
    "submit": anomalies.submit_anomaly,
    "discard": anomalies.discard_anomaly,
    "screen": partial(screening.screen_anomaly, probability="B", **RISK),
    "reassess": partial(screening.reassess_anomaly, probability="F", **RISK),
    "dismiss": partial(screening.dismiss_anomaly, reason="No anomaly."),
    "restore": partial(screening.restore_anomaly, reason="It is one."),
    "edit": partial(anomalies.edit_anomaly, version=2, changes={"place": "Airlock"}),
    "constrain": partial(ties.constrain, statement="Not outside."),
}
CALLS = st.one_of(
    st.tuples(st.sampled_from(("draft", "report")), st.just(0), st.just(0)),
    st.tuples(st.sampled_from(sorted(ANOMALY_CALLS)), SMALL, st.just(0)),
    st.tuples(st.sampled_from(("resolve", "reinstate", "remove", "retire", "quarantine")), SMALL, st.just(0)),
    st.tuples(st.sampled_from(("related", "duplicate", "recurrence", "install")), SMALL, SMALL),
)


def nth(model, number):
    """The key of the nth row; of none, where there are fewer."""
    keys = list(model._base_manager.order_by("pk").values_list("pk", flat=True))
    return keys[number - 1] if 1 <= number <= len(keys) else None


def call(name: str, first: int, second: int, actor: User) -> None:
    """Try one thing; what has nothing to be tried on is left out."""
    story = {"title": "Coolant wept", "occurred_at": SEEN_AT}
    constraint, anomaly, item = nth(Constraint, first), nth(Anomaly, first), nth(HardwareItem, first)
    if name == "draft":
        anomalies.draft_anomaly(actor=actor, **story)
    elif name == "report":
        anomalies.report_anomaly(actor=actor, **story)
    elif name in ANOMALY_CALLS and anomaly:
        more = {"lead_id": board_member().pk} if name == "screen" else {}
        more |= {"hardware_type_id": make_type().pk} if name == "constrain" else {}
        ANOMALY_CALLS[name](anomaly_id=anomaly, actor=actor, **more)
    elif name == "resolve" and constraint:
        ties.resolve_constraint(constraint_id=constraint, actor=actor, resolution="Replaced.")
    elif name == "reinstate" and constraint:
        ties.reinstate_constraint(constraint_id=constraint, actor=actor, reason="Not so.")
    elif name in AnomalyLink.Kind.values and anomaly and nth(Anomaly, second):
        ties.link_anomalies(source_id=anomaly, target_id=nth(Anomaly, second), kind=name, actor=actor)
    elif name == "install" and item:
        hardware.install_hardware(item_id=item, parent_id=nth(HardwareItem, second), actor=actor)
    elif name == "remove" and item:
        hardware.remove_hardware(item_id=item, actor=actor, location="Locker", reason="Worn.")
    elif name == "retire" and item:
        hardware.retire_hardware(item_id=item, actor=actor, reason="Old.")
    elif name == "quarantine" and item:
        hardware.quarantine_hardware(item_id=item, actor=actor, reason="Weeps.")


def chain_ends(start, step) -> bool:
    """Following the step from the start comes to an end."""
    seen = set()
    while start is not None:
        if start in seen:
            return False
        seen.add(start)
        start = step(start)
    return True


@pytest.mark.slow
@pytest.mark.database  # a class of unittest has no fixture to tell it by
class Anything(TestCase):
    """Each example starts from nothing but three items."""

    @settings(max_examples=60)
    @given(st.lists(st.tuples(CALLS, st.sampled_from(range(len(PEOPLE)))), max_size=25))
    def test_no_order_of_calls_breaks_a_rule(self, calls):
        people = [make() for make in PEOPLE]
        for serial in "123":
            make_item(serial)
        for arguments, who in calls:
            entries, before = LedgerEntry.objects.count(), everything()
            try:
                call(*arguments, people[who])
            except DomainError:
                assert everything() == before
            else:
                assert (everything() != before) == (LedgerEntry.objects.count() > entries)
        self.check_rules()

    def check_rules(self):
        assert prove_ledger().is_whole
        numbered = Anomaly.objects.exclude(number=None).order_by("number").values_list("number", flat=True)
        assert list(numbered) == [f"A-2024-{count:03}" for count in range(1, len(numbered) + 1)]
        assert not Constraint.objects.in_force().exclude(anomaly__state__in=("reported", "open")).exists()
        for anomaly in Anomaly.objects.open():
            assert anomaly.risk
            assert anomaly.lead
        original = dict(AnomalyLink.objects.standing().filter(kind="duplicate").values_list("source", "target"))
        assert all(chain_ends(anomaly, original.get) for anomaly in original)
        parent = dict(HardwareItem.objects.values_list("pk", "installed_in"))
        assert all(chain_ends(item, parent.get) for item in parent)
        for item in HardwareItem.objects.all():
            now = item.installations.current().values_list("parent", flat=True)
            assert list(now) == [pk for pk in (item.installed_in_id,) if pk]
            assert item.state != "retired" or not item.parts.exists()


def test_what_ends_and_what_does_not():
    assert chain_ends(1, {1: 2, 2: 3}.get)
    assert not chain_ends(1, {1: 2, 2: 1}.get)

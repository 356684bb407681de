"""Hardware: types, items, where they were when."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone

from anomalies.errors import EditConflict
from anomalies.models import HardwareItem, Installation
from anomalies.services.hardware import (
    add_hardware_item,
    add_hardware_type,
    edit_hardware_item,
    install_hardware,
    quarantine_hardware,
    remove_hardware,
    retire_hardware,
)
from config.kit.errors import BadInput, NotAllowed, Refused, WrongState
from tests.anomalies.people import activity_lead, make_item, make_stranger, make_type, viewer
from tests.anomalies.refusals import refused

pytestmark = pytest.mark.django_db


def install(item, parent, **more):
    return install_hardware(item_id=item.pk, parent_id=parent.pk, actor=activity_lead(), **more)


def remove(item, **more):
    given = {"location": "Locker 1", "reason": "Worn."} | more
    return remove_hardware(item_id=item.pk, actor=activity_lead(), **given)


def test_an_item_is_found_by_those_who_may_see_hardware():
    make_item()
    assert HardwareItem.objects.visible_to(viewer()).count() == 1
    assert HardwareItem.objects.visible_to(make_stranger()).count() == 0
    assert Installation.objects.visible_to(make_stranger()).count() == 0


def test_only_keepers_of_hardware_add_it():
    kind, person = make_type(), viewer()
    with refused(NotAllowed):
        add_hardware_type(actor=person, part_number="X", name="X")
    with refused(NotAllowed):
        add_hardware_item(actor=person, type_id=kind.pk, serial_number="1")


def test_a_part_number_and_a_serial_number_are_given_once():
    item, lead = make_item(), activity_lead()
    with refused(BadInput, code="part_number_taken"):
        add_hardware_type(actor=lead, part_number=" UMB-200 ", name="Another")
    with refused(BadInput, code="serial_number_taken"):
        add_hardware_item(actor=lead, type_id=item.type_id, serial_number="B")
    other = make_item("C")
    with refused(BadInput, code="serial_number_taken"):
        edit_hardware_item(item_id=other.pk, actor=lead, version=1, changes={"serial_number": "B"})


def test_bad_input_names_every_field():
    lead = activity_lead()
    with refused(BadInput) as caught:
        add_hardware_item(actor=lead, type_id=99, serial_number=" ", location="a\0b")
    assert set(caught.value.fields) == {"type_id", "serial_number", "location"}


def test_installing_and_removing_leave_a_history():
    umbilical, suit = make_item("B"), make_item("S1", "SUIT-1")
    start = timezone.now() - timedelta(days=9)
    install(umbilical, suit, position="left", at=start)
    assert umbilical.reread().installed_in_id == suit.pk
    remove(umbilical, at=start + timedelta(days=2))
    gone = umbilical.reread()
    assert (gone.installed_in_id, gone.location) == (None, "Locker 1")
    install(umbilical, suit)
    history = umbilical.installations.order_by("installed_at")
    assert [(row.state, row.position) for row in history] == [("removed", "left"), ("installed", "")]
    assert history[0].removed_at - history[0].installed_at == timedelta(days=2)
    assert list(umbilical.installations.current()) == [history[1]]


def test_an_item_is_in_one_place_at_a_time():
    umbilical, suit, other = make_item("B"), make_item("S1", "SUIT-1"), make_item("S2", "SUIT-1")
    install(umbilical, suit)
    with refused(Refused, code="installed_already"):
        install(umbilical, other)
    with refused(Refused, code="not_installed"):
        remove(suit)


def test_times_of_installations_make_sense():
    umbilical, suit = make_item("B"), make_item("S1", "SUIT-1")
    now = timezone.now()
    install(umbilical, suit, at=now - timedelta(hours=5))
    with refused(BadInput, code="before_installation"):
        remove(umbilical, at=now - timedelta(hours=6))
    with refused(BadInput, code="in_future"):
        remove(umbilical, at=now + timedelta(hours=1))
    with refused(BadInput, match="with its zone"):
        remove(umbilical, at=now.replace(tzinfo=None))
    remove(umbilical, at=now - timedelta(hours=2))
    with refused(BadInput, code="still_installed"):
        install(umbilical, suit, at=now - timedelta(hours=3))


def test_nothing_is_part_of_itself():
    hose, pack, suit = make_item("1"), make_item("2"), make_item("3")
    install(hose, pack)
    install(pack, suit)
    for parent in (hose, suit):
        with refused(Refused, code="installed_in_itself"):
            install(suit, parent)


def test_what_is_quarantined_stays_where_it_is_and_can_be_taken_out_but_not_put_in():
    hose, suit = make_item("1"), make_item("2")
    install(hose, suit)
    quarantine_hardware(item_id=hose.pk, actor=activity_lead(), reason="Weeps.")
    assert hose.reread().installed_in_id == suit.pk
    remove(hose)
    with refused(WrongState):
        install(hose, suit)
    assert list(HardwareItem.objects.usable()) == [suit]


def test_what_is_installed_or_holds_something_can_not_be_retired():
    hose, suit, lead = make_item("1"), make_item("2"), activity_lead()
    install(hose, suit)
    for item in (hose, suit):
        with refused(Refused, code="installed"):
            retire_hardware(item_id=item.pk, actor=lead, reason="Old.")
    remove(hose)
    retire_hardware(item_id=suit.pk, actor=lead, reason="Old.")
    with refused(Refused, code="parent_retired"):
        install(hose, suit)


def test_a_move_that_needs_a_reason_is_refused_without_one():
    item, lead = make_item(), activity_lead()
    with refused(BadInput) as caught:
        quarantine_hardware(item_id=item.pk, actor=lead, reason="  ")
    assert set(caught.value.fields) == {"reason"}


def test_an_edit_of_a_stale_version_is_told_what_changed():
    item, lead = make_item(), activity_lead()
    edit_hardware_item(item_id=item.pk, actor=lead, version=1, changes={"location": "Airlock"})
    with refused(EditConflict, code="edit_conflict") as caught:
        edit_hardware_item(item_id=item.pk, actor=lead, version=1, changes={"serial_number": "C"})
    assert caught.value.theirs == {"location": {"before": "Locker 3", "after": "Airlock"}}
    assert caught.value.clashes == ()

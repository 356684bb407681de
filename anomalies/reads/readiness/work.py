"""Items from what was to be done: actions, kit, retests of what was replaced, hardware in service."""

from __future__ import annotations

from collections.abc import Iterator

from django.db.models import Q

from anomalies.models import CorrectiveAction, Fulfilment, Installation, Requirement
from anomalies.people import name_of
from anomalies.reads.readiness.item import MET, OPEN, Item
from anomalies.reads.readiness.scope import Scope
from anomalies.states import ActionState, HardwareState, InstallationState

SETTLED = (ActionState.VERIFIED, ActionState.EFFECTIVE)
MISSING = {
    ActionState.PROPOSED: "It is only proposed: nobody is committed to it.",
    ActionState.COMMITTED: "It isn't done.",
    ActionState.DONE: "It is done, and not verified yet.",
}


def find_actions(scope: Scope) -> Iterator[Item]:
    """Give every action needed before the activity, and the kit that it brings; what was dropped is left out.

    What was needed before an earlier one of its kind, and isn't settled yet, is needed still.
    """
    activity = scope.activity
    earlier = Q(needed_before__kind=activity.kind, needed_before__planned_start__lt=activity.planned_start)
    wanted = Q(needed_before=activity) | (earlier & ~Q(state__in=SETTLED))
    rows = CorrectiveAction.objects.filter(wanted).exclude(state=ActionState.DROPPED)
    for row in rows.select_related("owner", "verifier").order_by("pk"):
        yield _read_action(row)
        if row.kind == CorrectiveAction.Kind.KIT:
            yield _read_kit(row)


def _read_action(row: CorrectiveAction) -> Item:
    key, title = f"action-{row.pk}", str(row)
    if row.state in SETTLED:
        assert row.verified_at is not None  # a constraint of the table
        because = f"Verified by {name_of(row.verifier)}: {row.verification_note}"
        return Item(key, title, MET, because, f"verified {row.verified_at.isoformat()}", row)
    owner = "whoever verifies" if row.state == ActionState.DONE else name_of(row.owner) if row.owner else ""
    return Item(key, title, OPEN, MISSING[ActionState(row.state)], row.state, row, owner, row.due_on)


def _read_kit(row: CorrectiveAction) -> Item:
    key, title = f"kit-{row.pk}", f"{row.kit_item or row.title} is delivered and stowed"
    if row.kit_stowage and row.kit_delivery and row.state not in (ActionState.PROPOSED, ActionState.COMMITTED):
        because = f"{row.kit_quantity or 1} in {row.kit_stowage}, by {row.kit_delivery}."
        return Item(key, title, MET, because, f"{row.kit_stowage} {row.kit_delivery}", row)
    owner = name_of(row.owner) if row.owner else ""
    return Item(key, title, OPEN, "Its delivery and stowage aren't recorded.", "", row, owner, row.due_on)


def find_hardware(scope: Scope) -> Iterator[Item]:
    """Give each hardware item used, with what is installed in it."""
    lead = name_of(scope.activity.lead)
    for item in sorted(scope.items.values(), key=lambda each: (each.type.part_number, each.serial_number)):
        title = f"{item.type.name}, {item}"
        if item.state == HardwareState.IN_SERVICE:
            yield Item(f"hardware-{item.pk}", title, MET, "In service.", item.state, item)
        else:
            because = f"It is {item.get_state_display().lower()}."
            yield Item(f"hardware-{item.pk}", title, OPEN, because, item.state, item, lead)


def find_retests(scope: Scope) -> Iterator[Item]:
    """Give what was installed since the last activity of the kind began: each must have been tested since.

    A replacement's passed retest counts, and a checkout of the item that this activity's requirements ask for.
    """
    if scope.previous is None:
        return
    since = scope.previous.actual_start or scope.previous.planned_start
    rows = Installation.objects.filter(item__in=scope.items, state=InstallationState.INSTALLED, installed_at__gt=since)
    installed = {row.item_id: row for row in rows.select_related("item__type", "parent__type")}
    passed = CorrectiveAction.objects.filter(installed_item__in=installed, retest=CorrectiveAction.Retest.PASSED)
    tested = {row.installed_item_id: row for row in passed.exclude(done_at=None).order_by("done_at")}
    checks = Fulfilment.objects.standing().filter(
        activity=scope.activity, item__in=installed, requirement__sort=Requirement.Sort.CHECKOUT
    )
    checked = {row.item_id: row for row in checks.select_related("requirement")}
    for key, row in sorted(installed.items()):
        title = f"{row.item.type.name}, {row.item}, installed in {row.parent.type.name}, {row.parent}"
        action, check = tested.get(key), checked.get(key)
        if action and action.done_at and action.done_at >= row.installed_at:
            because = f"{action.number}, retest passed: {action.retest_note}"
            yield Item(f"retest-{key}", title, MET, because, f"action {action.pk} {action.done_at.isoformat()}", action)
        elif check and check.done_at >= row.installed_at:
            yield Item(f"retest-{key}", title, MET, f"{check.requirement}: {check.note}", f"check {check.pk}", check)
        else:
            because = f"Installed on {row.installed_at:%Y-%m-%d}; no retest since is recorded."
            yield Item(f"retest-{key}", title, OPEN, because, "", row.item, name_of(scope.activity.lead))

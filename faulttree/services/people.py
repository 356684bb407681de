"""Roles and the people of the demonstration."""

from __future__ import annotations

from dataclasses import dataclass

from django.contrib.auth.models import Group, Permission, User
from django.db import transaction
from django.utils.crypto import get_random_string

from faulttree.permissions import ROLES, SAFETY_ENGINEER, VIEWER

DEMO_PEOPLE = (
    ("engineer", "Ilse", "Marrow", SAFETY_ENGINEER),
    ("viewer", "Tobin", "Vale", VIEWER),
)
LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"  # none that are taken for each other


@dataclass(frozen=True, slots=True)
class DemoUser:
    """Somebody who can log in; `password` is None where one was set before."""

    username: str
    role: str
    password: str | None


def ensure_roles() -> None:
    """Every role is a group that holds its permissions; what else a group was given stays."""
    for role, codes in ROLES.items():
        group, _ = Group.objects.get_or_create(name=role)
        group.permissions.add(*Permission.objects.filter(content_type__app_label="faulttree", codename__in=codes))


@transaction.atomic
def ensure_demo_users(*, password: str = "", fresh: str = "") -> list[DemoUser]:
    """The people of the demonstration are there; who is new gets `password`, else `fresh`, else one made up.

    The password of somebody who was there before is left alone, unless one is given.
    """
    ensure_roles()
    made_up = password or fresh or "-".join(get_random_string(5, LETTERS) for _ in range(3))
    people = []
    for username, first, last, role in DEMO_PEOPLE:
        user, is_new = User.objects.get_or_create(username=username, defaults={"first_name": first, "last_name": last})
        if is_new or password:
            user.set_password(made_up)
            user.save(update_fields=["password"])
        user.groups.add(Group.objects.get(name=role))
        people.append(DemoUser(username, role, made_up if is_new or password else None))
    return people

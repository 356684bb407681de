"""People: who may do something, to choose from in a form or to tell; and how they are called."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.models import User
from django.db.models import Q, QuerySet


def find_people_who_may(*codes: str) -> QuerySet[User]:
    """Return the active people who hold any of these permissions: by a role, apart from one, or as superusers."""
    held = {"content_type__app_label": "anomalies", "codename__in": codes}
    by_role = Q(**{f"groups__permissions__{name}": value for name, value in held.items()})
    apart = Q(**{f"user_permissions__{name}": value for name, value in held.items()})
    return User.objects.filter(by_role | apart | Q(is_superuser=True), is_active=True).distinct()


def name_of(person: Any) -> str:
    """Return how somebody is called on pages."""
    return str(person.get_full_name() or person.username)

"""Who may do something: people to choose from in a form, or to tell."""

from __future__ import annotations

from django.contrib.auth.models import User
from django.db.models import Q, QuerySet


def find_people_who_may(*codes: str) -> QuerySet[User]:
    """Return the active people who hold any of these permissions: by a role, apart from one, or as superusers."""
    held = {"content_type__app_label": "anomalies", "codename__in": codes}
    by_role = Q(**{f"groups__permissions__{name}": value for name, value in held.items()})
    apart = Q(**{f"user_permissions__{name}": value for name, value in held.items()})
    return User.objects.filter(by_role | apart | Q(is_superuser=True), is_active=True).distinct()

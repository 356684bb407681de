"""Roles."""

from __future__ import annotations

from django.contrib.auth.models import Group, Permission

from anomalies.permissions import ROLES


def ensure_roles() -> None:
    """Every role is a group that holds its permissions; what else a group was given stays."""
    for role, codes in ROLES.items():
        group, _ = Group.objects.get_or_create(name=role)
        group.permissions.add(*Permission.objects.filter(content_type__app_label="anomalies", codename__in=codes))

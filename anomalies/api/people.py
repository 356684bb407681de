"""People in the JSON API: enough to name one as lead, owner or member, and no more."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.models import User
from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.generics import ListAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from anomalies.people import find_people_who_may
from anomalies.permissions import ROLES
from config.kit.permissions import require

FOR = {  # what somebody is wanted for -> the permission they need
    "lead an anomaly": "change_anomaly",
    "sit on a board": "change_anomaly",
    "own an action": "add_correctiveaction",
    "verify an action": "verify_correctiveaction",
    "lead an activity": "change_activity",
}


class PersonOut(serializers.ModelSerializer[User]):
    """Somebody with an account."""

    name = serializers.SerializerMethodField()
    roles = serializers.SerializerMethodField()

    class Meta:
        model = User
        fields = ("id", "username", "name", "roles")

    def get_name(self, person: User) -> str:
        """Return how they are called."""
        return person.get_full_name() or person.username

    def get_roles(self, person: User) -> list[str]:
        """Return their roles, by name."""
        return sorted(group.name for group in person.groups.all() if group.name in ROLES)


class PeopleFilters(serializers.Serializer[Any]):
    """Who is listed; what is left out lets all through."""

    username = serializers.CharField(required=False, max_length=150)
    role = serializers.ChoiceField([(role, role.capitalize()) for role in ROLES], required=False)
    may = serializers.ChoiceField([(name, name.capitalize()) for name in FOR], required=False)


class PeopleListView(ListAPIView[User]):
    """People with an open account, by name, for those who may see anomalies."""

    serializer_class = PersonOut

    def get_queryset(self) -> QuerySet[User]:
        """Return whom the filters let through."""
        require(self.request.user, "anomaly.view")
        filters = PeopleFilters(data=self.request.query_params)
        filters.is_valid(raise_exception=True)
        given = dict(filters.validated_data)
        may, role = given.pop("may", None), given.pop("role", None)
        rows = find_people_who_may(FOR[may]) if may else User.objects.filter(is_active=True)
        rows = rows.filter(groups__name=role) if role else rows
        ordered = rows.filter(**given).order_by("last_name", "first_name", "username")
        return ordered.prefetch_related("groups")

    @extend_schema(tags=["people"], parameters=[PeopleFilters])
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """List them."""
        return super().get(request, *args, **kwargs)

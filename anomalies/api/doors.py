"""What every view of the records' JSON API does: who asks, is the shape right, which record, which moves are open."""

from __future__ import annotations

from typing import Any, TypeVar, cast

from django.contrib.auth.models import User
from django.shortcuts import get_object_or_404
from rest_framework import serializers
from rest_framework.request import Request

from anomalies.models import Anomaly
from anomalies.models.base import Record
from anomalies.states import passes_gate
from config.kit.permissions import allows
from config.kit.transitions import Machine

S = TypeVar("S", bound=serializers.BaseSerializer[Any])


def person_of(request: Request) -> User:
    """Return who asks; the API lets in nobody who isn't logged in."""
    return cast(User, request.user)


def check_shape(shape: type[S], request: Request) -> dict[str, Any]:
    """Return what was sent, in the right shape; raises ValidationError that names every field at fault."""
    serializer = shape(data=request.data)
    serializer.is_valid(raise_exception=True)
    return dict(serializer.validated_data)


def find_anomaly(request: Request, number: str) -> Anomaly:
    """Return the anomaly if the person may see it, else answer 404."""
    return get_object_or_404(Anomaly.objects.visible_to(person_of(request)), number=number)


def open_moves(machine: Machine, record: Record, actor: User) -> list[str]:
    """Return the names of the moves that the record's state and the person's permissions allow now."""
    state: str = record.state  # type: ignore[attr-defined]  # every kind with a machine has one
    names = [name for name in machine.names_from(state) if passes_gate(record, name)]
    return [name for name in names if allows(actor, f"{record.KIND}.{name}", record)]


class ReasonIn(serializers.Serializer[Any]):
    """Why."""

    reason = serializers.CharField(max_length=50_000)


class PasswordIn(serializers.Serializer[Any]):
    """A signature: the password again."""

    password = serializers.CharField(max_length=4096, trim_whitespace=False, help_text="Your own, asked for again.")


class SignedIn(PasswordIn):
    """A signature of a record: the password again, and the version that was read."""

    version = serializers.IntegerField(min_value=1, help_text="The version that you read, and sign.")

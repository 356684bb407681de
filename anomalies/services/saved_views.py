"""Writes of saved views; see models/saved_view.py for why they aren't records."""

from __future__ import annotations

from django.contrib.auth.models import User
from django.db import transaction

from anomalies.models import SavedView
from anomalies.services.checks import need_text
from config.kit.errors import BadInput, NotAllowed
from config.kit.permissions import require

MOST_VIEWS = 100
NO_NAME = "Give the view a name."
TOO_LONG = "A name has at most 80 characters."
TAKEN = "You have a view of this name already."
TOO_MANY = f"You have {MOST_VIEWS} views: delete one first."


@transaction.atomic
def save_view(*, actor: User, name: str, query: str, is_shared: bool = False) -> SavedView:
    """The filter is kept under the name; an own view of that name now holds this filter."""
    require(actor, "anomaly.view")
    name = _clean_name(name)
    own = SavedView.objects.filter(owner=actor)
    if own.count() >= MOST_VIEWS and not own.filter(name=name).exists():
        raise BadInput(TOO_MANY, code="too_many", fields={"name": [TOO_MANY]})
    values = {"query": query[:1000], "is_shared": is_shared}
    view, _ = SavedView.objects.update_or_create(owner=actor, name=name, defaults=values)
    return view


@transaction.atomic
def rename_view(*, view_id: int, actor: User, name: str) -> SavedView:
    """The own view has another name."""
    view = _find_own(view_id, actor)
    name = _clean_name(name)
    if SavedView.objects.filter(owner=actor, name=name).exclude(pk=view.pk).exists():
        raise BadInput(TAKEN, code="name_taken", fields={"name": [TAKEN]})
    view.name = name
    view.save(update_fields=["name"])
    return view


@transaction.atomic
def delete_view(*, view_id: int, actor: User) -> None:
    """The own view is gone."""
    _find_own(view_id, actor).delete()


def _find_own(view_id: int, actor: User) -> SavedView:
    view = SavedView.objects.visible_to(actor).get(pk=view_id)
    if view.owner_id != actor.pk:
        raise NotAllowed("This view is somebody else's: save one of your own.")
    return view


def _clean_name(name: str) -> str:
    name = need_text("name", name, NO_NAME)
    if len(name) > 80:
        raise BadInput(TOO_LONG, fields={"name": [TOO_LONG]})
    return name

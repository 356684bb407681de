"""Questions about activities that a form asks."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db.models import Q, QuerySet

from anomalies.models import Activity
from anomalies.states import ActivityState
from config.kit.permissions import Actor

BACK = timedelta(days=400)
AHEAD = timedelta(days=1)


def find_activities_near(actor: Actor, *moments: datetime, also: int | None = None) -> QuerySet[Activity]:
    """Return what something seen at these times may belong to, the newest first; and the one of key `also`."""
    near = Q(state=ActivityState.UNDER_WAY) | Q(pk=also)
    for at in moments:
        near |= Q(planned_start__gte=at - BACK, planned_start__lte=at + AHEAD) & ~Q(state=ActivityState.SCRUBBED)
    return Activity.objects.visible_to(actor).filter(near).order_by("-planned_start", "-pk")


def find_current_activity(actor: Actor, at: datetime) -> Activity | None:
    """Return the activity that is under way, or the latest that has begun by then; None if there's none."""
    recent = find_activities_near(actor, at)
    under_way = recent.filter(state=ActivityState.UNDER_WAY).first()
    return under_way or recent.filter(actual_start__isnull=False, actual_start__lte=at).first()

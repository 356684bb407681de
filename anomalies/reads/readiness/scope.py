"""What an activity reaches: what came before it, its hardware with all that is installed in it, its procedures."""

from __future__ import annotations

from dataclasses import dataclass

from anomalies.models import Activity, HardwareItem, ProcedureUse
from anomalies.states import ActivityState

PAST = (ActivityState.COMPLETED, ActivityState.ENDED_EARLY)


@dataclass(frozen=True, slots=True)
class Scope:
    """An activity, the last of its kind before it, and what it uses.

    items           key -> hardware item: those on its list, and what is installed in them
    alike           keys of earlier activities with a task of the same words
    """

    activity: Activity
    previous: Activity | None
    items: dict[int, HardwareItem]
    procedures: dict[int, str]
    alike: frozenset[int]

    @property
    def types(self) -> dict[int, str]:
        """Key -> name of each type of hardware used."""
        return {item.type_id: item.type.name for item in self.items.values()}


def read_scope(activity: Activity) -> Scope:
    """Return what the activity reaches, as the records have it now."""
    uses = ProcedureUse.objects.filter(activity=activity, active=True).select_related("procedure")
    return Scope(
        activity,
        find_previous(activity),
        _find_items(activity),
        {use.procedure_id: str(use.procedure) for use in uses},
        _find_alike(activity),
    )


def find_previous(activity: Activity) -> Activity | None:
    """Return the last activity of the same kind that was held before this one; None if there's none."""
    earlier = Activity.objects.filter(kind=activity.kind, state__in=PAST, planned_start__lt=activity.planned_start)
    return earlier.exclude(pk=activity.pk).order_by("-planned_start", "-pk").first()


def _find_items(activity: Activity) -> dict[int, HardwareItem]:
    """Go down what is installed, level by level: a query each."""
    rows = HardwareItem.objects.select_related("type")
    found: dict[int, HardwareItem] = {}
    level = list(rows.filter(activity_uses__activity=activity, activity_uses__active=True))
    while level:
        found |= {item.pk: item for item in level}
        inside = rows.filter(installed_in__in=[item.pk for item in level])
        level = [item for item in inside if item.pk not in found]
    return found


def _find_alike(activity: Activity) -> frozenset[int]:
    tasks = {_plain(task) for task in activity.tasks}
    if not tasks:
        return frozenset()
    earlier = Activity.objects.filter(planned_start__lt=activity.planned_start).exclude(pk=activity.pk)
    rows = earlier.values_list("pk", "tasks")
    return frozenset(pk for pk, theirs in rows if tasks & {_plain(task) for task in theirs})


def _plain(task: str) -> str:
    return " ".join(task.casefold().split())

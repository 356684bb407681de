"""Where every page of the demonstration is, and who may see it:  python -m tests.browser.demo_places PASSWORD

Adds what the demonstration has no example of, gives everybody the password, and prints JSON: `pages` by name of their
route, `moves` by kind and name, each a person and an address; `missing` are moves that are offered to nobody.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from typing import Any

ENGINEER, RECORDER, OWNER = "engineer", "ketter", "thorne"


def find_pages(secret: str) -> dict[str, tuple[str, str]]:
    """Return a page of each route; `secret` opens a shared brief."""
    from django.contrib.auth.models import User

    from anomalies.models import (
        Activity,
        Anomaly,
        BoardMeeting,
        CorrectiveAction,
        Evidence,
        FailureMode,
        HardwareItem,
        Investigation,
        Lesson,
        ParameterUpdate,
        ProcedureRevision,
        ReadinessSnapshot,
    )
    from faulttree.models import Run, SharedItem, Tree, Variant
    from faulttree.services.drafts import open_draft

    anomaly = Anomaly.objects.get(number="A-2026-006")
    draft = Anomaly.objects.filter(state="draft").select_related("recorded_by").first()
    tree, run = Tree.objects.get(name="suit-cooling"), Run.objects.order_by("pk").first()
    variant = Variant.objects.order_by("pk").first()
    changed = ProcedureRevision.objects.filter(number=2).select_related("procedure").first()
    card = ProcedureRevision.objects.filter(procedure__kind="card").select_related("procedure").first()
    activity = Activity.objects.order_by("-planned_start").first()
    item = HardwareItem.objects.filter(state="quarantined").first()
    series = Evidence.objects.filter(kind="telemetry").select_related("anomaly").first()
    for found in (draft, run, variant, changed, card, activity, item, series):
        assert found is not None
    dossier, telemetry = anomaly.get_absolute_url(), series.get_absolute_url()
    action = CorrectiveAction.objects.filter(anomaly=anomaly).first()
    investigation = Investigation.objects.order_by("pk").first()
    event = investigation.bearings.order_by("pk").first().event
    mode, proposal = FailureMode.objects.get(code="QDC-WEEP"), ParameterUpdate.objects.first()
    gloves = FailureMode.objects.get(code="GLV-CUT").occurrences.first().anomaly
    watched = gloves.actions.exclude(verified_at=None).first()
    addresses = {
        "now": "/",
        "log": "/log/",
        "dossier": dossier,
        "dossier_history": f"{dossier}history/",
        "evidence": telemetry,
        "finding": anomaly.findings.get(position=2).get_absolute_url(),
        "cause": anomaly.causes.get(position=2).get_absolute_url(),
        "investigation": investigation.get_absolute_url(),
        "benefit": f"{dossier}benefit/?within=1&cost=10",
        "explain_benefit": f"{dossier}benefit/explain/together/",
        "explain": f"{investigation.get_absolute_url()}explain/posterior/?of={event}",
        "lessons": "/lessons/?show=all",
        "lesson": Lesson.objects.filter(state="issued").earliest("pk").get_absolute_url(),
        "learning": "/learning/",
        "failure_mode": mode.get_absolute_url(),
        "explain_mode": f"{mode.get_absolute_url()}explain/posterior/",
        "update": proposal.get_absolute_url(),
        "joint_failures": "/learning/common-cause/?counts=20,5,1",
        "through_tree": f"/learning/through-a-tree/?tree={tree.pk}&count=1&demands=500&mission_time=8",
        "explain_action": f"{watched.get_absolute_url()}explain/needed/?of=GLV-CUT",
        "trends": "/trends/?split=system",
        "trend_records": "/trends/records/?what=causes&of=root",
        "explain_trend": "/trends/explain/beta/",
        "report": "/log/new/",
        "import_past": "/log/import/",
        "actions": "/actions/?show=all",
        "action": action.get_absolute_url(),
        "activities": "/activities/?show=all",
        "activity": activity.get_absolute_url(),
        "meetings": "/meetings/",
        "meeting": BoardMeeting.objects.filter(state="held").earliest("pk").get_absolute_url(),
        "readiness_list": "/readiness/",
        "requirements": "/readiness/requirements/",
        "readiness": f"/readiness/{Activity.objects.filter(title='Sortie 7').earliest('pk').pk}/",
        "brief": f"/readiness/{Activity.objects.filter(title='Sortie 7').earliest('pk').pk}/brief/",
        "brief_shares": f"/readiness/{Activity.objects.filter(title='Sortie 7').earliest('pk').pk}/brief/shares/",
        "shared_brief": f"/shared/brief/{secret}/",
        "readiness_snapshot": ReadinessSnapshot.objects.latest("pk").get_absolute_url(),
        "cards": f"{card.effective_from.get_absolute_url()}cards/",
        "hardware": "/hardware/",
        "item": item.get_absolute_url(),
        "hardware_type": item.type.get_absolute_url(),
        "procedures": "/procedures/",
        "procedure_add": "/procedures/new/",
        "procedure": changed.procedure.get_absolute_url(),
        "revision": changed.get_absolute_url(),
        "card": f"{card.get_absolute_url()}card/",
        "search": "/search/?words=coolant",
        "notices": "/notices/",
        "tokens": "/tokens/",
        "calendar": "/calendar/",
        "trees": "/trees/",
        "import": "/trees/import/",
        "tree": tree.get_absolute_url(),
        "revise": f"{tree.get_absolute_url()}revise/",
        "tree revision": f"{tree.get_absolute_url()}revisions/1/",
        "variants": variant.get_absolute_url(),
        "variant_add": f"{variant.get_absolute_url()}add/",
        "variant_change": f"/variants/{variant.pk}/change/",
        "changes": f"{tree.get_absolute_url()}revisions/1/changes/",
        "library": "/library/",
        "shared_new": "/library/new/",
        "shared": SharedItem.objects.get(name="rate-valve").get_absolute_url(),
        "data_sets": "/library/data-sets/",
        "run": f"/runs/{run.pk}/",
        "new_tree": "/trees/new/",
        "bench": open_draft(actor=User.objects.get(username=ENGINEER), tree_id=tree.pk).get_absolute_url(),
    }
    people = {"report": RECORDER, "procedure_add": OWNER}
    pages = {name: (people.get(name, ENGINEER), path) for name, path in addresses.items()}
    return pages | {"draft": (draft.recorded_by.username, f"/log/draft/{draft.pk}/")}


def find_new() -> dict[str, tuple[str, str]]:
    """Return the page of each form that makes a record."""
    from anomalies.web.register import NEW
    from config.kit.permissions import allows

    found = {}
    for kind, page in NEW.items():
        who = next(person for person in people() if allows(person, page.rule))
        found[f"new {kind}"] = (who.username, f"/new/{kind}/")
    return found


def find_moves() -> tuple[dict[str, tuple[str, str]], list[str]]:
    """Return the page of each form that is offered to somebody, and the names of the others."""
    from anomalies.web.offers import find_offers
    from anomalies.web.register import PAGES

    left = {f"{kind} {name}" for kind, name in PAGES}
    found: dict[str, tuple[str, str]] = {}
    for person, record in pairs():
        wanted = {name for name in left if name.split()[0] == record.KIND}
        for offer in find_offers(person, record) if wanted else ():
            name = f"{record.KIND} {offer.name}"
            if name in left:
                left.remove(name)
                found[name] = (person.username, offer.url + find_step(record, offer.name))
    return found, sorted(left)


def find_step(record: Any, move: str) -> str:
    """Return the parameter that names a step or its notice, for the forms that change one."""
    _, _, thing = move.rpartition("-")
    if record.KIND != "procedure_revision" or thing not in ("step", "notice") or move == "add-step":
        return ""
    step = record.read_steps()[0]
    at_notice = thing == "notice" and move != "add-notice"
    return f"?step={step.notices[0].key if at_notice else step.key}"


def add_the_rest(password: str) -> str:
    """Bring records into the states that the story of the demonstration leaves out; returns what opens a brief."""
    from anomalies.models import Activity
    from anomalies.services.activities import start_activity
    from anomalies.services.lessons import retire_lesson
    from anomalies.services.requirements import retire_requirement
    from anomalies.services.revision_steps import insert_revision_notice
    from anomalies.services.ties import resolve_constraint
    from anomalies.services.unexplained import accept_unexplained
    from tests.anomalies import (
        actions,
        calendars,
        effects,
        fault_trees,
        lessons,
        meetings,
        procedures,
        readiness,
        tokens,
    )
    from tests.anomalies import people as staff

    draft = procedures.make_drafted(None, "Push until the collar clicks.", "Pull by hand.")
    step, given = draft.read_steps()[0].key, {"revision_id": draft.pk, "actor": procedures.writer()}
    insert_revision_notice(**given, version=draft.version, step_key=step, kind="warning", text="It bursts.")
    procedures.make_approved()
    effects.make_effect(actions.make_verified())
    tokens.make(staff.viewer())
    calendars.make(staff.viewer())
    readiness.make_signed()
    meetings.make_decision()
    readiness.answer(readiness.make_review(), "condition", "With pump B.")
    retire_lesson(lesson_id=lessons.make_lesson().pk, actor=staff.board_member(), reason="Not any more.")
    lessons.make_lesson()
    dropped = readiness.make_requirement(statement="Rehearse the return")
    retire_requirement(requirement_id=dropped.pk, actor=staff.activity_lead(), reason="Trained otherwise.")
    start_activity(activity_id=staff.make_activity().pk, actor=staff.activity_lead())
    anomaly, engineer = staff.make_open(title="Never seen again"), staff.safety_engineer()
    constraint = staff.make_constraint(anomaly)
    resolve_constraint(constraint_id=constraint.pk, actor=engineer, resolution="Checked.")
    signed = {"version": anomaly.reread().version, "proof": procedures.prove(engineer)}
    accept_unexplained(anomaly_id=anomaly.pk, actor=engineer, rationale="Nothing more can be learnt.", **signed)
    concluded = fault_trees.judge_all(fault_trees.make_investigation())
    fault_trees.conclude(concluded)
    fault_trees.revise(fault_trees.make_investigation())
    _, secret = readiness.make_share(Activity.objects.filter(title="Sortie 7").earliest("pk"))
    for person in people():
        person.set_password(password)
        person.save()
    return secret


def people() -> list[Any]:
    """Return everybody who can log in."""
    from django.contrib.auth.models import User

    return list(User.objects.filter(is_active=True).order_by("pk"))


def pairs() -> Iterator[tuple[Any, Any]]:
    """Go through all people with all records that each may see."""
    from anomalies.models.base import record_models

    for person in people():
        for model in record_models():
            rows: Any = model._default_manager.all()
            if hasattr(rows, "visible_to"):
                yield from ((person, record) for record in rows.visible_to(person).order_by("pk"))


def main() -> None:
    """Print it all."""
    import anomalies.forms  # noqa: F401  # enters the forms

    secret = add_the_rest(sys.argv[1])
    moves, missing = find_moves()
    print(json.dumps({"pages": find_pages(secret) | find_new(), "moves": moves, "missing": missing}))


if __name__ == "__main__":
    import django

    django.setup()
    main()

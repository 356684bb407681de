"""People and trees for tests, made with the services that make them in earnest."""

from __future__ import annotations

from django.contrib.auth.models import Group, User

from faulttree.bridge import Request
from faulttree.models import Run, TreeRevision
from faulttree.permissions import SAFETY_ENGINEER, VIEWER
from faulttree.services.execution import execute_run
from faulttree.services.people import ensure_roles
from faulttree.services.runs import request_run
from faulttree.services.trees import import_tree

PUMPS = """<?xml version="1.0"?>
<opsa-mef>
  <define-fault-tree name="pumps"><label>No flow</label>
    <define-gate name="no-flow"><label>Nothing flows</label>
      <or><gate name="both"/><basic-event name="valve"/></or></define-gate>
    <define-gate name="both"><and><basic-event name="pump-1"/><basic-event name="pump-2"/></and></define-gate>
    <define-basic-event name="valve"><label>Valve stuck</label><float value="0.01"/></define-basic-event>
    <define-basic-event name="pump-1"><float value="0.1"/></define-basic-event>
    <define-basic-event name="pump-2"><float value="0.2"/></define-basic-event>
  </define-fault-tree>
</opsa-mef>
"""
PUMPS_PROBABILITY = 1 - 0.99 * (1 - 0.1 * 0.2)

TIMED = PUMPS.replace('"pumps"', '"timed"').replace(
    '<float value="0.1"/>', '<exponential><float value="1e-3"/><system-mission-time/></exponential>'
)
TWO_TOPS = PUMPS.replace('"pumps"', '"two-tops"').replace(
    "<define-basic-event",
    '<define-gate name="other"><and><basic-event name="valve"/><basic-event name="pump-1"/></and></define-gate>'
    "<define-basic-event",
    1,
)


def make_engineer(username: str = "ada") -> User:
    """A safety engineer."""
    return _make(username, SAFETY_ENGINEER)


def make_viewer(username: str = "vic") -> User:
    """Somebody who may read."""
    return _make(username, VIEWER)


def make_stranger(username: str = "sam") -> User:
    """Somebody who can log in and has no role."""
    return User.objects.create_user(username, password="a-long-password")


def _make(username: str, role: str) -> User:
    ensure_roles()
    user = make_stranger(username)
    user.groups.add(Group.objects.get(name=role))
    return User.objects.get(pk=user.pk)  # without cached permissions


def make_revision(engineer: User, source: str = PUMPS) -> TreeRevision:
    """A tree with one revision."""
    return import_tree(actor=engineer, source=source.encode(), file_name="pumps.xml", note="First.")


def make_run(engineer: User, revision: TreeRevision, **request: object) -> Run:
    """A run that waits."""
    return request_run(revision_id=revision.pk, actor=engineer, request=Request(**request))


def make_done_run(engineer: User, revision: TreeRevision, **request: object) -> Run:
    """A run that a worker has computed."""
    run = make_run(engineer, revision, **request)
    execute_run(run_id=run.pk)
    run.refresh_from_db()
    return run

"""Two people edit the same warning."""

from __future__ import annotations

import pytest

from anomalies.services.revision_steps import change_revision_notice, change_revision_step
from tests.anomalies.procedures import make_drafted, writer
from tests.anomalies.views.test_procedures import send
from tests.anomalies.web.pages import log_in

pytestmark = pytest.mark.django_db


def make_changed_warning(client):
    """A warning that somebody changed after the version that is returned."""
    revision = make_drafted(None, "Push.")
    (push,) = revision.read_steps()
    send(client, revision, "add-notice", version=revision.version, step=push.key, kind="caution", text="Cold.")
    key = revision.reread().read_steps()[0].notices[0].key
    seen = revision.version + 1
    change_revision_notice(
        revision_id=revision.pk, actor=writer(), version=seen, key=key, kind="warning", text="It can burn you."
    )
    return revision, key, seen


def test_the_second_is_shown_what_the_first_made_of_the_warning():
    client = log_in(writer())
    revision, key, seen = make_changed_warning(client)
    status, page = send(client, revision, "change-notice", version=seen, step=key, kind="caution", text="Icy.")
    assert status == 409
    assert "Icy." in page
    assert "It can burn you." in page
    assert "You both changed" in page
    assert '<option value="warning" selected>' in page


def test_the_second_does_not_remove_a_warning_that_was_put_otherwise_without_being_told():
    client = log_in(writer())
    revision, key, seen = make_changed_warning(client)
    status, page = send(client, revision, "remove-notice", version=seen, step=key)
    assert status == 409
    assert "It can burn you." in page


def test_a_new_warning_is_not_compared_with_what_the_step_says():
    client = log_in(writer())
    revision = make_drafted(None, "Push.")
    (push,) = revision.read_steps()
    seen = revision.version
    change_revision_step(
        revision_id=revision.pk, actor=writer(), version=seen, key=push.key, changes={"text": "Push twice."}
    )
    sent = {"version": seen, "step": push.key, "kind": "caution", "text": "Cold."}
    status, page = send(client, revision, "add-notice", **sent)
    assert status == 409
    assert "Cold." in page
    assert "You both changed" not in page
    assert send(client, revision, "add-notice", **sent | {"version": seen + 1})[0] == 302

"""A large uncertainty run is divided; what is done stays done; a part that fails fails the run with a sentence."""

from __future__ import annotations

from datetime import timedelta
from types import SimpleNamespace

import pytest
from django.utils import timezone

from faulttree.models import Run, RunPart
from faulttree.services import parts
from faulttree.services.execution import claim_run, execute_run
from faulttree.services.parts import claim_part, help_run, plan_parts
from tests.faulttree.people import PUMPS, make_engineer, make_revision, make_run

pytestmark = pytest.mark.django_db

UNCERTAIN = PUMPS.replace(
    '<float value="0.1"/>', '<uniform-deviate><float value="0.05"/><float value="0.15"/></uniform-deviate>'
)


@pytest.fixture
def run(settings, monkeypatch):
    settings.RUN_PARTS = 3
    monkeypatch.setattr(parts, "enqueue_parts", lambda run_id, helpers: None)
    engineer = make_engineer()
    return make_run(engineer, make_revision(engineer, UNCERTAIN), samples=20_000)


def test_the_answer_is_that_of_one_piece(run, settings):
    execute_run(run_id=run.pk)
    divided = Run.objects.get(pk=run.pk)
    assert divided.state == "done"
    assert not RunPart.objects.exists()
    settings.RUN_PARTS = 1
    whole = make_run(run.requested_by, run.revision, samples=20_000, list_count=3)
    execute_run(run_id=whole.pk)
    assert Run.objects.get(pk=whole.pk).result["uncertainty"] == divided.result["uncertainty"]


def test_helpers_compute_parts_and_the_one_who_has_the_run_finds_them_done(run):
    assert help_run(run_id=run.pk) == 0  # nobody has the run yet
    claim_run(run_id=run.pk)
    plan_parts(run.pk, [(0, 10_000), (10_000, 20_000)])
    assert help_run(run_id=run.pk) == 2
    assert set(run.parts.values_list("state", flat=True)) == {"done"}
    values = [bytes(part.values) for part in run.parts.all()]
    plan_parts(run.pk, [(0, 10_000), (10_000, 20_000)])
    assert [bytes(part.values) for part in run.parts.all()] == values
    plan_parts(run.pk, [(0, 20_000)])
    assert run.parts.get().values is None


def test_a_part_whose_worker_is_silent_is_given_back_and_failed_the_third_time(run):
    claim_run(run_id=run.pk)
    plan_parts(run.pk, [(0, 20_000)])
    for state in ("queued", "queued", "failed"):
        part = claim_part(run.pk)
        parts._give_back_lost(run)
        assert run.parts.get().state == "running"
        RunPart.objects.filter(pk=part.pk).update(heartbeat_at=timezone.now() - timedelta(seconds=61))
        parts._give_back_lost(run)
        assert run.parts.get().state == state
    with pytest.raises(parts.Stopped, match="ended 3 times"):
        parts._take_part(run, None, None, None, SimpleNamespace(progress=print, is_cancelled=lambda: False))


def test_a_part_that_can_not_be_computed_fails_the_run_with_its_sentence(run, monkeypatch):
    def stop(*args, **kwargs):
        raise MemoryError

    monkeypatch.setattr(parts, "sample_part", stop)
    execute_run(run_id=run.pk)
    failed = Run.objects.get(pk=run.pk)
    assert (failed.state, failed.error["code"]) == ("failed", "part_failed")
    assert "limit of memory" in failed.error["message"]


def test_a_cancelled_run_lets_its_helpers_go(run):
    claim_run(run_id=run.pk)
    plan_parts(run.pk, [(0, 20_000)])
    Run.objects.filter(pk=run.pk).update(state="cancelled")
    assert claim_part(run.pk) is None

"""The demonstration."""

from __future__ import annotations

import io

import pytest
from django.contrib.auth import authenticate
from django.contrib.auth.models import User
from django.core.management import call_command

from faulttree.models import Run, Tree
from faulttree.services.demo import load_demo
from faulttree.services.execution import execute_run
from faulttree.services.people import ensure_demo_users

pytestmark = pytest.mark.django_db


def test_every_tree_of_the_demonstration_is_computed_exactly():
    _, added = load_demo()
    assert len(added) == Run.objects.count() >= 3
    for run in Run.objects.all():
        execute_run(run_id=run.pk)
        run.refresh_from_db()
        assert (run.state, run.headline["method"]) == ("done", "exact"), run.error


def test_loading_it_twice_adds_nothing():
    load_demo()
    counts = User.objects.count(), Tree.objects.count(), Run.objects.count()
    people, added = load_demo()
    assert (User.objects.count(), Tree.objects.count(), Run.objects.count()) == counts
    assert added == []
    assert [person.password for person in people] == [None, None]


def test_a_password_is_made_up_and_works():
    engineer, _ = ensure_demo_users()
    assert len(engineer.password) >= 12
    assert authenticate(username=engineer.username, password=engineer.password)


def test_the_command_takes_the_password_from_the_environment(monkeypatch):
    monkeypatch.setenv("DEMO_PASSWORD", "correct-horse-battery")
    out = io.StringIO()
    call_command("load_demo", stdout=out)
    assert "correct-horse-battery" in out.getvalue()
    assert authenticate(username="engineer", password="correct-horse-battery")
    assert User.objects.get(username="viewer").has_perm("faulttree.view_tree")
    assert not User.objects.get(username="viewer").has_perm("faulttree.add_tree")

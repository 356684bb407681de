"""The API keeps to its own schema, whoever calls and whatever is sent."""

from __future__ import annotations

import time
from collections.abc import Iterator

import pytest
from django.db import transaction
from django.test import override_settings

from anomalies.permissions import ROLES
from tests.anomalies.api.calls import Tally, call_all, make_schema
from tests.anomalies.api.world import World

pytestmark = [pytest.mark.django_db, pytest.mark.slow]


@pytest.fixture(scope="module")
def tally(django_db_setup, django_db_blocker, tmp_path_factory) -> Iterator[Tally]:
    """The answers to some two thousand calls, made once for all tests of this file."""
    folder = str(tmp_path_factory.mktemp("evidence"))
    with django_db_blocker.unblock(), override_settings(EVIDENCE_DIR=folder), transaction.atomic():
        began = time.perf_counter()
        made = call_all(World(), make_schema())
        calls = sum(sum(codes.values()) for codes in made.answers.values())
        print(f"\n{calls} calls of {len(made.answers)} operations in {time.perf_counter() - began:.0f} s")
        yield made
        transaction.set_rollback(True)


def writing(tally: Tally) -> list[str]:
    return [label for label in tally.answers if not label.startswith("GET ")]


def test_every_answer_is_one_that_the_schema_allows(tally):
    assert "\n\n".join(f"{key}\n{said}" for key, said in tally.faults.items()) == ""


def test_every_operation_was_called(tally):
    operations = {f"{method.upper()} {path}" for path, methods in make_schema()["paths"].items() for method in methods}
    assert set(tally.answers) == operations


def test_most_operations_went_well_at_least_once(tally):
    reading = [label for label in tally.answers if label.startswith("GET ")]
    read, written = (tally.share(labels, lambda code: code < 300) for labels in (reading, writing(tally)))
    never = [label for label in tally.answers if not any(code < 300 for code in tally.answers[label])]
    print(f"\nwent well at least once: {read:.0%} of reads, {written:.0%} of writes; never:", *never, sep="\n  ")
    assert read == 1.0
    assert written > 0.8


def test_what_writes_was_refused_in_every_way(tally):
    labels = writing(tally)
    shares = {code: tally.share(labels, lambda each, code=code: each == code) for code in (400, 401, 403, 404, 409)}
    print("\nwrites refused at least once:", {code: f"{share:.0%}" for code, share in shares.items()})
    assert tally.share(labels, lambda code: 400 <= code < 500) == 1.0
    assert min(shares.values()) > 0.1


def test_all_roles_called_and_nobody_was_let_in_without_a_token(tally):
    assert set(tally.roles) == {*ROLES, "stranger", "nobody"}
    assert all(any(code < 300 for code in tally.roles[role]) for role in ROLES)
    assert set(tally.roles["nobody"]) <= {401, 404}

"""Calls of every operation of the API, made up from its own schema; each answer is held to that schema.

Each call starts from the same records, for it is rolled back afterwards; and the same calls are made each time.
"""

from __future__ import annotations

import logging
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from copy import deepcopy
from dataclasses import dataclass, field
from typing import Any
from zlib import crc32

import schemathesis
from django.core.signals import request_finished, request_started
from django.core.wsgi import get_wsgi_application
from django.db import close_old_connections, transaction
from drf_spectacular.generators import SchemaGenerator
from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st
from schemathesis import GenerationMode
from schemathesis.checks import not_a_server_error
from schemathesis.core.failures import FailureGroup
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from tests.anomalies.api.values import find_values
from tests.anomalies.api.world import Person, Target, World

API = "/api/v1/"
CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
]
GOOD, BAD = 8, 2
"""Calls of one operation with data that the schema allows, and with data that it doesn't."""
READS = 4
"""Calls of one that only reads."""


@dataclass
class Tally:
    """How often each operation, and each role, was answered with which status; and what broke the contract."""

    answers: dict[str, Counter[int]] = field(default_factory=lambda: defaultdict(Counter))
    roles: dict[str, Counter[int]] = field(default_factory=lambda: defaultdict(Counter))
    faults: dict[str, str] = field(default_factory=dict)

    def share(self, labels: list[str], is_meant: Callable[[int], bool]) -> float:
        """Return the share of the operations that answered so at least once."""
        return sum(any(is_meant(code) for code in self.answers[label]) for label in labels) / len(labels)


def make_schema() -> dict[str, Any]:
    """The schema as it's served."""
    raw: dict[str, Any] = SchemaGenerator(api_version="1").get_schema(request=None, public=True)
    return raw


def load_operations(raw: dict[str, Any]) -> Iterator[Any]:
    """Yield the operations, stricter than the schema: an answer may hold nothing that isn't in it."""
    strict = deepcopy(raw)
    for component in strict["components"]["schemas"].values():
        if "properties" in component:
            component["additionalProperties"] = False
    schema = schemathesis.openapi.from_dict(strict)
    schema.app = get_wsgi_application()
    for result in schema.get_all_operations():
        yield result.ok()


@contextmanager
def one_quiet_connection() -> Iterator[None]:
    """Keep the connection from call to call, and with it what isn't committed; a server would make a new one.

    Refusals are what is wanted here: only errors are logged.
    """
    for signal in (request_started, request_finished):
        signal.disconnect(close_old_connections)
    logging.disable(logging.WARNING)
    try:
        yield
    finally:
        logging.disable(logging.NOTSET)
        for signal in (request_started, request_finished):
            signal.connect(close_old_connections)


def call_all(world: World, raw: dict[str, Any]) -> Tally:
    """Call every operation with good and with bad data, and as nobody."""
    tally = Tally()
    with one_quiet_connection():
        for operation in load_operations(raw):
            call_well(world, operation, tally, READS if operation.method == "get" else GOOD)
            call_badly(world, operation, tally, BAD)
            call_as_nobody(world, operation, tally)
    return tally


def steady(examples: int) -> settings:
    """The same examples each time, and none written down."""
    return settings(
        max_examples=examples,
        derandomize=True,
        database=None,
        deadline=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )


def call_well(world: World, operation: Any, tally: Tally, examples: int) -> None:
    """Call it with data of the right shape, mostly as somebody who may call it now for this record."""
    path = operation.path.removeprefix(API)
    pairs = world.open_pairs(operation.method, path)
    targets = world.targets(path) or [None]

    @seed(crc32(operation.label.encode()))  # or each operation would be given the same people and records
    @steady(examples)
    @given(case=operation.as_strategy(GenerationMode.POSITIVE), data=st.data())
    def run(case: Any, data: Any) -> None:
        if data.draw(st.integers(0, 4)):
            person, target = data.draw(st.sampled_from(pairs))
        else:
            person, target = data.draw(st.sampled_from(world.everybody)), data.draw(st.sampled_from(targets))
        name_record(case, target)
        if data.draw(st.booleans()):
            leave_out_what_may_be(case)
        fill_fields(world, path, case, target, data)
        send(case, person, tally)

    run()


def call_badly(world: World, operation: Any, tally: Tally, examples: int) -> None:
    """Call it with data that the schema forbids, half of the time about a real record."""
    pairs = world.open_pairs(operation.method, operation.path.removeprefix(API))

    @seed(crc32(operation.label.encode()))
    @steady(examples)
    @given(case=operation.as_strategy(GenerationMode.NEGATIVE), data=st.data())
    def run(case: Any, data: Any) -> None:
        person, target = data.draw(st.sampled_from(pairs))
        if data.draw(st.booleans()):
            name_record(case, target)
        send(case, person, tally)

    run()


def call_as_nobody(world: World, operation: Any, tally: Tally) -> None:
    """Call it about a real record without a token."""
    targets = world.targets(operation.path.removeprefix(API))
    case = operation.Case(path_parameters=dict(targets[0].names) if targets else {})
    send(case, Person("nobody"), tally)


def name_record(case: Any, target: Target | None) -> None:
    """Let the address name the record."""
    if target:
        case.path_parameters.update(target.names)


def leave_out_what_may_be(case: Any) -> None:
    """Leave only those fields in the body that the schema asks for: many others go with one kind of record alone."""
    if isinstance(case.body, dict):
        required = find_required_fields(case.operation)
        case.body = {name: value for name, value in case.body.items() if name in required}


def find_required_fields(operation: Any) -> set[str]:
    """Return the fields that the body of a call can't do without."""
    raw = operation.schema.raw_schema
    (media, *_) = raw["paths"][operation.path][operation.method]["requestBody"]["content"].values()
    component = media["schema"]["$ref"].rpartition("/")[2]
    return set(raw["components"]["schemas"][component].get("required", ()))


def fill_fields(world: World, path: str, case: Any, target: Target | None, data: Any) -> None:
    """Put what can be meant into most of the fields that mean something."""
    for fields in (case.query, case.body):
        for name in list(fields) if isinstance(fields, dict) else ():
            values = find_values(world, path, name, target)
            if not values or not data.draw(st.integers(0, 9)):
                continue
            one = st.sampled_from(values)
            several = st.lists(one, min_size=1, max_size=3, unique=True)
            fields[name] = data.draw(several if name.endswith("_ids") else one)


def send(case: Any, person: Person, tally: Tally) -> None:
    """Make the call, hold the answer to the schema, and take back what was written."""
    label = case.operation.label
    with transaction.atomic():
        answer = case.call(headers=person.headers)
        transaction.set_rollback(True)
    tally.answers[label][answer.status_code] += 1
    tally.roles[person.role][answer.status_code] += 1
    try:
        case.validate_response(answer, checks=CHECKS)
    except FailureGroup as group:
        for fault in group.exceptions:
            key = f"{label} as {person.role}: {answer.status_code} {fault.title}"
            tally.faults.setdefault(key, f"{fault}\n{answer.text[:400]}\n{case.as_curl_command()[:800]}")

"""The schema of the API says all that there is to say: what is sent, what is answered, and how it is refused."""

from __future__ import annotations

from collections import Counter

import pytest
from django.core.management import call_command

from tests.anomalies.api.calls import make_schema

REFUSAL, CONFLICT = "#/components/schemas/RefusalOut", "#/components/schemas/ConflictOut"


@pytest.fixture(scope="module")
def schema():
    return make_schema()


@pytest.fixture(scope="module")
def operations(schema):
    return [(method, path, each) for path, methods in schema["paths"].items() for method, each in methods.items()]


def test_it_is_made_without_a_warning(tmp_path):
    call_command("spectacular", "--fail-on-warn", "--validate", "--file", str(tmp_path / "schema.yml"))


def test_each_operation_has_a_name_of_its_own(operations):
    assert [
        name for name, times in Counter(each["operationId"] for _, _, each in operations).items() if times > 1
    ] == []


def test_each_operation_says_what_it_does(operations):
    silent = [path for _, path, each in operations if not each.get("description") or not each.get("summary")]
    assert silent == []


def expected_refusals(method, path, operation):
    """The refusals that a call can meet with by its method and its parameters."""
    places = {parameter["in"] for parameter in operation.get("parameters", ())}
    codes = {"401", "403", "406"}
    codes |= {"400", "409", "413", "415"} if method != "get" else set()
    codes |= {"400"} if "query" in places else set()
    return codes | ({"404"} if "{" in path else set())


def test_each_operation_names_the_refusals_it_can_give(operations):
    lacking = {
        f"{method} {path}": missing
        for method, path, each in operations
        if (missing := expected_refusals(method, path, each) - set(each["responses"]))
    }
    assert lacking == {}


def test_every_refusal_has_the_one_shape(operations):
    shapes = {
        answer["content"]["application/json"]["schema"]["$ref"]
        for _, _, each in operations
        for code, answer in each["responses"].items()
        if code >= "400"
    }
    assert shapes == {REFUSAL, CONFLICT}


def test_every_operation_says_what_it_answers_when_all_goes_well(operations):
    assert [path for _, path, each in operations if not any(code.startswith("2") for code in each["responses"])] == []


def test_a_page_past_the_last_one_is_named_where_there_are_pages(operations):
    paged = [
        each
        for _, _, each in operations
        if any(parameter["name"] == "page" for parameter in each.get("parameters", ()))
    ]
    assert len(paged) > 10
    assert all("404" in each["responses"] for each in paged)


def body_of(schema, path, method):
    """The component that a call sends."""
    content = schema["paths"][f"/api/v1/{path}"][method]["requestBody"]["content"]
    (media,) = content.values()
    return schema["components"]["schemas"][media["schema"]["$ref"].rpartition("/")[2]]


@pytest.mark.parametrize("path", ["actions/{number}/", "anomalies/{number}/", "evidence/{evidence_id}/"])
def test_a_change_must_name_the_version_that_was_read(schema, path):
    body = body_of(schema, path, "patch")
    assert body["required"] == ["version"]
    assert len(body["properties"]) > 1


@pytest.mark.parametrize("path", ["anomalies/{number}/evidence/", "trees/", "trees/{tree_id}/revisions/"])
def test_a_file_is_sent_as_bytes_not_as_an_address(schema, path):
    assert body_of(schema, path, "post")["properties"]["file"]["format"] == "binary"


def test_a_file_is_answered_in_any_type_that_is_known(schema):
    answer = schema["paths"]["/api/v1/evidence/{evidence_id}/file/"]["get"]["responses"]["200"]
    assert {"image/png", "text/plain", "application/pdf", "application/octet-stream"} <= set(answer["content"])


def test_a_token_that_was_never_used_is_allowed_for(schema):
    assert schema["components"]["schemas"]["TokenOut"]["properties"]["last_used_at"]["nullable"] is True


def test_text_that_may_not_be_empty_says_so_where_it_is_sent_and_not_where_it_is_answered(schema):
    sent = body_of(schema, "anomalies/{number}/dismiss/", "post")["properties"]["reason"]
    answered = schema["components"]["schemas"]["AnomalyOut"]["properties"]["risk_code"]
    assert (sent["minLength"], "minLength" in answered) == (1, False)

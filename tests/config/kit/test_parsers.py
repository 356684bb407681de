"""JSON that is too much to read."""

from __future__ import annotations

from io import BytesIO

import pytest
from django.core.exceptions import RequestDataTooBig, TooManyFieldsSent
from rest_framework.exceptions import ParseError

from config.kit.parsers import JSONParser
from config.kit.responses import respond_to_api_error


def parse(sent: bytes):
    return JSONParser().parse(BytesIO(sent))


def test_what_is_within_bounds_is_read(settings):
    settings.DATA_UPLOAD_MAX_MEMORY_SIZE = 20
    assert parse(b'{"lamp": ["bright"]}') == {"lamp": ["bright"]}


def test_more_than_is_taken_is_not_read(settings):
    settings.DATA_UPLOAD_MAX_MEMORY_SIZE = 20
    sent = BytesIO(b'{"lamp": ["brighter"]}' * 1000)
    with pytest.raises(RequestDataTooBig):
        JSONParser().parse(sent)
    assert sent.tell() == 21


@pytest.mark.parametrize("sent", [b"[" * 100_000, b"[" * 100_000 + b"]" * 100_000, b'{"a":' * 100_000])
def test_what_is_nested_too_deeply_is_refused(sent):
    with pytest.raises(ParseError, match="too deeply"):
        parse(sent)


@pytest.mark.parametrize(
    ("error", "status", "code"), [(RequestDataTooBig(), 413, "too_large"), (TooManyFieldsSent(), 400, "bad_input")]
)
def test_the_answer_has_the_shape_of_every_refusal(error, status, code):
    answer = respond_to_api_error(error, {})
    assert answer is not None
    assert (answer.status_code, answer.data["code"], set(answer.data)) == (status, code, {"code", "message", "fields"})

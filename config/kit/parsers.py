"""Reading JSON that strangers send: never more than is taken, nor nested deeper than Python can follow."""

from __future__ import annotations

from collections.abc import Mapping
from io import BytesIO
from typing import IO, Any

from django.conf import settings
from django.core.exceptions import RequestDataTooBig
from rest_framework import parsers
from rest_framework.exceptions import ParseError


class JSONParser(parsers.JSONParser):
    """Refuses what is larger than DATA_UPLOAD_MAX_MEMORY_SIZE, which the framework holds only forms to."""

    def parse(
        self, stream: IO[Any], media_type: str | None = None, parser_context: Mapping[str, Any] | None = None
    ) -> Any:
        """Return what the JSON holds; raises RequestDataTooBig, or ParseError."""
        limit = settings.DATA_UPLOAD_MAX_MEMORY_SIZE
        sent = stream.read(limit + 1)
        if len(sent) > limit:
            raise RequestDataTooBig
        try:
            return super().parse(BytesIO(sent), media_type, parser_context)
        except RecursionError:
            raise ParseError("The JSON is nested too deeply.") from None

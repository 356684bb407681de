"""Files in the JSON API: what every view that hands one out does alike."""

from __future__ import annotations

from typing import Any

from drf_spectacular.types import OpenApiTypes
from rest_framework.renderers import BaseRenderer, JSONRenderer
from rest_framework.request import Request
from rest_framework.views import APIView

from config.kit.api_schema import RefusalOut

PDF: dict[Any, Any] = {(200, "application/pdf"): OpenApiTypes.BINARY, 409: RefusalOut, 503: RefusalOut}
"""What a view answers that makes a PDF: 503 where the machine lacks what sets text."""


class FileView(APIView):
    """Hands out a file."""

    def perform_content_negotiation(self, request: Request, force: bool = False) -> tuple[BaseRenderer, str]:
        """Whatever the client says it takes: the file is what it is, and errors are JSON."""
        return JSONRenderer(), JSONRenderer.media_type

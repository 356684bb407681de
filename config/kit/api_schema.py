"""What the OpenAPI schema says of every address, so that no view has to: how it refuses, and in which shape."""

from __future__ import annotations

from typing import Any

from drf_spectacular.openapi import AutoSchema
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiResponse, extend_schema_field
from rest_framework import serializers
from rest_framework.permissions import SAFE_METHODS


class MissingOut(serializers.Serializer[Any]):
    """One thing that must be done first, the record to look at, and the place on its page, "" for all of it."""

    text = serializers.CharField()
    kind = serializers.CharField()
    record_id = serializers.IntegerField()
    place = serializers.CharField(allow_blank=True)


class RefusalOut(serializers.Serializer[Any]):
    """How every error looks: a stable code, a sentence, messages by field; `missing` says what must come first."""

    code = serializers.CharField()
    message = serializers.CharField()
    fields = serializers.DictField(child=serializers.ListField(child=serializers.CharField()))  # type: ignore[assignment]
    missing = MissingOut(many=True, required=False)


class ConflictOut(RefusalOut):
    """Somebody else changed the record since `seen`: what they made of it, and what was sent."""

    seen = serializers.IntegerField(required=False)
    version = serializers.IntegerField(required=False)
    theirs = serializers.DictField(required=False)
    yours = serializers.DictField(required=False)


@extend_schema_field(OpenApiTypes.BINARY)
class UploadField(serializers.FileField):
    """A file that is sent; the schema would call it the address of one otherwise."""


BAD_INPUT = OpenApiResponse(RefusalOut, "Some of what was sent can't be used; `fields` says what and why.")
ALWAYS = {
    401: OpenApiResponse(RefusalOut, "Nobody is logged in, or the access token isn't valid."),
    403: OpenApiResponse(RefusalOut, "You may not do this, or a session's CSRF token is missing."),
    406: OpenApiResponse(RefusalOut, "None of the media types that you accept."),
}
NOT_FOUND = OpenApiResponse(RefusalOut, "There is none, or you may not see it.")
WRITING = {
    400: BAD_INPUT,
    409: OpenApiResponse(ConflictOut, "The state or a rule forbids it at the moment, or somebody else was first."),
    413: OpenApiResponse(RefusalOut, "More was sent than is taken."),
    415: OpenApiResponse(RefusalOut, "This media type isn't taken."),
}


class ApiSchema(AutoSchema):
    """Adds to each operation the refusals that its method and parameters make possible, and a summary.

    A view names what it answers when all goes well, and a refusal only where it's peculiar: a 409 of a GET.
    """

    def get_operation(self, *args: Any, **kwargs: Any) -> dict[str, Any] | None:
        """Return the operation; None for one that the schema leaves out."""
        operation: dict[str, Any] | None = super().get_operation(*args, **kwargs)
        if operation is None:
            return None
        places = {parameter["in"] for parameter in operation.get("parameters", ())}
        is_paged = any(parameter["name"] == "page" for parameter in operation.get("parameters", ()))
        refusals = dict(ALWAYS)
        if "query" in places:
            refusals[400] = BAD_INPUT
        if "path" in places or is_paged:
            refusals[404] = NOT_FOUND
        if self.method not in SAFE_METHODS:
            refusals |= WRITING
        answers = operation["responses"]
        for code, refusal in refusals.items():
            answers.setdefault(str(code), self._get_response_for_code(refusal, str(code)))  # type: ignore[no-untyped-call]
        operation["responses"] = dict(sorted(answers.items()))
        return operation

    def _map_serializer_field(
        self, field: Any, direction: str, bypass_extensions: bool = False
    ) -> dict[str, Any] | None:
        """Say of text that is sent that it may not be empty, where it may not; what is answered may be."""
        mapped: dict[str, Any] | None = super()._map_serializer_field(  # type: ignore[no-untyped-call]
            field, direction, bypass_extensions
        )
        if mapped and direction == "request" and isinstance(field, serializers.CharField) and not field.allow_blank:
            return mapped | {"minLength": 1}
        return mapped

    def get_summary(self) -> str | None:
        """Return what stands beside the address in a list: what is read there, or what a call does."""
        says = type(self.view).__doc__ if self.method in SAFE_METHODS else self.get_description()
        return (says or self.get_description()).strip().partition("\n")[0]

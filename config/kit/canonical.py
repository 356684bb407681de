"""One way to write a value down, so that equal values give equal bytes and equal hashes on every database."""

from __future__ import annotations

import hashlib
import json
from datetime import UTC, date, datetime
from typing import Any


def write_canonical(value: Any) -> str:
    """Return the value as JSON with sorted keys and no spaces; NaN and infinity are refused with ValueError."""
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def hash_canonical(value: Any) -> str:
    """Return the SHA-256 of the value's canonical form in UTF-8, in hexadecimal."""
    return hashlib.sha256(write_canonical(value).encode()).hexdigest()


def as_plain(value: Any) -> Any:
    """Return the value as JSON can hold it; times become UTC with six decimals of the second."""
    if isinstance(value, datetime):
        return value.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, dict):
        return {str(key): as_plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [as_plain(item) for item in value]
    if value is None or isinstance(value, bool | int | float | str):
        return value
    return str(value)

"""The only reader of environment variables; typed, and it fails loudly on a value that makes no sense.

A file `.env` beside manage.py is read too, but never wins over the real environment.
"""

from __future__ import annotations

import os
import secrets
import tempfile
from datetime import datetime
from pathlib import Path

import environ

BASE_DIR = Path(__file__).resolve().parent.parent

env = environ.Env()
env.read_env(BASE_DIR / ".env")

VAR_DIR = Path(env.str("VAR_DIR", default=str(BASE_DIR / "var")))
"""The one folder the service writes to on its own machine: database, secret key, broker, caches, static files."""


def read_moment(text: str) -> datetime | None:
    """Return the moment written in ISO 8601 with its zone, None for an empty text; fails for anything else."""
    if not text:
        return None
    moment = datetime.fromisoformat(text)
    if moment.tzinfo is None:
        raise environ.ImproperlyConfigured(f"{text!r} has no time zone: write 2031-01-01T00:00:00Z.")
    return moment


def make_private_folder(path: Path) -> Path:
    """Return the folder, made for the owner's eyes only if it wasn't there."""
    path.mkdir(mode=0o700, parents=True, exist_ok=True)
    return path


def point_numba_cache_to_var() -> None:
    """Give numba a cache folder that is writable; must run before numba is first imported.

    Numba writes beside its sources otherwise, and fails at import where the install is read-only.
    """
    os.environ.setdefault("NUMBA_CACHE_DIR", str(make_private_folder(VAR_DIR / "numba")))


def read_or_make_secret_key(path: Path) -> str:
    """Return the key kept in `path`; the first caller makes it, readable by its owner alone.

    Processes and threads that start together agree: each writes its key to a file of its own and links it
    into place, and every link but the first fails.
    """
    if not path.exists():
        descriptor, draft = tempfile.mkstemp(dir=make_private_folder(path.parent), prefix=f"{path.name}.")
        with os.fdopen(descriptor, "w") as file:
            file.write(secrets.token_urlsafe(64))
        try:
            os.link(draft, path)
        except FileExistsError:
            pass
        finally:
            os.unlink(draft)
    return path.read_text().strip()

"""Tests: fast password hashing, no collected static files, tasks queued nowhere."""

from __future__ import annotations

from config.env import VAR_DIR
from config.settings.base import *  # noqa: F403

SECRET_KEY = "tests-only"  # noqa: S105  no secret: nothing is served with it
ALLOWED_HOSTS = ["testserver", "127.0.0.1", "localhost"]
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
AXES_ENABLED = False
WHITENOISE_AUTOREFRESH = True
WHITENOISE_USE_FINDERS = True
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
CELERY_BROKER_URL = "memory://"
CELERY_BROKER_TRANSPORT_OPTIONS = {}
EVIDENCE_DIR = str(VAR_DIR / "evidence-of-tests")

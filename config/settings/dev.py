"""One machine, plain HTTP on the loopback address: what `make run` uses. DEBUG=true turns Django's debug pages on."""

from __future__ import annotations

from config.env import VAR_DIR, env, read_moment, read_or_make_secret_key
from config.settings.base import *  # noqa: F403
from config.settings.base import ALLOWED_HOSTS

DEBUG = env.bool("DEBUG", default=False)
ALLOWED_HOSTS = [*ALLOWED_HOSTS, "127.0.0.1", "localhost", "[::1]"]
SECRET_KEY = env.str("SECRET_KEY", default="") or read_or_make_secret_key(VAR_DIR / "secret_key")

# Compressing pays off on a network, not on the loopback address: there it only makes each start half a minute longer.
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.ManifestStaticFilesStorage"},
}

# Edited files show at once, and nothing needs collecting first, while debugging.
if DEBUG:
    WHITENOISE_AUTOREFRESH = True
    WHITENOISE_USE_FINDERS = True
    STORAGES["staticfiles"] = {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}

# A mission clock, so that the demonstration shows one.
MISSION_EPOCH = read_moment(env.str("MISSION_EPOCH", default="2024-01-09T06:00:00Z"))

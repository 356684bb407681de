"""A server for many, behind HTTPS. Refuses to start without SECRET_KEY and ALLOWED_HOSTS."""

from __future__ import annotations

from config.env import env
from config.logs import configure_logs
from config.settings.base import *  # noqa: F403

SECRET_KEY = env.str("SECRET_KEY")
ALLOWED_HOSTS = env.list("ALLOWED_HOSTS")

SECURE_SSL_REDIRECT = env.bool("SECURE_SSL_REDIRECT", default=True)
SECURE_HSTS_SECONDS = env.int("SECURE_HSTS_SECONDS", default=365 * 24 * 3600)
SECURE_HSTS_INCLUDE_SUBDOMAINS = env.bool("SECURE_HSTS_INCLUDE_SUBDOMAINS", default=True)
SECURE_HSTS_PRELOAD = env.bool("SECURE_HSTS_PRELOAD", default=True)
SESSION_COOKIE_SECURE = True
CSRF_COOKIE_SECURE = True

# Only a proxy that overwrites these headers may be trusted with them.
if env.bool("BEHIND_PROXY", default=False):
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    PROXY_COUNT = env.int("PROXY_COUNT", default=1)

LOGGING = configure_logs(level=env.str("LOG_LEVEL", default="INFO"), as_json=env.bool("LOG_JSON", default=True))

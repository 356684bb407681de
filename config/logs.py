"""How the service logs: one event a line, with its facts as fields; JSON where machines read it."""

from __future__ import annotations

from typing import Any

import structlog
from structlog.typing import Processor

SHARED: list[Processor] = [
    structlog.contextvars.merge_contextvars,
    structlog.stdlib.add_logger_name,
    structlog.stdlib.add_log_level,
    structlog.processors.TimeStamper(fmt="iso", utc=True),
    structlog.processors.StackInfoRenderer(),
]


def configure_logs(*, level: str, as_json: bool) -> dict[str, Any]:
    """Set structlog up and return the matching value for Django's LOGGING; all lines go to standard error."""
    structlog.configure(
        processors=[
            structlog.stdlib.filter_by_level,
            *SHARED,
            structlog.stdlib.ProcessorFormatter.wrap_for_formatter,
        ],
        logger_factory=structlog.stdlib.LoggerFactory(),
        cache_logger_on_first_use=True,
    )
    render: list[Processor] = (
        [structlog.processors.dict_tracebacks, structlog.processors.JSONRenderer()]
        if as_json
        else [structlog.dev.ConsoleRenderer(colors=False)]
    )
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "formatters": {
            "structured": {
                "()": structlog.stdlib.ProcessorFormatter,
                "foreign_pre_chain": SHARED,
                "processors": [structlog.stdlib.ProcessorFormatter.remove_processors_meta, *render],
            }
        },
        "handlers": {"standard_error": {"class": "logging.StreamHandler", "formatter": "structured"}},
        "root": {"handlers": ["standard_error"], "level": level},
        "loggers": {
            "django.server": {"handlers": ["standard_error"], "level": level, "propagate": False},
        },
    }

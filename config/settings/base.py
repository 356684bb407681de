"""Settings common to every way of running; safe by default. The other files hold differences only."""

from __future__ import annotations

from datetime import timedelta

from celery.schedules import crontab
from csp.constants import NONE, SELF

from config.env import VAR_DIR, env, make_private_folder, point_numba_cache_to_var, read_moment
from config.logs import configure_logs

point_numba_cache_to_var()

DEBUG = False
ALLOWED_HOSTS: list[str] = env.list("ALLOWED_HOSTS", default=[])
CSRF_TRUSTED_ORIGINS: list[str] = env.list("CSRF_TRUSTED_ORIGINS", default=[])

ROOT_URLCONF = "config.urls"
WSGI_APPLICATION = "config.wsgi.application"
ASGI_APPLICATION = "config.asgi.application"

INSTALLED_APPS = [
    "config",  # for its commands, templates and static files
    "faulttree",
    "anomalies",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django_htmx",
    "rest_framework",
    "drf_spectacular",
    "drf_spectacular_sidecar",
    "csp",
    "axes",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "axes.middleware.AxesMiddleware",
    "config.kit.paths.PathMiddleware",
    "config.kit.responses.DomainErrorMiddleware",
]

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "config.theme.theme",
                "config.navigation.navigation",
            ],
        },
    },
]

# --- Database -------------------------------------------------------------------------------------------------------

SQLITE_OPTIONS = {
    # A write lock is taken when the transaction starts: two that read first and then write would deadlock.
    "transaction_mode": "IMMEDIATE",
    "timeout": 20,
    "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=NORMAL; PRAGMA foreign_keys=ON;",
}
DATABASES = {"default": env.db_url("DATABASE_URL", default=f"sqlite:///{VAR_DIR / 'siftwood.sqlite3'}")}
if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":
    make_private_folder(VAR_DIR)
    DATABASES["default"]["OPTIONS"] = SQLITE_OPTIONS
else:
    DATABASES["default"] |= {"CONN_MAX_AGE": 60, "CONN_HEALTH_CHECKS": True}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

# --- People and sessions --------------------------------------------------------------------------------------------

AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "django.contrib.auth.backends.ModelBackend",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 12}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.NumericPasswordValidator"},
]
LOGIN_URL = "login"
LOGIN_REDIRECT_URL = "/"
LOGOUT_REDIRECT_URL = "login"
SESSION_COOKIE_AGE = int(timedelta(hours=12).total_seconds())
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_SAMESITE = "Lax"

# A name and an address together are locked: a stranger can't lock a colleague out from elsewhere.
AXES_FAILURE_LIMIT = 5
AXES_COOLOFF_TIME = timedelta(minutes=15)
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_RESET_ON_SUCCESS = True
AXES_VERBOSE = False
AXES_CLIENT_IP_CALLABLE = "config.clients.read_client_address"
PROXY_COUNT = 0  # proxies in front of us, each of which adds to X-Forwarded-For

# --- What browsers may do -------------------------------------------------------------------------------------------

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [SELF],
        "img-src": [SELF, "data:"],
        "object-src": [NONE],
        "base-uri": [NONE],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
    },
}
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"

# --- Static files ---------------------------------------------------------------------------------------------------

STATIC_URL = "static/"
STATIC_ROOT = VAR_DIR / "static"
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"},
}
MEDIA_ROOT = VAR_DIR / "media"

# --- The JSON API ---------------------------------------------------------------------------------------------------

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": [  # the first says how one is asked to log in
        "anomalies.api.bearer.BearerAuthentication",
        "rest_framework.authentication.SessionAuthentication",
    ],
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["config.kit.parsers.JSONParser"],
    "DEFAULT_PAGINATION_CLASS": "config.kit.api_paging.Pagination",
    "PAGE_SIZE": 50,
    "DEFAULT_SCHEMA_CLASS": "config.kit.api_schema.ApiSchema",
    "EXCEPTION_HANDLER": "config.kit.responses.respond_to_api_error",
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Siftwood",
    "DESCRIPTION": "Records of anomalies, and fault trees with their runs. Every answer is decision support.",
    "VERSION": "1",
    "SERVE_INCLUDE_SCHEMA": False,
    "SERVE_PERMISSIONS": ["rest_framework.permissions.IsAuthenticated"],
    "COMPONENT_SPLIT_PATCH": False,  # the shapes of changes say themselves what may be left out
    "SWAGGER_UI_DIST": "SIDECAR",
    "SWAGGER_UI_FAVICON_HREF": "SIDECAR",
    "SWAGGER_UI_SETTINGS": {
        "docExpansion": "none",
        "filter": True,
        "defaultModelsExpandDepth": -1,
        "syntaxHighlight": {"activated": False},  # its colours are too faint
    },
    "ENUM_NAME_OVERRIDES": {  # what the schema calls each set of choices; one of several equal sets stands for all
        "RunState": "faulttree.states.RunState",
        "ActivityState": "anomalies.states.ActivityState",
        "HardwareState": "anomalies.states.HardwareState",
        "AnomalyState": "anomalies.states.AnomalyState",
        "ConstraintState": "anomalies.states.ConstraintState",
        "StandingState": "anomalies.states.LinkState",
        "InstallationState": "anomalies.states.InstallationState",
        "EvidenceState": "anomalies.states.EvidenceState",
        "FindingState": "anomalies.states.FindingState",
        "CauseState": "anomalies.states.CauseState",
        "ActionState": "anomalies.states.ActionState",
        "InvestigationState": "anomalies.states.InvestigationState",
        "InspectionState": "anomalies.states.InspectionState",
        "UpdateState": "anomalies.states.UpdateState",
        "Measure": "anomalies.models.Measure",
        "RevisionState": "anomalies.states.RevisionState",
        "TokenState": "anomalies.states.TokenState",
        "ActivityKind": "anomalies.models.Activity.Kind",
        "LinkKind": "anomalies.models.AnomalyLink.Kind",
        "EvidenceKind": "anomalies.models.Evidence.Kind",
        "FindingKind": "anomalies.models.Finding.Kind",
        "CauseKind": "anomalies.models.Cause.Kind",
        "ActionKind": "anomalies.models.CorrectiveAction.Kind",
        "EffectKind": "anomalies.models.ActionEffect.Kind",
        "TieKind": "anomalies.models.ActionTie.Kind",
        "RequirementState": "anomalies.states.RequirementState",
        "RequirementSort": "anomalies.models.Requirement.Sort",
        "RequirementScope": "anomalies.models.Requirement.Scope",
        "LessonState": "anomalies.states.LessonState",
        "LessonDecision": "anomalies.models.LessonUse.Decision",
        "MeetingState": "anomalies.states.MeetingState",
        "ReviewState": "anomalies.states.ReviewState",
        "Verdict": "anomalies.models.Verdict",
        "PollStand": "anomalies.models.PollAnswer.Stand",
        "ConcurrenceStand": "anomalies.models.Concurrence.Stand",
        "ProcedureKind": "anomalies.models.Procedure.Kind",
        "StepKind": "anomalies.steps.StepKind",
        "StepNoticeKind": "anomalies.steps.NoticeKind",
    },
}

# --- Uploads and runs -----------------------------------------------------------------------------------------------

MODEL_MAX_BYTES = env.int("MODEL_MAX_BYTES", default=32 * 2**20)
MODEL_MAX_DEPTH = env.int("MODEL_MAX_DEPTH", default=100)
MODEL_MAX_ELEMENTS = env.int("MODEL_MAX_ELEMENTS", default=500_000)
# Beyond this a file is spooled to disk, not kept in memory.
FILE_UPLOAD_MAX_MEMORY_SIZE = 2 * 2**20
DATA_UPLOAD_MAX_MEMORY_SIZE = 4 * 2**20

RUN_NODE_BUDGET = env.int("RUN_NODE_BUDGET", default=100_000_000)
RUN_SECONDS = env.float("RUN_SECONDS", default=600.0)
RUN_MEMORY_MIB = env.int("RUN_MEMORY_MIB", default=2048)
# What the process of one run may hold in all; the tables above are the greatest part of it.
RUN_PROCESS_MIB = env.int("RUN_PROCESS_MIB", default=2 * RUN_MEMORY_MIB + 512)

# --- Records --------------------------------------------------------------------------------------------------------

# The moment at which the mission clock shows zero; without one there's no mission clock.
MISSION_EPOCH = read_moment(env.str("MISSION_EPOCH", default=""))

# Files of evidence, each under its SHA-256; every machine of an installation must see the same folder.
EVIDENCE_DIR = env.str("EVIDENCE_DIR", default=str(VAR_DIR / "evidence"))
EVIDENCE_MAX_BYTES = env.int("EVIDENCE_MAX_BYTES", default=64 * 2**20)

# Mail goes into files of this folder until EMAIL_URL names a server.
_mail = env.email_url("EMAIL_URL", default=f"filemail:///{VAR_DIR / 'mail'}")
EMAIL_BACKEND, EMAIL_FILE_PATH = _mail["EMAIL_BACKEND"], _mail["EMAIL_FILE_PATH"]
EMAIL_HOST, EMAIL_PORT = _mail["EMAIL_HOST"], _mail["EMAIL_PORT"]
EMAIL_HOST_USER, EMAIL_HOST_PASSWORD = _mail["EMAIL_HOST_USER"], _mail["EMAIL_HOST_PASSWORD"]
EMAIL_USE_TLS, EMAIL_USE_SSL = _mail.get("EMAIL_USE_TLS", False), _mail.get("EMAIL_USE_SSL", False)
DEFAULT_FROM_EMAIL = env.str("MAIL_FROM", default="siftwood@localhost")
EMAIL_TIMEOUT = 20
SITE_URL = env.str("SITE_URL", default="http://127.0.0.1:8000").rstrip("/")  # in front of addresses in mails
DIGEST_HOUR = env.int("DIGEST_HOUR", default=6)  # UTC

# --- Background work ------------------------------------------------------------------------------------------------

CELERY_BROKER_URL = env.str("CELERY_BROKER_URL", default="filesystem://localhost")
if CELERY_BROKER_URL.startswith("filesystem:"):
    # Messages are files both ends share: what is "out" for one is "in" for the other.
    _messages = make_private_folder(VAR_DIR / "broker" / "messages")
    CELERY_BROKER_TRANSPORT_OPTIONS = {
        "data_folder_in": str(_messages),
        "data_folder_out": str(_messages),
        "control_folder": str(make_private_folder(VAR_DIR / "broker" / "control")),
        "polling_interval": 0.1,
    }
else:
    # A worker that dies gives its task back after the visibility timeout, which must exceed the longest task.
    CELERY_BROKER_TRANSPORT_OPTIONS = {
        "visibility_timeout": int(RUN_SECONDS) + 300,
        "unacked_restore_interval": 2,
        "unacked_restore_throttle": 1,
        "socket_connect_timeout": 3,
    }
CELERY_TASK_IGNORE_RESULT = True  # a job is a row in the database; the row says how it went
CELERY_TASK_ACKS_LATE = True
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_WORKER_CONCURRENCY = env.int("WORKER_PROCESSES", default=1)
# Into how many parts a large uncertainty run is divided; set it to the number of all worker processes there are.
RUN_PARTS = env.int("RUN_PARTS", default=CELERY_WORKER_CONCURRENCY)
CELERY_TASK_SOFT_TIME_LIMIT = int(RUN_SECONDS) + 60
CELERY_TASK_TIME_LIMIT = int(RUN_SECONDS) + 120
CELERY_WORKER_ENABLE_REMOTE_CONTROL = False  # a job is cancelled in its row, whatever the broker
CELERY_WORKER_HIJACK_ROOT_LOGGER = False
CELERY_WORKER_SOFT_SHUTDOWN_TIMEOUT = 3.0
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_BROKER_CONNECTION_MAX_RETRIES = None  # a worker waits for a broker that is away, however long
CELERY_TIMEZONE = "UTC"
SWEEP_SECONDS = env.float("SWEEP_SECONDS", default=15.0)
CELERY_BEAT_SCHEDULE = {
    "tell-people": {"task": "anomalies.tell_people", "schedule": SWEEP_SECONDS, "options": {"expires": SWEEP_SECONDS}},
    "send-digests": {"task": "anomalies.send_digests", "schedule": crontab(hour=f"{DIGEST_HOUR}", minute="0")},
    "sweep-runs": {"task": "faulttree.sweep_runs", "schedule": SWEEP_SECONDS, "options": {"expires": SWEEP_SECONDS}},
}

# --- Language, time, logs -------------------------------------------------------------------------------------------

LANGUAGE_CODE = "en-gb"
TIME_ZONE = "UTC"
USE_TZ = True
USE_I18N = True

LOGGING_CONFIG = "logging.config.dictConfig"
LOGGING = configure_logs(level=env.str("LOG_LEVEL", default="INFO"), as_json=env.bool("LOG_JSON", default=False))

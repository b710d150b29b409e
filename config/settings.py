"""Settings of Holdfast: one file, all from the environment, with defaults that are safe on a trial machine."""

import logging
from hashlib import sha256
from pathlib import Path
from urllib.parse import urlsplit

from csp.constants import NONE, SELF

from config import env, static_headers

BASE_DIR = Path(__file__).resolve().parent.parent
DATA_DIR = env.folder("HOLDFAST_DATA_DIR", BASE_DIR / "var")

# Who we are
PRODUCTION = env.flag("HOLDFAST_PRODUCTION")
DEBUG = env.flag("HOLDFAST_DEBUG")
SECRET_KEY = env.text("HOLDFAST_SECRET_KEY")
if not SECRET_KEY and not PRODUCTION:
    SECRET_KEY = env.kept_secret(DATA_DIR / "secret-key")
# Former secret keys: what was signed or encrypted with them is still read.
SECRET_KEY_FALLBACKS = env.words("HOLDFAST_SECRET_KEY_FALLBACKS")
ALLOWED_HOSTS = env.words("HOLDFAST_HOSTS", "localhost,127.0.0.1,[::1],testserver")
CSRF_TRUSTED_ORIGINS = env.words("HOLDFAST_ORIGINS")
CODE_VERSION = "0.1.0"
# How patients reach the service: what links in messages begin with.
PUBLIC_URL = env.text(
    "HOLDFAST_PUBLIC_URL", next(iter(CSRF_TRUSTED_ORIGINS), "http://127.0.0.1:8000")
).rstrip("/")
# What the canonical addresses of our own FHIR code systems and identifiers begin with; a service puts
# a domain of its own here once, before anybody relies on them.
FHIR_BASE = env.text("HOLDFAST_FHIR_BASE", "https://registry.example").rstrip("/")
# So many proxies of ours stand in front; the last of them says from where a request comes.
PROXIES = env.number("HOLDFAST_PROXIES", 1 if PRODUCTION else 0)

# What runs
INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.contrib.humanize",
    "allauth",
    "allauth.account",
    "allauth.mfa",
    "allauth.socialaccount",
    "allauth.socialaccount.providers.openid_connect",
    "allauth.usersessions",
    "django_htmx",
    "django_filters",
    "rest_framework",
    "knox",
    "drf_spectacular",
    "django_celery_beat",
    "csp",
    # Passes the number of a request on to the tasks that it asks for.
    "django_structlog",
    "config",
    "analytics",
    "followup",
    "registry",
]
MIDDLEWARE = [
    "config.middleware.programs_by_https",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django_permissions_policy.PermissionsPolicyMiddleware",
    "config.middleware.small_enough",
    "config.middleware.kept_nowhere",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "config.tracking.Tracked",
    "django.contrib.messages.middleware.MessageMiddleware",
    "config.sign_in.sessions.watch",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "allauth.account.middleware.AccountMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "config.sign_in.gate.gate",
    "config.middleware.emergencies",
    "config.middleware.refusals",
]
ROOT_URLCONF = "config.urls"
WSGI_APPLICATION = "config.wsgi.application"
ASGI_APPLICATION = "config.asgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "config" / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "config.navigation.navigation",
            ],
        },
    },
]

# Where data live
DATABASES = {"default": env.database("HOLDFAST_DATABASE", f"sqlite:///{DATA_DIR}/holdfast.sqlite3")}
# As whom the service signs in to PostgreSQL, where that is not who migrates: migrating gives it its rights.
SERVICE_ROLE = env.text("HOLDFAST_SERVICE_ROLE")
REDIS_URL = env.text("HOLDFAST_REDIS")
# SQLite cannot hold the one constraint over empty columns; the service that writes there holds it.
SILENCED_SYSTEM_CHECKS = ["models.W047"]
CACHES = {"default": env.cache(REDIS_URL, env.text("HOLDFAST_CACHE_DIR"))}

# Who comes in
AUTH_USER_MODEL = "registry.Person"
AUTHENTICATION_BACKENDS = ["allauth.account.auth_backends.AuthenticationBackend"]
PASSWORD_HASHERS = [
    "config.sign_in.passwords.Argon2id",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "config.sign_in.passwords.Length"},
    {"NAME": "config.sign_in.passwords.NotStolen"},
    {"NAME": "config.sign_in.passwords.NotOurWords"},
    {"NAME": "config.sign_in.passwords.NotYourName"},
]
# The roles whose people need a second factor; in production all, in a trial none.
SECOND_FACTOR_ROLES = env.roles("HOLDFAST_SECOND_FACTOR_ROLES", "all" if PRODUCTION else "none")
MFA_ADAPTER = "config.sign_in.factors.Factors"
MFA_SUPPORTED_TYPES = ["totp", "webauthn", "recovery_codes"]
MFA_TOTP_ISSUER = "Holdfast"
MFA_RECOVERY_CODES_SHOW_ONCE = True
# A browser makes passkeys for https, and for the machine itself.
MFA_WEBAUTHN_ALLOW_INSECURE_ORIGIN = not PRODUCTION
# The hospital's own provider, by OpenID Connect; without an issuer there is none.
SSO_ISSUER = env.text("HOLDFAST_SSO_ISSUER").rstrip("/")
# A subject is one of its issuer: under another nobody is tied any more.
SSO_PROVIDER_ID = f"hospital-{sha256(SSO_ISSUER.encode()).hexdigest()[:8]}"
SSO_NAME = env.text("HOLDFAST_SSO_NAME", "the hospital's sign-in")
SSO_USERNAME_CLAIM = env.text("HOLDFAST_SSO_USERNAME_CLAIM")
SSO_SECOND_FACTOR = env.flag("HOLDFAST_SSO_SECOND_FACTOR")
SSO_FACTOR_ACR = env.words("HOLDFAST_SSO_FACTOR_ACR", "https://refeds.org/profile/mfa")
SOCIALACCOUNT_ADAPTER = "config.sign_in.hospital.Tied"
SOCIALACCOUNT_PROVIDERS = env.provider(
    SSO_ISSUER,
    provider_id=SSO_PROVIDER_ID,
    name=SSO_NAME,
    client=env.text("HOLDFAST_SSO_CLIENT_ID"),
    secret=env.text("HOLDFAST_SSO_SECRET"),
)
LOGIN_URL = "account_login"
LOGIN_REDIRECT_URL = "home"
LOGOUT_REDIRECT_URL = "account_login"
ACCOUNT_ADAPTER = "config.sign_in.accounts.ClosedAdapter"
ACCOUNT_LOGIN_METHODS = {"username"}
ACCOUNT_SIGNUP_FIELDS = ["username*", "password1*"]
ACCOUNT_EMAIL_VERIFICATION = "none"
ACCOUNT_SESSION_REMEMBER = False
ACCOUNT_LOGOUT_ON_GET = False
ACCOUNT_EMAIL_NOTIFICATIONS = False
ACCOUNT_FORMS = {"change_password": "config.sign_in.accounts.ChangePassword"}
# Failed passwords are counted by `registry/services/sign_ins.py`. The library's own limits stand
# where the first factor was right already: wrong codes, and the pages of who is signed in.
ACCOUNT_RATE_LIMITS = {
    "login": None,
    "login_failed": "10/5m/key",
    "reauthenticate": "20/m/user",
    "change_password": "10/m/user",
}
# So long the password or the factor of a moment ago counts for what asks for it again.
ACCOUNT_REAUTHENTICATION_TIMEOUT = env.number("HOLDFAST_CONFIRM_MINUTES", 15) * 60
SIGN_IN_EVENT_DAYS = env.number("HOLDFAST_SIGN_IN_EVENT_DAYS", 365)
KNOWN_DEVICE_SECONDS = env.number("HOLDFAST_KNOWN_DEVICE_DAYS", 90) * 86_400
# What a page says once may name a patient: it waits in the session, not in a cookie.
MESSAGE_STORAGE = "django.contrib.messages.storage.session.SessionStorage"
SESSION_COOKIE_AGE = env.number("HOLDFAST_SESSION_SECONDS", 10 * 3600)
IDLE_SECONDS = env.number("HOLDFAST_IDLE_MINUTES", 30) * 60
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
SESSION_EXPIRE_AT_BROWSER_CLOSE = True

# How long a patient of another site stays open in an emergency, and when somebody has to look at it
EMERGENCY_MINUTES = env.number("HOLDFAST_EMERGENCY_MINUTES", 60)
EMERGENCY_LOOK_DAYS = env.number("HOLDFAST_EMERGENCY_LOOK_DAYS", 7)

# What a browser may do
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
SESSION_COOKIE_SECURE = PRODUCTION
CSRF_COOKIE_SECURE = PRODUCTION
# Browsers take a cookie of such a name only by https and from this very host, and none of its neighbours'.
HOST_COOKIE, SECURE_COOKIE = ("__Host-", "__Secure-") if PRODUCTION else ("", "")
SESSION_COOKIE_NAME = f"{HOST_COOKIE}sessionid"
CSRF_COOKIE_NAME = f"{HOST_COOKIE}csrftoken"
SECURE_SSL_REDIRECT = PRODUCTION
# Whatever watches the service asks from inside, without the proxy.
SECURE_REDIRECT_EXEMPT = [r"^health/(alive/)?$", r"^metrics/$"]
SECURE_HSTS_SECONDS = 31_536_000 if PRODUCTION else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = PRODUCTION
SECURE_HSTS_PRELOAD = PRODUCTION
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if PRODUCTION else None
# Labels are scanned with the camera; nothing else of a device is wanted.
PERMISSIONS_POLICY: dict[str, list[str]] = {
    "camera": ["self"],
    "display-capture": [],
    "geolocation": [],
    "microphone": [],
    "payment": [],
    "usb": [],
}
# Plotly writes an empty style element and style attributes; the hash is that of an empty element.
EMPTY_STYLE = "'sha256-47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU='"
_ORIGIN = "{0.scheme}://{0.netloc}".format(urlsplit(SSO_ISSUER)) if SSO_ISSUER else ""
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [SELF],
        "script-src": [SELF],
        "style-src-elem": [SELF, EMPTY_STYLE],
        "style-src-attr": ["'unsafe-inline'"],
        "img-src": [SELF, "data:", "blob:"],
        "connect-src": [SELF],
        "object-src": [NONE],
        "base-uri": [NONE],
        # A form of ours leads on to the provider, where there is one.
        "form-action": [SELF, *filter(None, [_ORIGIN])],
        "frame-ancestors": [NONE],
    }
}

# How it reads
LANGUAGE_CODE = "en-gb"
# Patients are asked in theirs; the service itself speaks British English.
LANGUAGES = [("en", "English"), ("de", "Deutsch")]
TIME_ZONE = "UTC"
USE_I18N = True
USE_TZ = True
FORMAT_MODULE_PATH = ["config.formats"]
STATIC_URL = "/static/"
STATIC_ROOT = env.folder("HOLDFAST_STATIC_DIR", DATA_DIR / "static")
WHITENOISE_USE_FINDERS = not PRODUCTION
WHITENOISE_AUTOREFRESH = DEBUG
WHITENOISE_ADD_HEADERS_FUNCTION = static_headers.guarded
# Films lie outside what any server hands out as files; they leave only through the check of rights.
FILMS_DIR = env.folder("HOLDFAST_FILMS_DIR", DATA_DIR / "films")
STORAGES = {
    # Lists of cases and copies for programs name patients: for the service's own user alone.
    "default": {
        "BACKEND": "django.core.files.storage.FileSystemStorage",
        "OPTIONS": {"file_permissions_mode": 0o600, "directory_permissions_mode": 0o700},
    },
    "films": env.films(FILMS_DIR),
    "staticfiles": {
        "BACKEND": (
            "whitenoise.storage.CompressedManifestStaticFilesStorage"
            if PRODUCTION
            else "django.contrib.staticfiles.storage.StaticFilesStorage"
        )
    },
}
# The largest film that is opened; a file is examined in a process of its own within so much memory.
FILM_LIMITS = {
    "most_bytes": env.number("HOLDFAST_FILM_MOST_MB", 200) * 1_000_000,
    "most_pixels": env.number("HOLDFAST_FILM_MOST_MEGAPIXELS", 64) * 1_000_000,
    "most_frames": env.number("HOLDFAST_FILM_MOST_FRAMES", 200),
    "most_pixels_in_all": env.number("HOLDFAST_FILM_MOST_MEGAPIXELS_IN_ALL", 128) * 1_000_000,
}
FILM_MEMORY_MB = env.number("HOLDFAST_FILM_MEMORY_MB", 2048)
FILMS_AT_ONCE = env.number("HOLDFAST_FILMS_AT_ONCE", 30)
MEDIA_ROOT = env.folder("HOLDFAST_FILES_DIR", DATA_DIR / "files")
# A whole request, its files included; a proxy in front refuses what is larger before it is read.
REQUEST_MOST_MB = env.number("HOLDFAST_REQUEST_MOST_MB", 1000)
DATA_UPLOAD_MAX_MEMORY_SIZE = 5 * 1024 * 1024
FILE_UPLOAD_MAX_MEMORY_SIZE = 2 * 1024 * 1024
DATA_UPLOAD_MAX_NUMBER_FIELDS = 2000

# What the machine reads
REST_FRAMEWORK = {
    "NUM_PROXIES": PROXIES,
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "registry.api.scopes.ScopedToken",
        "rest_framework.authentication.SessionAuthentication",
    ],
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
    "DEFAULT_FILTER_BACKENDS": ["django_filters.rest_framework.DjangoFilterBackend"],
    "DEFAULT_PARSER_CLASSES": ["rest_framework.parsers.JSONParser"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_SCHEMA_CLASS": "registry.api.schema.Schema",
    "DEFAULT_THROTTLE_CLASSES": ["rest_framework.throttling.UserRateThrottle"],
    "DEFAULT_THROTTLE_RATES": {"user": env.text("HOLDFAST_API_RATE", "600/min")},
    "DEFAULT_PAGINATION_CLASS": "registry.api.base.Paging",
    "EXCEPTION_HANDLER": "registry.api.base.problem",
    "PAGE_SIZE": 50,
    "DEFAULT_VERSIONING_CLASS": "rest_framework.versioning.NamespaceVersioning",
    "DEFAULT_VERSION": "v1",
    "ALLOWED_VERSIONS": ["v1"],
}
REST_KNOX = {"AUTO_REFRESH": False}
# Named because a migration of ours stands on that table.
KNOX_TOKEN_MODEL = "knox.AuthToken"  # noqa: S105 - the name of a table
SPECTACULAR_SETTINGS = {
    "TITLE": "Holdfast",
    "DESCRIPTION": "Outcomes and follow-up registry of a shoulder-trauma service.",
    "VERSION": CODE_VERSION,
    "SERVE_INCLUDE_SCHEMA": False,
    "SERVE_PERMISSIONS": ["rest_framework.permissions.IsAuthenticated"],
    "SCHEMA_PATH_PREFIX": "/api/v1",
    "SORT_OPERATIONS": False,
    # What is sent is described apart from what is answered: a made client asks for no more.
    "COMPONENT_SPLIT_REQUEST": True,
    "POSTPROCESSING_HOOKS": [
        "drf_spectacular.hooks.postprocess_schema_enums",
        "registry.api.schema.with_problems",
        "registry.api.examples.with_examples",
    ],
    "ENUM_NAME_OVERRIDES": {
        "MotionMode": "followup.models.motion.MotionMode",
        "ScoreMode": "followup.models.scores.ScoreMode",
        "ReviewState": "followup.models.reviews.ReviewState",
        "HardwareState": "followup.models.hardware.HardwareState",
        "ComplicationKind": "followup.models.complications.ComplicationKind",
        "ComplicationGrade": "followup.models.complications.ComplicationGrade",
        "PatientStatus": "registry.models.patients.PatientStatus",
        "ImageKind": "followup.models.images.ImageKind",
        "ProcedureKind": "registry.models.procedures.ProcedureKind",
        "PartKind": "registry.models.implants.PartKind",
        "Grade": "registry.models.procedures.Grade",
        "YesNo": "registry.models.injuries.YesNo",
        "Means": "registry.models.identities.Means",
        "CarrierState": "registry.models.safety_notices.CarrierState",
    },
}

# What runs in the background
CELERY_BROKER_URL = env.text(
    "HOLDFAST_BROKER", REDIS_URL if REDIS_URL.startswith("redis") else "filesystem://"
)
CELERY_TASK_IGNORE_RESULT = True
# Nothing keeps results, so nothing has to clean them up.
CELERY_RESULT_EXPIRES = None
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_SERIALIZER = "json"
CELERY_ACCEPT_CONTENT = ["json"]
CELERY_TIMEZONE = TIME_ZONE
CELERY_BEAT_SCHEDULER = "django_celery_beat.schedulers:DatabaseScheduler"
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
if CELERY_BROKER_URL.startswith("filesystem:"):
    _queue = env.folder("HOLDFAST_QUEUE_DIR", DATA_DIR / "queue")
    for _name in ("waiting", "done", "control"):
        (_queue / _name).mkdir(parents=True, exist_ok=True)
    CELERY_BROKER_TRANSPORT_OPTIONS = {
        "data_folder_in": str(_queue / "waiting"),
        "data_folder_out": str(_queue / "waiting"),
        "processed_folder": str(_queue / "done"),
        "control_folder": str(_queue / "control"),
    }

# How scores are compared: the norm table of the Constant-Murley score, '' for none
CONSTANT_NORMS = env.text("HOLDFAST_CONSTANT_NORMS", "")

# What goes out
EMAIL_BACKEND = env.text(
    "HOLDFAST_EMAIL_BACKEND", "django.core.mail.backends.filebased.EmailBackend"
)
EMAIL_FILE_PATH = str(DATA_DIR / "outgoing-mail")
EMAIL_HOST = env.text("HOLDFAST_EMAIL_HOST", "localhost")
EMAIL_PORT = env.number("HOLDFAST_EMAIL_PORT", 25)
EMAIL_HOST_USER = env.text("HOLDFAST_EMAIL_USER")
EMAIL_HOST_PASSWORD = env.text("HOLDFAST_EMAIL_PASSWORD")
EMAIL_USE_TLS = env.flag("HOLDFAST_EMAIL_STARTTLS")
EMAIL_TIMEOUT = env.number("HOLDFAST_EMAIL_TIMEOUT_SECONDS", 15)
DEFAULT_FROM_EMAIL = env.text("HOLDFAST_EMAIL_FROM", "clinic@holdfast.invalid")
# Who carries the messages to patients, for each means that a site may switch on.
CARRIERS = {
    "email": env.carrier("email", "mail", DATA_DIR),
    "text": env.carrier("text", "file", DATA_DIR),
    "letter": env.carrier("letter", "file", DATA_DIR),
}
# By which a provider that hands on patients' answers shows who it is; without one none are taken.
REPLY_SECRET = env.text("HOLDFAST_REPLY_SECRET")
# Longer than the longest of those timeouts: what a worker has held longer, it holds no more.
DELIVERY_LEASE_SECONDS = env.number("HOLDFAST_DELIVERY_LEASE_SECONDS", 600)

# What the hospital's system sends over the line: who may connect, and how much they get
HL7_ALLOWED = env.words("HOLDFAST_HL7_ALLOWED", "127.0.0.1, ::1")
HL7_MOST_KB = env.number("HOLDFAST_HL7_MOST_KB", 1000)
HL7_CONNECTIONS = env.number("HOLDFAST_HL7_CONNECTIONS", 20)
# Between two messages a sender may be silent for long, in the middle of one it may not.
HL7_IDLE_SECONDS = env.number("HOLDFAST_HL7_IDLE_SECONDS", 3600)
HL7_FRAME_SECONDS = env.number("HOLDFAST_HL7_FRAME_SECONDS", 30)

# Copies of everything, encrypted: for which public keys, where, and how many are kept
COPIES_FOR = env.words("HOLDFAST_COPIES_FOR")
COPIES_DIR = env.text("HOLDFAST_COPIES_DIR")
COPIES_KEPT = env.number("HOLDFAST_COPIES_KEPT", 14)
# The folder of pg_dump and pg_restore, where those on the path are not of the server's version.
PG_TOOLS = env.text("HOLDFAST_PG_TOOLS")

# What is written down, and how far the audit trail went each night
TRAIL_ANCHORS = env.text("HOLDFAST_TRAIL_ANCHORS", str(DATA_DIR / "trail-anchors.txt"))
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {
        "lines": {"()": "config.logs.lines"},
        "objects": {"()": "config.logs.objects"},
    },
    "handlers": {
        "console": {
            "class": "logging.StreamHandler",
            "formatter": "objects" if env.flag("HOLDFAST_LOG_JSON", PRODUCTION) else "lines",
        }
    },
    # One line a night, which is worth keeping elsewhere.
    "loggers": {"registry.services.anchors": {"level": "INFO"}},
    "root": {"handlers": ["console"], "level": env.text("HOLDFAST_LOG_LEVEL", "WARNING")},
}
# Each request has a number, which its events, its answer and the tasks that it asks for carry.
DJANGO_STRUCTLOG_CELERY_ENABLED = True
DJANGO_STRUCTLOG_IP_LOGGING_ENABLED = False
DJANGO_STRUCTLOG_TRUST_UPSTREAM_REQUEST_ID = False
DJANGO_STRUCTLOG_STATUS_START_LOG_LEVEL = logging.DEBUG
# What is refused is told by Django already.
DJANGO_STRUCTLOG_STATUS_4XX_LOG_LEVEL = logging.INFO

# What a monitor reads: counts and times of the service at /metrics/, with this token alone.
METRICS_TOKEN = env.text("HOLDFAST_METRICS_TOKEN")
if METRICS_TOKEN:
    MIDDLEWARE.insert(0, "django_prometheus.middleware.PrometheusBeforeMiddleware")
    MIDDLEWARE.append("django_prometheus.middleware.PrometheusAfterMiddleware")

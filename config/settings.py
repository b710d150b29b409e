"""Settings of Holdfast: one file, all from the environment, with defaults that are safe on a trial machine."""

from pathlib import Path

from csp.constants import NONE, SELF

from config import env

BASE_DIR = Path(__file__).resolve().parent.parent
DATA_DIR = env.folder("HOLDFAST_DATA_DIR", BASE_DIR / "var")

# Who we are
PRODUCTION = env.flag("HOLDFAST_PRODUCTION")
DEBUG = env.flag("HOLDFAST_DEBUG")
SECRET_KEY = env.text("HOLDFAST_SECRET_KEY")
if not SECRET_KEY and not PRODUCTION:
    SECRET_KEY = env.kept_secret(DATA_DIR / "secret-key")
ALLOWED_HOSTS = env.words("HOLDFAST_HOSTS", "localhost,127.0.0.1,[::1],testserver")
CSRF_TRUSTED_ORIGINS = env.words("HOLDFAST_ORIGINS")
CODE_VERSION = "0.1.0"
# How patients reach the service: what links in messages begin with.
PUBLIC_URL = env.text(
    "HOLDFAST_PUBLIC_URL", next(iter(CSRF_TRUSTED_ORIGINS), "http://127.0.0.1:8000")
).rstrip("/")
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
    "django_htmx",
    "django_filters",
    "rest_framework",
    "knox",
    "drf_spectacular",
    "django_celery_beat",
    "csp",
    "config",
    "analytics",
    "followup",
    "registry",
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
    "allauth.account.middleware.AccountMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
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
REDIS_URL = env.text("HOLDFAST_REDIS")
# SQLite cannot hold the one constraint over empty columns; the service that writes there holds it.
SILENCED_SYSTEM_CHECKS = ["models.W047"]
CACHES = {"default": env.cache(REDIS_URL, env.text("HOLDFAST_CACHE_DIR"))}

# Who comes in
AUTH_USER_MODEL = "registry.Person"
AUTHENTICATION_BACKENDS = ["allauth.account.auth_backends.AuthenticationBackend"]
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 12},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
LOGIN_URL = "account_login"
LOGIN_REDIRECT_URL = "home"
LOGOUT_REDIRECT_URL = "account_login"
ACCOUNT_ADAPTER = "config.accounts.ClosedAdapter"
ACCOUNT_LOGIN_METHODS = {"username"}
ACCOUNT_SIGNUP_FIELDS = ["username*", "password1*"]
ACCOUNT_EMAIL_VERIFICATION = "none"
ACCOUNT_SESSION_REMEMBER = False
ACCOUNT_LOGOUT_ON_GET = False
ACCOUNT_EMAIL_NOTIFICATIONS = False
# What a page says once may name a patient: it waits in the session, not in a cookie.
MESSAGE_STORAGE = "django.contrib.messages.storage.session.SessionStorage"
SESSION_COOKIE_AGE = env.number("HOLDFAST_SESSION_SECONDS", 10 * 3600)
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
SESSION_EXPIRE_AT_BROWSER_CLOSE = True

# What a browser may do
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
SESSION_COOKIE_SECURE = PRODUCTION
CSRF_COOKIE_SECURE = PRODUCTION
SECURE_SSL_REDIRECT = PRODUCTION
# Whatever watches the service asks from inside, without the proxy.
SECURE_REDIRECT_EXEMPT = [r"^health/$"]
SECURE_HSTS_SECONDS = 31_536_000 if PRODUCTION else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = PRODUCTION
SECURE_HSTS_PRELOAD = PRODUCTION
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if PRODUCTION else None
# Plotly writes an empty style element and style attributes; the hash is that of an empty element.
EMPTY_STYLE = "'sha256-47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU='"
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [SELF],
        "script-src": [SELF],
        "style-src-elem": [SELF, EMPTY_STYLE],
        "style-src-attr": ["'unsafe-inline'"],
        "img-src": [SELF, "data:", "blob:"],
        "connect-src": [SELF],
        "object-src": [NONE],
        "base-uri": [SELF],
        "form-action": [SELF],
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
# Films lie outside what any server hands out as files; they leave only through the check of rights.
FILMS_DIR = env.folder("HOLDFAST_FILMS_DIR", DATA_DIR / "films")
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
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
DATA_UPLOAD_MAX_MEMORY_SIZE = 5 * 1024 * 1024
FILE_UPLOAD_MAX_MEMORY_SIZE = 2 * 1024 * 1024
DATA_UPLOAD_MAX_NUMBER_FIELDS = 2000

# What the machine reads
REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "knox.auth.TokenAuthentication",
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
SPECTACULAR_SETTINGS = {
    "TITLE": "Holdfast",
    "DESCRIPTION": "Outcomes and follow-up registry of a shoulder-trauma service.",
    "VERSION": CODE_VERSION,
    "SERVE_INCLUDE_SCHEMA": False,
    "SERVE_PERMISSIONS": ["rest_framework.permissions.IsAuthenticated"],
    "SCHEMA_PATH_PREFIX": "/api/v1",
    "SORT_OPERATIONS": False,
    "POSTPROCESSING_HOOKS": [
        "drf_spectacular.hooks.postprocess_schema_enums",
        "registry.api.schema.with_problems",
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
        "Grade": "registry.models.procedures.Grade",
        "YesNo": "registry.models.injuries.YesNo",
        "Means": "registry.models.identities.Means",
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

# What is written down
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {
        "line": {
            "()": "config.logs.Careful",
            "format": "{asctime} {levelname} {name} {message}",
            "style": "{",
        }
    },
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["console"], "level": env.text("HOLDFAST_LOG_LEVEL", "WARNING")},
}

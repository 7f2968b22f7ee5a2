"""Settings of the project. Everything that differs from place to place is read from the environment, here only.

Without any variable set this is the embedded default: SQLite, a broker made of files, mail kept as files, all of it
under DATA_DIR. DATABASE_URL and REDIS_URL make it production. `manage.py check` names every fault of the environment.
"""

from pathlib import Path
from typing import Any

from celery.schedules import crontab
from kombu import Queue

from shop import env

# --- Where am I ---------------------------------------------------------------------------------------------------

BASE_DIR = Path(__file__).resolve().parent.parent
DATA_DIR = env.folder("DATA_DIR", BASE_DIR / "var")
PORT = env.number("PORT", 8000, 1, 65535)
BIND = env.text("BIND", "127.0.0.1")
SITE_URL = env.text("SITE_URL", f"http://127.0.0.1:{PORT}").rstrip("/")  # links in mails, no slash at the end
DEBUG = env.flag("DEBUG")
DEMO_MODE = env.flag("DEMO_MODE")  # logins shown on the sign-in page, no second factor asked; never with real data

# --- Who may connect ----------------------------------------------------------------------------------------------

SECRET_KEY = env.secret("SECRET_KEY", DATA_DIR / "secret-key")
SECRET_KEY_FALLBACKS = env.words("SECRET_KEY_FALLBACKS")
ALLOWED_HOSTS = env.words("ALLOWED_HOSTS", "localhost,127.0.0.1,[::1]")
BEHIND_HTTPS = env.flag("BEHIND_HTTPS")  # a reverse proxy speaks HTTPS and sets X-Forwarded-Proto
CSRF_TRUSTED_ORIGINS = env.words("CSRF_TRUSTED_ORIGINS")
FORWARDED_ALLOW_IPS = env.text("FORWARDED_ALLOW_IPS", "127.0.0.1")  # proxies whose X-Forwarded-* headers count
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if BEHIND_HTTPS else None
SECURE_SSL_REDIRECT = BEHIND_HTTPS
SECURE_REDIRECT_EXEMPT = [r"^healthz$"]  # asked on the machine itself, past the proxy
SECURE_HSTS_SECONDS = 31_536_000 if BEHIND_HTTPS else 0
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = BEHIND_HTTPS
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = CSRF_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_AGE = 30 * 86_400  # a pilot logs a flight every week or two
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": ["'self'"],
        "script-src": ["'self'"],
        # SHA-256 of the empty string: the plot library fills a style element that it creates empty.
        "style-src": ["'self'", "'sha256-47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU='"],
        "img-src": ["'self'", "data:", "blob:"],
        "object-src": ["'none'"],
        "base-uri": ["'none'"],
        "worker-src": ["'self'"],
        "frame-ancestors": ["'none'"],
        "form-action": ["'self'"],
    }
}

# --- Apps ---------------------------------------------------------------------------------------------------------

INSTALLED_APPS = [
    "shop",
    "engines",
    "breakin",
    "reports",
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.humanize",
    "django.contrib.messages",
    "django.contrib.sessions",
    "django.contrib.staticfiles",
    "django.forms",
    "allauth",
    "allauth.account",
    "allauth.mfa",
    "allauth.usersessions",
    "csp",
    "django_htmx",
    "drf_spectacular",
    "rest_framework",
]
MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "shop.compressed.CompressedPages",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "shop.language.LanguageMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "allauth.account.middleware.AccountMiddleware",
    "allauth.usersessions.middleware.UserSessionsMiddleware",
    "shop.second_factor.SecondFactorMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
]
ROOT_URLCONF = "shop.urls"
WSGI_APPLICATION = "shop.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.debug",
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "shop.context.shell",
            ]
        },
    }
]
FORM_RENDERER = "shop.forms.Renderer"
AUTH_USER_MODEL = "shop.User"
AUTHENTICATION_BACKENDS = ["allauth.account.auth_backends.AuthenticationBackend"]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 12},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.NumericPasswordValidator"},
]
PASSWORD_HASHERS = [
    "shop.hashers.Argon2Hasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
LOGIN_URL = "account_login"
LOGIN_REDIRECT_URL = "/"
ACCOUNT_ADAPTER = "shop.accounts.Adapter"
ACCOUNT_LOGIN_METHODS = {"email"}
ACCOUNT_SIGNUP_FIELDS = ["email*", "password1*", "password2*"]
ACCOUNT_USER_MODEL_USERNAME_FIELD = None
ACCOUNT_UNIQUE_EMAIL = True
ACCOUNT_EMAIL_VERIFICATION = "none"  # the shop invites; the link in the invitation proves the address
ACCOUNT_EMAIL_UNKNOWN_ACCOUNTS = False  # no mail to strangers whose address someone typed
ACCOUNT_PREVENT_ENUMERATION = True
# Invitations use the same tokens.
ACCOUNT_PASSWORD_RESET_TOKEN_GENERATOR = "django.contrib.auth.tokens.PasswordResetTokenGenerator"  # noqa: S105
ACCOUNT_LOGIN_ON_PASSWORD_RESET = True  # who has opened the mail and chosen a password is in; a second factor is asked
ACCOUNT_LOGOUT_ON_GET = False
ACCOUNT_LOGOUT_REDIRECT_URL = "account_login"
ACCOUNT_SESSION_REMEMBER = True
ACCOUNT_EMAIL_SUBJECT_PREFIX = ""
ACCOUNT_RATE_LIMITS = {
    "login": "30/m/ip",
    "login_failed": "10/m/ip,5/5m/key",
    "reset_password": "20/m/ip,5/m/key",
    "reset_password_from_key": "20/m/ip",
    "change_password": "5/m/user",
    "reauthenticate": "10/m/user",
}
ALLAUTH_TRUSTED_PROXY_COUNT = 1 if BEHIND_HTTPS else 0  # limits count the sender's address, not the proxy's
SECOND_FACTOR_FOR_STAFF = not DEMO_MODE
MFA_SUPPORTED_TYPES = ["totp", "webauthn", "recovery_codes"]
MFA_PASSKEY_LOGIN_ENABLED = True
MFA_TOTP_ISSUER = "Run-in Book"
MFA_ALLOW_UNVERIFIED_EMAIL = True  # sign-up is closed, so nobody can have claimed another's address
MFA_WEBAUTHN_ALLOW_INSECURE_ORIGIN = DEBUG or DEMO_MODE
REST_FRAMEWORK = {
    "DEFAULT_SCHEMA_CLASS": "shop.api.Schema",
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "shop.api_access.TokenAuthentication",  # first, since its header turns "not signed in" into 401 and not 403
        "rest_framework.authentication.SessionAuthentication",
    ],
    "DEFAULT_PERMISSION_CLASSES": [
        "rest_framework.permissions.IsAuthenticated",
        "shop.api_access.SecondFactorSet",
        "shop.api_access.ScopeAllows",
    ],
    "EXCEPTION_HANDLER": "shop.api.problems",
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["rest_framework.parsers.JSONParser"],
    "DEFAULT_THROTTLE_CLASSES": ["rest_framework.throttling.UserRateThrottle"],
    "DEFAULT_THROTTLE_RATES": {"user": "600/min", "anon": "60/min"},
    "NUM_PROXIES": 1 if BEHIND_HTTPS else 0,
    "DEFAULT_PAGINATION_CLASS": "rest_framework.pagination.LimitOffsetPagination",
    "PAGE_SIZE": 100,
    "TEST_REQUEST_DEFAULT_FORMAT": "json",
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Run-in Book",
    "VERSION": "1",
    "OAS_VERSION": "3.1.1",
    "SERVE_INCLUDE_SCHEMA": False,
    "COMPONENT_SPLIT_REQUEST": True,
}

# --- Database -----------------------------------------------------------------------------------------------------

_postgresql = env.database("DATABASE_URL")
DATABASES: dict[str, dict[str, Any]]
if _postgresql:
    DATABASES = {
        "default": {
            "ENGINE": "django.db.backends.postgresql",
            **_postgresql,
            "CONN_MAX_AGE": 60,
            "CONN_HEALTH_CHECKS": True,
        }
    }
else:
    DATABASES = {
        "default": {
            "ENGINE": "django.db.backends.sqlite3",
            "NAME": DATA_DIR / "run-in-book.sqlite3",
            "OPTIONS": {
                "timeout": 30,
                # A transaction takes the write lock at its start: one that reads first and writes later cannot fail.
                "transaction_mode": "IMMEDIATE",
                # FULL: an acknowledged log must survive a power cut. WAL needs a local disk.
                "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA foreign_keys=ON;",
            },
        }
    }
# ATOMIC_REQUESTS stays off: with IMMEDIATE every page view would be a writer. Services open their own transactions.
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
REDIS_URL = env.redis("REDIS_URL")
CACHES: dict[str, dict[str, Any]]
if REDIS_URL:
    CACHES = {"default": {"BACKEND": "django.core.cache.backends.redis.RedisCache", "LOCATION": REDIS_URL}}
else:
    # Rate limits live in the cache and must hold over all web processes.
    CACHES = {
        "default": {"BACKEND": "django.core.cache.backends.db.DatabaseCache", "LOCATION": "shop_cache"},
    }

# --- Celery -------------------------------------------------------------------------------------------------------

QUEUE_DIR = DATA_DIR / "queue"
# The client library and Celery call a socket by different names.
CELERY_BROKER_URL = REDIS_URL.replace("unix://", "redis+socket://").replace("?db=", "?virtual_host=")
CELERY_BROKER_URL = CELERY_BROKER_URL or "filesystem://localhost"
CELERY_BROKER_TRANSPORT_OPTIONS: dict[str, Any]
if REDIS_URL:
    CELERY_BROKER_TRANSPORT_OPTIONS = {
        "visibility_timeout": 1800,
        "unacked_restore_interval": 10,
        "unacked_restore_throttle": 1,
    }
else:
    CELERY_BROKER_TRANSPORT = "shop.broker:Transport"
    CELERY_BROKER_TRANSPORT_OPTIONS = {"queue_dir": str(QUEUE_DIR), "polling_interval": 0.05}
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_TASK_SERIALIZER = "json"
CELERY_ACCEPT_CONTENT = ["json"]
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_REJECT_ON_WORKER_LOST = True
CELERY_TASK_SOFT_TIME_LIMIT = 540
CELERY_TASK_TIME_LIMIT = 600
CELERY_TASK_PUBLISH_RETRY = False  # broker down: the request succeeds, the sweep in the tick queues again
CELERY_TASK_QUEUES = [Queue("work", routing_key="work"), Queue("tick", routing_key="tick")]
CELERY_TASK_DEFAULT_QUEUE = "work"
# Short tasks that must not wait behind a night of assessments; a Stop is told by the third.
CELERY_TASK_ROUTES = {
    "breakin.tasks.tick": {"queue": "tick"},
    "breakin.tasks.nightly": {"queue": "tick"},
    "breakin.tasks.send_messages": {"queue": "tick"},
}
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_WORKER_MAX_TASKS_PER_CHILD = 500
CELERY_WORKER_LOST_WAIT = 2  # seconds before the task of a child that died goes back to the queue
CELERY_WORKER_ENABLE_REMOTE_CONTROL = bool(REDIS_URL)
CELERY_WORKER_SEND_TASK_EVENTS = False
CELERY_WORKER_HIJACK_ROOT_LOGGER = False
CELERY_ENABLE_UTC = True
CELERY_TIMEZONE = env.zone("SHOP_TIME_ZONE", "UTC")  # the hours below are the shop's own
CELERY_BEAT_SCHEDULE = {
    # A tick that waited past the next one is dropped: the next does the same work.
    "tick": {"task": "breakin.tasks.tick", "schedule": crontab(), "options": {"expires": 55}},
    "nightly": {"task": "breakin.tasks.nightly", "schedule": crontab(hour=6, minute=0)},
}

# --- Mail ---------------------------------------------------------------------------------------------------------

MAIL_DIR = DATA_DIR / "mail"
DEFAULT_FROM_EMAIL = SERVER_EMAIL = env.text("MAIL_FROM", "Run-in Book <run-in-book@localhost>")
_smtp = env.smtp("EMAIL_URL")
if _smtp:
    EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    EMAIL_HOST, EMAIL_PORT = _smtp["host"], _smtp["port"]
    EMAIL_HOST_USER, EMAIL_HOST_PASSWORD = _smtp["user"], _smtp["password"]
    EMAIL_USE_TLS, EMAIL_USE_SSL = _smtp["use_tls"], _smtp["use_ssl"]
    EMAIL_TIMEOUT = 30
else:
    EMAIL_BACKEND = "django.core.mail.backends.filebased.EmailBackend"
    EMAIL_FILE_PATH = MAIL_DIR

# --- Files --------------------------------------------------------------------------------------------------------

STATIC_URL = "/static/"
STATIC_ROOT = DATA_DIR / "static"
MEDIA_ROOT = DATA_DIR / "media"  # recordings and photos; never served by address, only through views that scope
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "shop.hashed_files.HashedAndCompressed"},
}
if DEBUG:
    STORAGES["staticfiles"]["BACKEND"] = "django.contrib.staticfiles.storage.StaticFilesStorage"
elif DEMO_MODE:
    # Compressing takes some seconds at every start, which pays only where a network is in between.
    STORAGES["staticfiles"]["BACKEND"] = "shop.hashed_files.Hashed"
WHITENOISE_MAX_AGE = 3600  # of files whose name carries no hash; the others are kept for ever
MAX_UPLOAD_BYTES = env.number("MAX_UPLOAD_BYTES", 64 * 1024 * 1024, 1024, 10**10)
FILE_UPLOAD_HANDLERS = ["shop.uploads.LimitedUploadHandler"]
FILE_UPLOAD_PERMISSIONS = 0o600
DATA_UPLOAD_MAX_MEMORY_SIZE = 2 * 1024 * 1024  # form fields and API bodies; files have their own limit above

# --- Time ---------------------------------------------------------------------------------------------------------

USE_TZ = True
TIME_ZONE = "UTC"
LANGUAGE_CODE = "en"
LANGUAGES = [("en", "English"), ("de", "Deutsch")]  # of the pilots' pages; the shop's side is English
USE_I18N = True

# --- Ours ---------------------------------------------------------------------------------------------------------

SHOP_TIME_ZONE = CELERY_TIMEZONE
HEARTBEAT_LIMIT_SECONDS = env.number("HEARTBEAT_LIMIT_SECONDS", 300, 60, 86_400)  # /healthz says 503 past this age
CONFIGURATION_FAULTS = tuple(env.FAULTS)
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "{asctime} {levelname} {name}: {message}", "style": "{"}},
    "handlers": {"stderr": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["stderr"], "level": env.text("LOG_LEVEL", "INFO")},
    "loggers": {"django": {"handlers": ["stderr"], "level": "INFO", "propagate": False}},
}

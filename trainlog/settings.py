"""Settings, all from environment variables; README.md lists them in one table, which a test holds to this."""

from pathlib import Path
from urllib.parse import urlsplit

import environ
from csp.constants import NONE, SELF
from django.core.exceptions import ImproperlyConfigured

from trainlog import secret_key
from trainlog.databases import as_used
from trainlog.runtime_folder import queue_socket
from trainlog.telling.log_lines import logging_settings

env = environ.Env()

BASE_DIR = Path(__file__).resolve().parent.parent
DATA_FOLDER = Path(env.str("TRAINLOG_DATA_FOLDER", default=str(BASE_DIR / "var"))).resolve()
DATA_FOLDER.mkdir(mode=0o700, parents=True, exist_ok=True)
DEBUG = env.bool("TRAINLOG_DEBUG", default=False)

SECRET_KEY = env.str("TRAINLOG_SECRET_KEY", default="") or secret_key.read(DATA_FOLDER)
if not SECRET_KEY:
    if not DEBUG:
        raise ImproperlyConfigured(
            f"There is no secret key. Run `python -m trainlog.secret_key {DATA_FOLDER}` "
            "to make and keep one, or set TRAINLOG_SECRET_KEY."
        )
    SECRET_KEY = "only-for-debugging"

BASE_URL = env.str("TRAINLOG_BASE_URL", default="http://127.0.0.1:8000").rstrip("/")
_address = urlsplit(BASE_URL)
if _address.scheme not in {"http", "https"} or not _address.hostname:
    raise ImproperlyConfigured(f"TRAINLOG_BASE_URL must look like https://log.example.org, not {BASE_URL!r}.")
_secure = _address.scheme == "https"
ALLOWED_HOSTS = sorted({_address.hostname, "127.0.0.1", "localhost"})
CSRF_TRUSTED_ORIGINS = [BASE_URL]
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = _secure
SECURE_HSTS_SECONDS = 31_536_000 if _secure else 0
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if _secure else None
SESSION_COOKIE_HTTPONLY = True
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
SILENCED_SYSTEM_CHECKS = [
    "security.W005",  # other hosts under this name are not ours to bind to https,
    "security.W021",  # nor is the name ours to have browsers know it beforehand
    "security.W008",  # the proxy that speaks TLS redirects; here health is asked for without it
]

MAX_FILE_BYTES = env.int("TRAINLOG_MAX_FILE_MB", default=64) * 1024 * 1024
MAX_FILES_AT_ONCE = env.int("TRAINLOG_MAX_FILES_AT_ONCE", default=200)
DATA_UPLOAD_MAX_NUMBER_FILES = MAX_FILES_AT_ONCE
FILE_UPLOAD_MAX_MEMORY_SIZE = 1024 * 1024
# Of one token or session, in each web process; 0 is no limit.
API_READS_A_MINUTE = env.int("TRAINLOG_API_READS_A_MINUTE", default=3000)
API_CHANGES_A_MINUTE = env.int("TRAINLOG_API_CHANGES_A_MINUTE", default=600)
DATA_UPLOAD_MAX_MEMORY_SIZE = 2_621_440  # what is no file: a form, or JSON
MAX_BODY_BYTES = 2**30 + 2**20  # a whole export of a gigabyte, with the form around it

INSTALLED_APPS = [
    "trainlog.apps.TrainlogConfig",
    "accuracy.apps.AccuracyConfig",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "django.contrib.humanize",
    "django_htmx",
    "django_otp",
    "django_otp.plugins.otp_totp",
    "django_otp.plugins.otp_static",
    "axes",
    "csp",
    "ninja",
]
MIDDLEWARE = [
    "trainlog.telling.requests.RequestMiddleware",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    # Pages hold the figures of their charts. Each answer gets random padding and a token masked anew, so its
    # compressed length tells nothing of what is secret in it.
    "django.middleware.gzip.GZipMiddleware",
    "csp.middleware.CSPMiddleware",
    "trainlog.api.middleware.ApiMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "trainlog.web.sign_in_middleware.SignInMiddleware",
    "trainlog.web.body_limits.BodyLimitMiddleware",
    "trainlog.web.private_pages.PrivatePagesMiddleware",
    "trainlog.web.middleware.SignedInMiddleware",
    "trainlog.web.middleware.AthleteMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "axes.middleware.AxesMiddleware",
]
ROOT_URLCONF = "trainlog.urls"
WSGI_APPLICATION = "trainlog.wsgi.application"
# Django's own widgets, in the templates that it has of them for Jinja: those are drawn faster.
FORM_RENDERER = "django.forms.renderers.Jinja2"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
            ],
        },
    }
]

DATABASES = {
    "default": as_used(
        env.db_url("TRAINLOG_DATABASE_URL", default=f"sqlite:///{DATA_FOLDER / 'trainlog.sqlite3'}")
    )
}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

LONGEST_TASK = env.float("TRAINLOG_LONGEST_TASK_SECONDS", default=30.0)
SWEEP_EVERY = env.float("TRAINLOG_SWEEP_SECONDS", default=20.0)
CELERY_BROKER_URL = env.str(
    "TRAINLOG_BROKER_URL", default=f"redis+socket://{queue_socket(DATA_FOLDER)}?virtual_host=0"
)

AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "django.contrib.auth.backends.ModelBackend",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": f"django.contrib.auth.password_validation.{name}"}
    for name in ("UserAttributeSimilarityValidator", "MinimumLengthValidator", "CommonPasswordValidator")
]
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AXES_FAILURE_LIMIT = 10
AXES_COOLOFF_TIME = 0.25  # hours
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_VERBOSE = False
AXES_SENSITIVE_PARAMETERS = ["username", "ip_address", "code"]
AXES_LOCKOUT_TEMPLATE = "locked_out.html"
OTP_TOTP_ISSUER = "Training log"
LOGIN_URL = "sign_in"
LOGIN_REDIRECT_URL = "log"
LOGOUT_REDIRECT_URL = "sign_in"

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF, "data:"],
        "font-src": [SELF],
        "connect-src": [SELF],
        "form-action": [SELF],
        "base-uri": [NONE],
        "frame-ancestors": [NONE],
    }
}

LANGUAGE_CODE = "en-gb"
TIME_ZONE = "UTC"
USE_TZ = True
STATIC_URL = "/static/"
STATIC_ROOT = DATA_FOLDER / "static"
STATICFILES_FINDERS = [
    "django.contrib.staticfiles.finders.AppDirectoriesFinder",
    "trainlog.static_files.BundleFinder",
]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"
        if DEBUG
        else "whitenoise.storage.CompressedManifestStaticFilesStorage"
    },
}

LOGGING = logging_settings(
    env.str("TRAINLOG_LOG_FORMAT", default="plain"), env.str("TRAINLOG_LOG_LEVEL", default="WARNING")
)
METRICS_TOKEN = env.str("TRAINLOG_METRICS_TOKEN", default="")
_metrics_folder = env.str("TRAINLOG_METRICS_FOLDER", default="")
METRICS_FOLDER = Path(_metrics_folder) if _metrics_folder else None

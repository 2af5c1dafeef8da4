"""Settings of the house. Everything a studio may change itself lives in `people.settings`, not here.

From the environment: STUDIO_DATA (where the data live), STUDIO_SECRET, STUDIO_DATABASE (a postgres:// address
instead of
SQLite), STUDIO_HOSTS (names the studio answers to, with commas), STUDIO_HTTPS=1 (behind a proxy that speaks
https) and
STUDIO_PROXY (that proxy's address, 127.0.0.1 unless told).
"""

import os
from datetime import timedelta
from pathlib import Path

from studio.config.environment import data_directory, database, hosts, secret

BASE_DIR = Path(__file__).resolve().parent.parent.parent
DATA_DIR = data_directory(BASE_DIR)
SECRET_KEY = secret(DATA_DIR)
DEBUG = False
HTTPS = os.environ.get("STUDIO_HTTPS") == "1"
ALLOWED_HOSTS = ["localhost", "127.0.0.1", "[::1]", *hosts()]

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.forms",
    "axes",
    "django_tasks",
    "django_tasks_db",
    "django_htmx",
    "django_tables2",
    "django_filters",
    "studio.fields",
    "studio.jobs",
    "studio.pictures",
    "studio.people",
    "studio.ledger",
    "studio.wood",
    "studio.stores",
    "studio.equipment",
    "studio.work",
    "studio.pieces",
    "studio.selling",
    "studio.pricing",
    "studio.commissions",
    "studio.reports",
    "studio.papers",
    "studio.web",
    "studio.demo",
    "studio.config",
]

MIDDLEWARE = [
    # Outermost, so that error pages and static files carry the policy too.
    "studio.config.csp.SecurityPolicyMiddleware",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    # Below the static files, which may be kept; nothing else may.
    "studio.config.csp.NoStoreMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "studio.web.middleware.StudioMiddleware",
    "axes.middleware.AxesMiddleware",
]
ROOT_URLCONF = "studio.config.urls"
WSGI_APPLICATION = "studio.config.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "studio.web.context.shell",
            ]
        },
    }
]
# Templates of our own may override those of form fields.
FORM_RENDERER = "django.forms.renderers.TemplatesSetting"
DJANGO_TABLES2_TEMPLATE = "parts/table.html"
DATABASES = {"default": database(DATA_DIR)}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
TASKS = {"default": {"BACKEND": "django_tasks_db.DatabaseBackend", "QUEUES": ["default"]}}

LANGUAGE_CODE = "en-gb"
USE_TZ = True
TIME_ZONE = "UTC"

# --- who may come in -----------------------------------------------------------------------------
AUTH_USER_MODEL = "people.User"
AUTHENTICATION_BACKENDS = ["axes.backends.AxesStandaloneBackend", "django.contrib.auth.backends.ModelBackend"]
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator",
        "OPTIONS": {"user_attributes": ("username", "display_name", "email")},
    },
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 12}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
LOGIN_URL = "/sign-in/"
LOGIN_REDIRECT_URL = "/"
LOGOUT_REDIRECT_URL = "/sign-in/"
# Ten tries in a quarter of an hour for one name from one machine; it opens again by itself.
AXES_FAILURE_LIMIT = 10
AXES_COOLOFF_TIME = timedelta(minutes=15)
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_USERNAME_CALLABLE = "studio.config.signin.name_tried"
AXES_RESET_ON_SUCCESS = True
AXES_LOCKOUT_CALLABLE = "studio.config.errors.too_many_tries"
AXES_VERBOSE = False
AXES_ENABLE_ADMIN = False

SESSION_COOKIE_AGE = int(timedelta(days=14).total_seconds())
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_HTTPONLY = True
CSRF_COOKIE_SAMESITE = "Lax"
CSRF_FAILURE_VIEW = "studio.config.errors.csrf_failure"

# --- what the browser is told --------------------------------------------------------------------
SECURE_CSP = {
    "default-src": "'none'",
    "script-src": "'self'",
    "style-src": "'self'",
    "img-src": "'self' blob: data:",
    "font-src": "'self'",
    "connect-src": "'self'",
    "form-action": "'self'",
    "base-uri": "'none'",
    "frame-ancestors": "'none'",
}
PERMISSIONS_POLICY = "camera=(self), geolocation=(), microphone=(), payment=(), usb=()"
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
if HTTPS:
    SECURE_SSL_REDIRECT = True
    SECURE_HSTS_SECONDS = int(timedelta(days=365).total_seconds())
    SECURE_HSTS_INCLUDE_SUBDOMAINS = True
    SECURE_HSTS_PRELOAD = True
    SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = True
    SESSION_COOKIE_NAME, CSRF_COOKIE_NAME = "__Host-session", "__Host-csrf"
    CSRF_TRUSTED_ORIGINS = [f"https://{host}" for host in hosts()]
# The one proxy whose word on scheme and visitor is taken; the web server drops everybody else's.
TRUSTED_PROXY = os.environ.get("STUDIO_PROXY", "127.0.0.1") if HTTPS else None

# --- files ---------------------------------------------------------------------------------------
STATIC_URL = "static/"
STATICFILES_DIRS = [BASE_DIR / "static"]
STATIC_ROOT = DATA_DIR / "static"
STATICFILES_FINDERS = [
    "django.contrib.staticfiles.finders.FileSystemFinder",
    "django.contrib.staticfiles.finders.AppDirectoriesFinder",
    "studio.web.fonts.FontFinder",
]
MEDIA_ROOT = DATA_DIR / "pictures"
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"},
}
FILE_UPLOAD_PERMISSIONS = 0o600
FILE_UPLOAD_DIRECTORY_PERMISSIONS = 0o700
DATA_UPLOAD_MAX_MEMORY_SIZE = 2 * 1024 * 1024
DATA_UPLOAD_MAX_NUMBER_FIELDS = 2000
DATA_UPLOAD_MAX_NUMBER_FILES = 20
# A whole request, pictures included: the web server cuts it off here.
MAX_REQUEST_BYTES = 80 * 1024 * 1024

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "filters": {"quiet": {"()": "studio.config.logs.HideSecrets"}},
    "formatters": {
        "line": {
            "()": "studio.config.logs.OneLine",
            "format": "{asctime} {levelname} {name}: {message}",
            "style": "{",
        }
    },
    "handlers": {"errors": {"class": "logging.StreamHandler", "formatter": "line", "filters": ["quiet"]}},
    "root": {"handlers": ["errors"], "level": "WARNING"},
    "loggers": {"django": {"handlers": ["errors"], "level": "WARNING", "propagate": False}},
}

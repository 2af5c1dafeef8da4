"""The settings the tests run under: data in a folder of their own that goes when they end, a quick hasher,
plain files."""

import atexit
import os
import shutil
import tempfile

# Set before the settings are read: tests must never open the studio's own data.
os.environ["STUDIO_DATA"] = tempfile.mkdtemp(prefix="gramwood-test-")
os.environ.pop("STUDIO_HTTPS", None)
atexit.register(shutil.rmtree, os.environ["STUDIO_DATA"], ignore_errors=True)

from studio.config.settings import *  # noqa: E402, F403
from studio.config.settings import ALLOWED_HOSTS, DATA_DIR, DATABASES, STATIC_ROOT, STORAGES  # noqa: E402

ALLOWED_HOSTS = [*ALLOWED_HOSTS, "testserver"]
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
STORAGES = {**STORAGES, "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}}
STATIC_ROOT.mkdir(exist_ok=True)
if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    # A real file, so that the tests meet WAL and locks as the studio does.
    DATABASES["default"]["TEST"] = {"NAME": str(DATA_DIR / "test.sqlite3")}

"""The project's settings with a throw-away DATA_DIR, quick passwords and mail kept in memory."""

import atexit
import os
import shutil
import tempfile
import time
from pathlib import Path

# What a tester's shell happens to hold must not change a result.
for _name in (
    "DEMO_MODE",
    "DEBUG",
    "BIND",
    "PORT",
    "SITE_URL",
    "EMAIL_URL",
    "BEHIND_HTTPS",
    "ALLOWED_HOSTS",
    "SECRET_KEY",
):
    os.environ.pop(_name, None)
# Used by the tests of Redis alone. Kept in the environment, which the processes of a parallel run inherit.
TEST_REDIS_URL = os.environ["TEST_REDIS_URL"] = os.environ.pop("REDIS_URL", os.environ.get("TEST_REDIS_URL", ""))


def _throw_away_folder() -> str:
    """A new folder; the processes of a parallel run make theirs in that of the first, which clears all away."""
    inside = os.environ.get("TEST_DATA_ROOT")
    folder = tempfile.mkdtemp(prefix="run-in-book-test-", dir=inside)
    if not inside:
        os.environ["TEST_DATA_ROOT"] = folder
        atexit.register(shutil.rmtree, folder, ignore_errors=True)
        for old in Path(folder).parent.glob("run-in-book-test-*"):  # of processes that were killed
            if old.stat().st_mtime < time.time() - 86_400:
                shutil.rmtree(old, ignore_errors=True)
    return folder


os.environ["DATA_DIR"] = _throw_away_folder()

from shop.settings import *  # noqa: E402, F403
from shop.settings import DATABASES, STORAGES  # noqa: E402

PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
SECOND_FACTOR_FOR_STAFF = False  # asked for by the tests of it, tests/shop/test_sign_in_second_factor.py
EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
CACHES = {"default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"}}
# The other storage wants every file collected first.
STORAGES["staticfiles"]["BACKEND"] = "django.contrib.staticfiles.storage.StaticFilesStorage"
WHITENOISE_AUTOREFRESH = True
LOGGING = {"version": 1, "disable_existing_loggers": False}

_database = DATABASES["default"]
if _database["ENGINE"].endswith("sqlite3"):
    # A file, not memory, so that threads and other processes see it; what a power cut would do to it is all the same.
    # Tables are made from the models, in a tenth of the time; PostgreSQL and the tests of `serve` go by the migrations.
    _database["TEST"] = {"NAME": str(Path(os.environ["DATA_DIR"]) / "test.sqlite3"), "MIGRATE": False}
    _database["OPTIONS"]["init_command"] = _database["OPTIONS"]["init_command"].replace("=FULL", "=OFF")
else:
    _database["CONN_MAX_AGE"] = 0
    _database["TEST"] = {"NAME": f"test_run_in_book_{os.getpid()}"}  # several runs may use one server

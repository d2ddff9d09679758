"""The program's settings for tests: a data folder of their own, quick passwords, plain file names."""

import os
import tempfile

for name in [name for name in os.environ if name.startswith("CLEARBATH_")]:
    del os.environ[name]
if "TESTS_FOLDER" not in os.environ:
    # Workers inherit the name and leave the cleaning to the process that made the folder.
    folder = tempfile.TemporaryDirectory(prefix="clearbath-tests-")
    os.environ["TESTS_FOLDER"] = folder.name
os.environ["CLEARBATH_DATA"] = os.path.join(os.environ["TESTS_FOLDER"], os.environ.get("PYTEST_XDIST_WORKER", "data"))

from studio.settings import *  # noqa: E402, F403

PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = True

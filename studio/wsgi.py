"""The door for the web server: `gunicorn studio.wsgi`."""

import os
import sys

from django.core.wsgi import get_wsgi_application

from studio.environment import WrongSetting

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.settings")

try:
    application = get_wsgi_application()
except WrongSetting as error:
    sys.exit(f"Clearbath cannot start: {error}")

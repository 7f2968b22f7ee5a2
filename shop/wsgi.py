"""The web application for gunicorn."""

import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shop.settings")

application = get_wsgi_application()

# Here, not above: the settings must be loaded by Django first.
from shop.checks import refuse_faults  # noqa: E402

refuse_faults()

"""The web server's entry; refuses to start on a database without its guards."""

from __future__ import annotations

import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
application = get_wsgi_application()

from staff import guards  # noqa: E402  (models load only after Django is set up)

guards.require()

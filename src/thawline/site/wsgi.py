"""The web application, for a server to call."""

from __future__ import annotations

import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "thawline.site.settings")
application = get_wsgi_application()

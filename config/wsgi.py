"""The WSGI application."""

import os
from importlib import import_module

from django.conf import settings
from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
application = get_wsgi_application()
# Django's registry is ready from here on.
import_module("config.checks").refuse_unsafe(settings)
# The pages and what they compute with are loaded before a process serves, not while somebody waits.
import_module(settings.ROOT_URLCONF)

"""Says whether the service works, for whatever watches it; no names, versions or faults leak."""

from datetime import datetime, timedelta

from celery import current_app
from django.contrib.auth.decorators import login_not_required
from django.core.cache import cache
from django.db import DatabaseError, connection
from django.http import HttpRequest, JsonResponse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe
from kombu.exceptions import OperationalError
from redis.exceptions import RedisError

LAST_WORK = "worker-last-work"
# Something is scheduled for every minute, so three minutes of silence mean that nobody works.
LATE_AFTER = timedelta(minutes=3)


def note_work(now: datetime) -> None:
    """Write down that a worker is at work."""
    cache.set(LAST_WORK, now, timeout=None)


@login_not_required
@require_safe
@never_cache
def alive(request: HttpRequest) -> JsonResponse:
    """Answer 200 while this process answers at all, whatever else is down: whether to restart it."""
    return JsonResponse({"alive": True})


@login_not_required
@require_safe
@never_cache
def health(request: HttpRequest) -> JsonResponse:
    """Answer 200 while pages can be served, 503 otherwise; a late worker is said, not fatal."""
    parts = {"database": _database(), "cache": _cache(), "broker": _broker()}
    works = all(state == "ok" for state in parts.values())
    parts["worker"] = worker_state(timezone.now()) if works else "unknown"
    return JsonResponse({"works": works, **parts}, status=200 if works else 503)


def _database() -> str:
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    except DatabaseError:
        return "down"
    return "ok"


def _cache() -> str:
    try:
        cache.set("health", "ok", timeout=60)
    except (RedisError, OSError):
        return "down"
    return "ok"


def _broker() -> str:
    try:
        with current_app.connection_for_write(connect_timeout=2) as link:
            link.ensure_connection(max_retries=1, timeout=2)
    except (OperationalError, RedisError, OSError):
        return "down"
    return "ok"


def worker_state(now: datetime) -> str:
    """Say whether a worker has shown life of late: 'ok' or 'late'."""
    last = cache.get(LAST_WORK)
    return "ok" if last is not None and now - last < LATE_AFTER else "late"

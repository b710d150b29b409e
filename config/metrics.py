"""Numbers for a monitor in the text format of Prometheus: times of pages, and how the work stands.

No number names a patient, a person or a site; labels are names of pages, jobs and states alone.
"""

import os
import secrets
from collections.abc import Iterator
from datetime import datetime

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.core.cache import cache
from django.db.models import Count
from django.http import Http404, HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_safe
from prometheus_client import CONTENT_TYPE_LATEST, REGISTRY, CollectorRegistry, generate_latest
from prometheus_client.core import GaugeMetricFamily, Metric
from prometheus_client.multiprocess import MultiProcessCollector
from prometheus_client.registry import Collector

from config import background, health, verifying
from config.copies import shelf
from followup.models import Message
from followup.models.messages import PARKED, MessageState
from registry.selectors import jobs

BEARER = "Bearer "
NOT_ENDED = (MessageState.WAITING, MessageState.SENDING, *PARKED)


@login_not_required
@require_safe
def metrics(request: HttpRequest) -> HttpResponse:
    """Answer a monitor that shows the token; to everybody else this address is not there."""
    wanted = settings.METRICS_TOKEN
    shown = request.headers.get("Authorization", "")
    if not wanted or not secrets.compare_digest(shown.encode(), f"{BEARER}{wanted}".encode()):
        raise Http404
    said = generate_latest(_processes()) + generate_latest(_ours(timezone.now()))
    return HttpResponse(said, content_type=CONTENT_TYPE_LATEST)


def _processes() -> CollectorRegistry:
    """Return what all processes of this web server counted, or this one where it is alone."""
    if "PROMETHEUS_MULTIPROC_DIR" not in os.environ:
        return REGISTRY
    registry = CollectorRegistry()
    MultiProcessCollector(registry)  # type: ignore[no-untyped-call]
    return registry


def _ours(now: datetime) -> CollectorRegistry:
    registry = CollectorRegistry()
    registry.register(HowWorkStands(now))
    return registry


class HowWorkStands(Collector):
    """Counts, when it is asked, what an operator is woken for; in as many queries whatever the size."""

    def __init__(self, now: datetime) -> None:
        """Keep the moment that everything is held against."""
        self.now = now

    def collect(self) -> Iterator[Metric]:
        """Yield each number with its meaning."""
        rows = background.lines(self.now)
        yield _by(
            "job",
            "holdfast_job_stuck",
            "1 where a job is stuck or owes a night",
            {row.job: int(bool(row.stuck)) for row in rows},
        )
        yield _by(
            "job",
            "holdfast_job_failed",
            "1 where a job has not gone well since its last fault",
            {row.job: int(bool(row.fault)) for row in rows},
        )
        yield _by(
            "job",
            "holdfast_job_last_good_timestamp_seconds",
            "When a job last went well",
            {
                row.job: row.lock.last_good.started_at.timestamp()
                for row in rows
                if row.lock and row.lock.last_good
            },
        )
        held = dict(
            Message.objects.filter(state__in=NOT_ENDED)
            .order_by()
            .values_list("state")
            .annotate(number=Count("pk"))
        )
        yield _by(
            "state",
            "holdfast_messages",
            "Messages to patients that have not ended, by state",
            {state: held.get(state, 0) for state in NOT_ENDED},
        )
        yield GaugeMetricFamily(
            "holdfast_trail_unsealed",
            "Entries of the trail that wait for their seal",
            jobs.unsealed(),
        )
        oldest = jobs.unsealed_since()
        yield GaugeMetricFamily(
            "holdfast_trail_unsealed_seconds",
            "For how long the oldest entry of the trail has waited for its seal",
            (self.now - oldest).total_seconds() if oldest else 0,
        )
        yield GaugeMetricFamily(
            "holdfast_rules_broken",
            "Rules about the records that did not hold when they were looked through last",
            sum(
                len(verifying.broken(row.lock.last_good.counts))
                for row in rows
                if row.lock and row.lock.last_good
            ),
        )
        last_copy = shelf.newest() if shelf.is_set_up() else None
        yield GaugeMetricFamily(
            "holdfast_copy_timestamp_seconds",
            "Of when the newest copy of the records is, 0 where there is none",
            last_copy[0].timestamp() if last_copy else 0,
        )
        waiting = background.queue_length()
        if waiting is not None:
            yield GaugeMetricFamily("holdfast_queue", "Tasks that wait for a worker", waiting)
        last = cache.get(health.LAST_WORK)
        yield GaugeMetricFamily(
            "holdfast_worker_last_work_timestamp_seconds",
            "When a worker last showed life, 0 where none has",
            last.timestamp() if last else 0,
        )


def _by(label: str, name: str, meaning: str, values: dict[str, float]) -> GaugeMetricFamily:
    family = GaugeMetricFamily(name, meaning, labels=[label])
    for key, value in values.items():
        family.add_metric([key], value)
    return family

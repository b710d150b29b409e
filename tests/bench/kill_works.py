"""Six works of a service, each of which can be counted afterwards: what of it is there, and how often."""

import hashlib
import io
import re
from abc import ABC, abstractmethod
from collections import Counter
from datetime import timedelta
from itertools import count
from typing import Any

import httpx
import numpy as np
from celery import Celery
from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY
from django.contrib.sessions.backends.db import SessionStore
from django.core.files.base import ContentFile
from django.utils import timezone
from knox.models import AuthToken
from PIL import Image

from analytics.models import Pack, PackFile, Snapshot
from analytics.models.packs import PackState
from analytics.services import packs, snapshots
from followup.models import ImportDraft, IncomingImage, Message, Review
from followup.models.imports import DraftState
from followup.models.messages import MessageState
from followup.services import import_runs, reminders, uploads
from registry.models import ImportBatch, Patient, PatientMerge, Person, Procedure
from registry.models.procedures import ProcedureKind
from tests import builders
from tests.bench.kill_town import Town, steady
from tests.followup.case_files import case, file_of
from tests.provider import Provider

_numbers = count(1000)
# What an act is answered with while the other side is dead or comes up.
Unreachable = (httpx.HTTPError, OSError)
BACKEND = "allauth.account.auth_backends.AuthenticationBackend"


class Work(ABC):
    """Something to be done, driven on until it is done, and counted."""

    size = 6

    def __init__(self, town: Town, provider: Provider, by: Person) -> None:
        self.town, self.provider, self.by = town, provider, by
        self.asking = Celery(broker=town.broker_settings["HOLDFAST_BROKER"])
        self.asking.conf.broker_transport_options = {"socket_timeout": 2, "max_retries": 1}

    @abstractmethod
    def begin(self) -> None:
        """Make what is to be done."""

    @abstractmethod
    def push(self) -> None:
        """Do one act that drives it on; whatever cannot be reached is left to the next."""

    @abstractmethod
    def is_done(self) -> bool:
        """Say whether nothing is left to be done."""

    @abstractmethod
    def count(self) -> tuple[int, int]:
        """Return how many of it are lost, and how many are there more than once."""

    def ask(self, task: str) -> None:
        """Ask a worker, as beat does every minute."""
        self.asking.send_task(task, retry=False)


class Import(Work):
    """A file of cases, landed part by part by the worker."""

    size = 12

    def begin(self) -> None:
        numbers = [next(_numbers) for _ in range(self.size)]
        written = file_of(*(case(n) for n in numbers)).getvalue()
        self.digest, content = (
            hashlib.sha256(written).hexdigest(),
            ContentFile(written, "cases.csv"),
        )
        self.numbers = [f"{n:06d}" for n in numbers]
        self.draft = uploads.keep_upload(
            content=content,
            name="cases.csv",
            site=builders.site(),
            by=self.by,
            now=timezone.now(),
        )

    def push(self) -> None:
        self.draft = ImportDraft.objects.filter(pk=self.draft.pk).first() or self.draft
        if self.draft.state == DraftState.CHECKED:
            import_runs.start(self.draft, by=self.by, now=timezone.now())
        elif self.draft.fault:
            import_runs.resume(self.draft)
        self.ask("followup.tasks.imports.work")

    def is_done(self) -> bool:
        # A file that landed whole is gone.
        draft = ImportDraft.objects.filter(pk=self.draft.pk).first()
        return draft is None or draft.state == DraftState.LANDED

    def count(self) -> tuple[int, int]:
        found = Counter(
            Procedure.objects.filter(
                injury__patient__identifiers__value__in=self.numbers
            ).values_list("injury__patient__identifiers__value", flat=True)
        )
        lost = sum(1 for number in self.numbers if not found[number])
        batches = ImportBatch.objects.filter(content_hash=self.digest, state="done")
        lost += sum(abs(self.size - batch.rows_landed) for batch in batches)
        doubled = sum(many - 1 for many in found.values()) + max(0, len(batches) - 1)
        return lost + (not batches), doubled


class Messages(Work):
    """Letters by a provider that can be asked what it took: each goes once."""

    def begin(self) -> None:
        now, today = timezone.now(), timezone.localdate()
        made: list[int] = []
        for _ in range(self.size):
            number = next(_numbers)
            whose = builders.patient(
                address=f"{number} Saltgate",
                preferred_means="letter",
                family_name=f"Letter{number}",
            )
            operation = builders.procedure(of=builders.injury(of=whose))
            theirs = Review.objects.filter(procedure=operation)
            wanted = theirs.get(step__code="6m")
            theirs.exclude(pk=wanted.pk).update(state="lapsed")
            theirs.filter(pk=wanted.pk).update(
                opens_on=today - timedelta(days=10),
                due_on=today,
                proposed_on=today,
                closes_on=today + timedelta(days=60),
            )
            made.append(whose.pk)
        reminders.plan_reminders(now=now, today=today)
        mine = Message.objects.filter(patient__in=made)
        self.keys = {str(key) for key in mine.values_list("uuid", flat=True)}
        assert len(self.keys) == self.size, f"{len(self.keys)} messages wait"

    def push(self) -> None:
        self.ask("followup.tasks.messages.deliver")

    def is_done(self) -> bool:
        return not self._mine().exclude(state=MessageState.SENT).exists()

    def _mine(self) -> Any:
        return Message.objects.filter(uuid__in=self.keys)

    def count(self) -> tuple[int, int]:
        sent = {
            str(key) for key in self._mine().filter(state="sent").values_list("uuid", flat=True)
        }
        lost = sum(1 for key in self.keys if key not in sent or not self.provider.taken[key])
        return lost, sum(self.provider.received[key] - 1 for key in sent)


class SnapshotMaking(Work):
    """The frames of all sites, frozen by the worker after something changed."""

    size = 1

    def begin(self) -> None:
        builders.procedure()
        self.cases = Procedure.objects.filter(kind=ProcedureKind.FIXATION).count()

    def push(self) -> None:
        self.ask("analytics.tasks.snapshots.refresh")

    def is_done(self) -> bool:
        newest = Snapshot.objects.defer("frames").first()
        return newest is not None and snapshots.is_fresh(newest, timezone.localdate())

    def count(self) -> tuple[int, int]:
        newest = Snapshot.objects.defer("frames").latest()
        hashes = Counter(Snapshot.objects.values_list("content_hash", flat=True))
        return self.cases - newest.row_counts["cases"], sum(n - 1 for n in hashes.values())


class PackMaking(Work):
    """A pack for the meeting, made by the worker from one snapshot."""

    size = 1

    def begin(self) -> None:
        self.pack = packs.ask(
            sites=[builders.site()],
            address="",
            for_outside=False,
            by=self.by,
            now=timezone.now(),
        )

    def push(self) -> None:
        self.ask("analytics.tasks.packs.make")

    def is_done(self) -> bool:
        return Pack.objects.get(pk=self.pack.pk).state in (PackState.READY, PackState.FAILED)

    def count(self) -> tuple[int, int]:
        made = Pack.objects.get(pk=self.pack.pk)
        kinds = Counter(PackFile.objects.filter(pack=made).values_list("kind", flat=True))
        lost = made.state != PackState.READY or len(kinds) < 3
        return int(lost), sum(many - 1 for many in kinds.values())


class Upload(Work):
    """Pictures of films, sent by a program that sends again what was not answered."""

    def begin(self) -> None:
        token = AuthToken.objects.create(user=self.by)[1]
        self.client = httpx.Client(
            base_url=self.town.url, headers={"Authorization": f"Token {token}"}, timeout=60
        )
        self.left = [_picture(next(_numbers)) for _ in range(self.size)]
        self.sent = [hashlib.sha256(content).hexdigest() for content in self.left]

    def push(self) -> None:
        if not self.left:
            return
        answer = self.client.post(
            "/api/v1/films-in/",
            data={"site": builders.site().code},
            files={"file": ("film.png", self.left[0], "image/png")},
        )
        if answer.status_code == 201 or (answer.status_code == 400 and "came in" in answer.text):
            self.left.pop(0)
        elif answer.status_code < 500:
            raise AssertionError(f"{answer.status_code}: {answer.text}")

    def is_done(self) -> bool:
        return not self.left

    def count(self) -> tuple[int, int]:
        found = Counter(
            IncomingImage.objects.filter(content_hash__in=self.sent).values_list(
                "content_hash", flat=True
            )
        )
        lost = sum(1 for digest in self.sent if not found[digest])
        return lost, sum(many - 1 for many in found.values())


def _picture(number: int) -> bytes:
    greys = np.random.default_rng(number).integers(0, 255, (600, 500), dtype=np.uint8)
    target = io.BytesIO()
    Image.fromarray(greys).save(target, "PNG")
    return target.getvalue()


class Merge(Work):
    """Two entries of one person merged on the page, by somebody who presses again."""

    def begin(self) -> None:
        self.pairs = []
        for _ in range(self.size):
            one, other = builders.patient(), builders.patient()
            builders.procedure(of=builders.injury(of=one))
            builders.procedure(of=builders.injury(of=other))
            self.pairs.append((one.key, other.key))
        self.left = list(self.pairs)
        session = SessionStore()
        session[SESSION_KEY], session[BACKEND_SESSION_KEY] = str(self.by.pk), BACKEND
        session[HASH_SESSION_KEY] = self.by.get_session_auth_hash()
        session.create()
        self.client = httpx.Client(
            base_url=self.town.url, cookies={"sessionid": str(session.session_key)}, timeout=60
        )

    def push(self) -> None:
        if not self.left:
            return
        one, other = self.left[0]
        if Patient.objects.get(key=other).merged_into_id is not None:
            self.left.pop(0)
            return
        address = f"/duplicates/merge/?one={one}&other={other}"
        page = self.client.get(address)
        if page.status_code >= 500:
            return
        assert page.status_code == 200, f"{page.status_code} {page.headers} {page.text[:200]}"
        given = dict(re.findall(r'name="(version-\w+)"[^>]*value="(\d+)"', page.text))
        token = re.search(r'name="csrfmiddlewaretoken" value="(\w+)"', page.text)
        assert token is not None
        answer = self.client.post(
            address,
            data={
                **given,
                "csrfmiddlewaretoken": token.group(1),
                "kept": one,
                "reason": "the same passport",
            },
        )
        if answer.status_code == 302:
            self.left.pop(0)

    def is_done(self) -> bool:
        return not self.left

    def count(self) -> tuple[int, int]:
        lost = doubled = 0
        for one, other in self.pairs:
            merges = PatientMerge.objects.filter(kept__key=one, merged__key=other).count()
            operations = Procedure.objects.filter(injury__patient__key=one).count()
            lost += merges == 0 or operations != 2
            doubled += max(0, merges - 1)
        return lost, doubled


WORKS: dict[str, type[Work]] = {
    "import": Import,
    "messages": Messages,
    "snapshot": SnapshotMaking,
    "pack": PackMaking,
    "upload": Upload,
    "merge": Merge,
}


def expire_leases() -> None:
    """Let what dead workers hold run out at once, which else takes ten minutes."""

    def expire() -> None:
        from registry.models import JobLock  # noqa: PLC0415 - beside its use

        past = timezone.now() - timedelta(seconds=1)
        JobLock.objects.exclude(holder="").update(until=past)
        ImportDraft.objects.exclude(holder="").update(held_until=past)

    steady(expire)

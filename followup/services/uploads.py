"""Files of cases that were sent: kept under a name that nobody can guess, until they are done with."""

import secrets
from collections.abc import Iterable
from datetime import datetime, timedelta
from pathlib import PurePosixPath
from typing import BinaryIO, cast

from django.core.files.base import File
from django.core.files.storage import default_storage
from django.db.models import F, Q
from django.utils.text import get_valid_filename

from followup.models.imports import DraftState, ImportDraft
from registry.errors import BadInput
from registry.models.imports import ImportBatch, ImportFate, ImportRow, ImportState
from registry.models.patients import PatientStatus
from registry.models.people import Person
from registry.models.retention import RetentionKind
from registry.models.sites import Site
from registry.selectors import retention as holds
from registry.services import records, retention
from registry.services.background import background_person

FOLDER = "imports"
# A file whose rows were refused, or wait for a decision, is needed for a while.
KEPT_FOR = timedelta(days=7)


def keep_upload(
    *, content: "File[bytes]", name: str, site: Site, by: Person, now: datetime
) -> ImportDraft:
    """Keep a file that was sent for a site."""
    plain = get_valid_filename(PurePosixPath(name.replace("\\", "/")).name[-100:] or "cases")
    draft = ImportDraft(
        site=site,
        token=secrets.token_urlsafe(18),
        file_name=plain,
        size=content.size,
        brought_at=now,
        brought_by=by,
    )
    default_storage.save(path_of(draft), content)
    draft.save()
    return draft


def path_of(draft: ImportDraft) -> str:
    """Return where a file is kept."""
    return f"{FOLDER}/{draft.site_id}/{draft.token}/{draft.file_name}"


def open_upload(draft: ImportDraft) -> BinaryIO:
    """Open a kept file for reading; the caller closes it."""
    # What stands below the storage's own wrapper reads like any file.
    return cast("BinaryIO", default_storage.open(path_of(draft)).file)


def kept_upload(token: str, sites: Iterable[Site]) -> ImportDraft | None:
    """Return the kept file of this name at one of the sites; None when there is none (any more)."""
    return (
        ImportDraft.objects.filter(token=token, site__in=sites)
        .select_related("site", "batch")
        .first()
    )


def forget_upload(draft: ImportDraft) -> None:
    """Delete a kept file, with what was found in it and the folder that was made for it."""
    path = PurePosixPath(path_of(draft))
    for place in (path, path.parent):
        default_storage.delete(str(place))
    draft.delete()


def discard(draft: ImportDraft, *, by: Person, now: datetime) -> None:
    """Delete a kept file that nobody wants any more; what was imported of it stays.

    Raises BadInput while it is being worked on, or imported.
    """
    with records.change(by=by, reason=f"the file {draft.file_name} was discarded"):
        here = _locked(draft.pk)
        if here is None:
            return
        if here.at_work or _is_landing(here, now):
            raise BadInput(
                "This file is being worked on; wait until that is over, then discard it."
            )
        _let_go(here, now)


def mark_erased(*, sites: Iterable[int], now: datetime) -> list[str]:
    """Note that kept files may name somebody of these sites who was erased; return them in words.

    They are not searched: a name may be written in any way there, and be somebody else's.
    """
    rows = ImportDraft.objects.filter(site__in=list(sites)).select_related("site")
    told = [
        f"The file {one.file_name}, brought to {one.site} on {one.brought_at:%d %b %Y}, may name this "
        f"person: {'discard it' if one.state == DraftState.LANDED else 'discard it or land it'} "
        "under Import. It goes by itself a week after it came."
        for one in rows
    ]
    rows.update(erased_at=now)
    return told


def forget_old(*, now: datetime) -> int:
    """Delete the files that were sent long ago and are not being imported; return how many.

    How long is the site's rule, or a week where it has none.
    """
    ruled = holds.in_force(RetentionKind.UPLOADS)
    waiting = ImportDraft.objects.exclude(state=DraftState.LANDING, fault="")
    gone: dict[int, int] = {}
    sites = {}
    for draft in waiting.select_related("site").order_by("site_id", "pk"):
        rule = ruled.get(draft.site_id)
        old = draft.brought_at < now - (timedelta(days=rule.keep) if rule else KEPT_FOR)
        if old and _forgotten(draft, now):
            gone[draft.site_id] = gone.get(draft.site_id, 0) + 1
            sites[draft.site_id] = draft.site
    for key, number in gone.items():
        rule = ruled.get(key)
        retention.prove(
            kind=RetentionKind.UPLOADS,
            number=number,
            words=f"older than {rule.keep if rule else KEPT_FOR.days} days",
            site=sites[key],
            rule=rule,
            now=now,
        )
    return sum(gone.values())


def _forgotten(draft: ImportDraft, now: datetime) -> bool:
    """Delete an old file, unless somebody goes on with its import just now; say whether."""
    why = f"the file {draft.file_name} was kept long enough"
    with records.change(by=background_person(), reason=why):
        here = _locked(draft.pk)
        if here is None or _is_landing(here, now):
            return False
        _let_go(here, now)
    return True


def _locked(key: int) -> ImportDraft | None:
    return ImportDraft.objects.select_for_update().filter(pk=key).first()


def _is_landing(draft: ImportDraft, now: datetime) -> bool:
    """Say whether a file is being imported; one that a fault stopped is not, once it was let go."""
    held = draft.held_until is not None and draft.held_until >= now
    return draft.state == DraftState.LANDING and (held or not draft.fault)


def _let_go(draft: ImportDraft, now: datetime) -> None:
    if draft.state == DraftState.LANDING and draft.batch is not None:
        _close(draft.batch, now)
    forget_upload(draft)


def _close(batch: ImportBatch, now: datetime) -> None:
    """Close the account of an import that was stopped and loses its file; it can still be taken back."""
    never = batch.rows_read - (
        batch.rows_landed + batch.rows_known + batch.rows_refused + batch.rows_waiting
    )
    whole = not (never or batch.rows_refused or batch.rows_waiting)
    note = f"The import was stopped, and its file deleted: {never} rows were never come to."
    how = {**batch.how, "never_come_to": never, "notes": [*batch.how.get("notes", []), note]}
    ImportBatch.objects.filter(pk=batch.pk, state=ImportState.RUNNING).update(
        state=ImportState.DONE if whole else ImportState.PARTIAL,
        ended_at=now,
        rows_waiting=F("rows_waiting") + never,
        how=how,
    )
    # How follow-up ended is told once all rows are there, which they will not be.
    ImportRow.objects.filter(
        ~Q(ended_as=""),
        batch=batch,
        fate=ImportFate.LANDED,
        procedure__injury__patient__status=PatientStatus.ACTIVE,
    ).update(
        ended_as="",
        ended_on=None,
        reason="added, but not how follow-up ended: the import was stopped",
    )

"""Files of cases that were sent and are looked at before they are imported; a day later they go."""

import secrets
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import PurePosixPath
from typing import BinaryIO, cast

from django.core.files.base import File
from django.core.files.storage import default_storage
from django.utils.text import get_valid_filename

from registry.models.sites import Site

FOLDER = "imports"
KEPT_FOR = timedelta(days=1)
ISO, DAY_FIRST = "iso", "day-first"


@dataclass(frozen=True)
class Upload:
    """A kept file: whose, under which name it came, and how its dates are written."""

    site: Site
    token: str
    day_first: bool
    file_name: str

    @property
    def path(self) -> str:
        """Where it is kept."""
        order = DAY_FIRST if self.day_first else ISO
        return f"{FOLDER}/{self.site.pk}/{self.token}/{order}/{self.file_name}"

    def open(self) -> BinaryIO:
        """Open the file for reading; the caller closes it."""
        # What stands below the storage's own wrapper reads like any file.
        return cast("BinaryIO", default_storage.open(self.path).file)


def keep_upload(*, content: "File[bytes]", name: str, site: Site, day_first: bool) -> Upload:
    """Keep a file that was sent for a site, under a name that nobody can guess."""
    plain = get_valid_filename(PurePosixPath(name.replace("\\", "/")).name[-100:] or "cases")
    upload = Upload(site, secrets.token_urlsafe(18), day_first, plain)
    default_storage.save(upload.path, content)
    return upload


def kept_upload(token: str, sites: Iterable[Site]) -> Upload | None:
    """Return the kept file of this name at one of the sites; None when there is none (any more)."""
    for site in sites:
        for order in (ISO, DAY_FIRST):
            folder = f"{FOLDER}/{site.pk}/{token}/{order}"
            if default_storage.exists(folder):
                for name in default_storage.listdir(folder)[1]:
                    return Upload(site, token, order == DAY_FIRST, name)
    return None


def forget_upload(upload: Upload) -> None:
    """Delete a kept file with the folders that were made for it."""
    path = PurePosixPath(upload.path)
    for place in (path, path.parent, path.parent.parent):
        default_storage.delete(str(place))


def forget_old(*, now: datetime) -> int:
    """Delete the files that were sent more than a day ago; return how many."""
    old = [
        upload
        for site in Site.objects.all()
        for upload in _kept_at(site)
        if default_storage.get_modified_time(upload.path) < now - KEPT_FOR
    ]
    for upload in old:
        forget_upload(upload)
    return len(old)


def _kept_at(site: Site) -> Iterable[Upload]:
    folder = f"{FOLDER}/{site.pk}"
    tokens = default_storage.listdir(folder)[0] if default_storage.exists(folder) else []
    found = (kept_upload(token, [site]) for token in tokens)
    return [upload for upload in found if upload is not None]

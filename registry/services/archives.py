"""Making an archive of a service or of one site, and bringing it back into an empty system."""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from itertools import islice
from pathlib import Path

from django.conf import settings
from django.core.files.base import File
from django.core.files.storage import storages
from django.core.management.color import no_style
from django.db import connection, transaction
from django.db.migrations.recorder import MigrationRecorder
from django.db.models import Model

from registry.errors import BadInput
from registry.exchange import archive
from registry.exchange.archive import Archive, Manifest, Progress
from registry.models.people import Person
from registry.models.sites import Site
from registry.selectors import archive_scope
from registry.services import audit, triggers
from registry.services.moments import one_moment

AT_ONCE = 1000


def make_archive(
    *, target: Path, site: Site | None, by: Person, now: datetime, progress: Progress
) -> Manifest:
    """Write everything that is held, of one site or of all, into one file; the trail says who took it.

    It is one moment of the database. Raises BadInput where the file is there already, or a picture's
    file is missing from its storage.
    """
    if target.exists():
        raise BadInput(f"{target} is there already: choose another name, or move it away.")
    audit.seal_all()
    with one_moment():
        manifest = archive.write(target, _manifest(site, now), _tables(site), progress)
    audit.record_taken(
        by=by,
        table=Site._meta.db_table,
        row_id="" if site is None else str(site.pk),
        now=now,
        what=f"archive of {site.code if site else 'the whole service'}: {manifest.content_hash}",
    )
    return manifest


def check_archive(*, source: Path, progress: Progress) -> Manifest:
    """Hold an archive against its own hashes; nothing is written.

    Raises BadInput for what is no archive, or is not as it was made.
    """
    with archive.opened(source) as opened:
        opened.check(progress)
        return opened.manifest


def bring_back(*, source: Path, now: datetime, progress: Progress) -> Manifest:
    """Bring an archive back into an empty system: all of it, equal by hash, or nothing.

    The trail comes back as it was; of one site alone it is sealed into a chain of its own. Nobody can
    sign in until they are given a new password. Raises BadInput for what is no whole archive, for one
    of another state of the tables, and where the system is not empty.
    """
    with archive.opened(source) as opened:
        opened.check(progress)
        manifest = opened.manifest
        _same_tables(manifest)
        _nothing_here()
        with _files_brought(opened, progress), transaction.atomic():
            _bring_rows(opened, progress)
            if manifest.site:
                audit.seal_all()
            _equal(manifest, now, progress)
    return manifest


def _manifest(site: Site | None, now: datetime) -> Manifest:
    made_at = now.astimezone(UTC).isoformat(timespec="seconds")
    return Manifest(made_at, settings.CODE_VERSION, site.code if site else "", _migrations())


def _tables(site: Site | None) -> Iterable[archive_scope.Table]:
    return archive_scope.of_site(site) if site else archive_scope.whole()


def _migrations() -> dict[str, str]:
    applied = MigrationRecorder(connection).applied_migrations()
    rooms = {model._meta.app_label for model in archive_scope.archived_models()}
    return {
        label: max(name for app, name in applied if app == label)
        for label in sorted(rooms)
        if any(app == label for app, _ in applied)
    }


def _same_tables(manifest: Manifest) -> None:
    here = _migrations()
    for label, name in manifest.migrations.items():
        if here.get(label) != name:
            raise BadInput(
                f"The archive was made by version {manifest.code_version} with the tables of "
                f"{label} at {name}; here they are at {here.get(label, 'nothing')}. Bring it back "
                f"with the version that made it (migrate {label} {name}), then migrate to this one."
            )


def _nothing_here() -> None:
    full = [
        model._meta.db_table
        for model in archive_scope.archived_models()
        if model._base_manager.exists()
    ]
    if full:
        raise BadInput(
            f"This system is not empty: {', '.join(full[:5])}"
            f"{' and others' if len(full) > 5 else ''} hold rows. Migrate a new database, load "
            "nothing into it, and bring the archive back there."
        )


def _bring_rows(opened: Archive, progress: Progress) -> None:
    models = {archive.table_path(model): model for model in archive_scope.archived_models()}
    brought = [one.path for one in opened.manifest.members if one.rows is not None]
    unknown = [path for path in brought if path not in models]
    if unknown:
        raise BadInput(f"There is no table here for {', '.join(unknown)}.")
    with _trail_silent():
        for path in brought:
            model = models[path]
            rows = opened.rows(model)
            while chunk := list(islice(rows, AT_ONCE)):
                model._base_manager.bulk_create(chunk)
                progress(path, len(chunk))
        _count_on([models[path] for path in brought])
        # Every reference has to lead somewhere before the triggers can be put back.
        connection.check_constraints()


@contextmanager
def _trail_silent() -> Iterator[None]:
    """Keep the database from writing a trail about rows whose own trail comes with them."""
    with connection.cursor() as cursor:
        for name, table in triggers.trigger_tables(connection):
            on = f" ON {table}" if connection.vendor == "postgresql" else ""
            cursor.execute(f"DROP TRIGGER {name}{on}")
    yield
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            # Postponed checks of references keep a table from being changed until they are done.
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
    triggers.install(connection)


def _count_on(models: list[type[Model]]) -> None:
    """Let new rows be numbered after those that came."""
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(no_style(), models):
            cursor.execute(statement)


@contextmanager
def _files_brought(opened: Archive, progress: Progress) -> Iterator[None]:
    """Put the files where rows look for them; take them away again where the rows do not come."""
    put: list[tuple[str, str]] = []
    try:
        for path, alias, name in opened.stored_files():
            store = storages[alias]
            if store.exists(name):
                raise BadInput(
                    f"The storage '{alias}' holds a file {name} already; empty it first."
                )
            with opened.open(path) as content:
                saved = store.save(name, File(content))
            put.append((alias, saved))
            if saved != name:
                raise BadInput(f"The storage '{alias}' does not take the name {name}.")
            progress(path, 1)
        yield
    except BaseException:
        for alias, name in put:
            storages[alias].delete(name)
        raise


def _equal(manifest: Manifest, now: datetime, progress: Progress) -> None:
    """Hold what is in the database now against the archive. Raises BadInput where it differs."""
    site = Site.objects.get(code=manifest.site) if manifest.site else None
    counted = _manifest(site, now)
    if archive.content_hash_of(_tables(site), counted, progress) == manifest.content_hash:
        return
    theirs = {one.path: one.sha256 for one in manifest.members}
    ours = {one.path: one.sha256 for one in counted.members}
    paths = sorted(theirs.keys() | ours.keys())
    differ = [path for path in paths if theirs.get(path) != ours.get(path)]
    raise BadInput(f"What came back is not equal: {', '.join(differ[:5])}. Nothing was kept.")

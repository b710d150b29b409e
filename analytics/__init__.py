"""Cohorts, endpoint definitions, estimators and answers of Holdfast."""


def load_snapshot(prefix: str = "") -> object:
    """Return the Frames of a kept snapshot, of all sites: the newest, or the one whose hash begins so.

    For notebooks: the settings are found by themselves. `frames.hash` and `frames.cutoff` say what
    was loaded. Raises registry.errors.BadInput where no such snapshot is kept.
    """
    import os  # noqa: PLC0415 - Django's settings have to be there before our own modules

    import django  # noqa: PLC0415
    from django.apps import apps  # noqa: PLC0415

    if not apps.ready:
        os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
        django.setup()
    from analytics.services import snapshots  # noqa: PLC0415

    return snapshots.frames_of(snapshots.named(prefix) if prefix else snapshots.newest())

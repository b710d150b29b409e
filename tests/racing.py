"""Two who act at the same moment: how one sees that the other has come to wait."""

from django.db import connection


def somebody_waits() -> bool:
    """Say whether somebody waits for a lock in the database of the tests, as it is this moment."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT EXISTS (SELECT FROM pg_locks WHERE NOT granted)")
        return bool(cursor.fetchone()[0])

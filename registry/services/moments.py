"""Looking at the database as it is at one moment, while others go on writing."""

from collections.abc import Iterator
from contextlib import contextmanager

from django.db import connection, transaction


@contextmanager
def one_moment() -> Iterator[None]:
    """Let everything inside see one moment of the database, and refuse to write."""
    if connection.in_atomic_block:
        # Whoever has begun a transaction looks at what it has written itself.
        yield
    elif connection.vendor == "postgresql":
        with transaction.atomic():
            with connection.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
            yield
    else:
        yield from _sqlite_moment()


def _sqlite_moment() -> Iterator[None]:
    # Not by atomic(), which would keep everybody else from writing until the end.
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA query_only = ON")
        cursor.execute("BEGIN")
        try:
            yield
        finally:
            cursor.execute("ROLLBACK")
            cursor.execute("PRAGMA query_only = OFF")

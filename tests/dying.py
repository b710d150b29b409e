"""A process that is killed at one statement, at whatever pace the machine works."""

import os
import signal
from collections.abc import Callable
from typing import Any

from django.db import connection


def at(statement: str, times: int) -> None:
    """Have the system kill this process as it is about to do such a statement for the nth time.

    `statement` is what its SQL begins with. Nothing of Python's is run then: no `finally`, no rollback.
    """
    left = times

    def counted(execute: Callable[..., Any], sql: str, *given: Any) -> Any:
        nonlocal left
        if sql.startswith(statement):
            left -= 1
            if not left:
                os.kill(os.getpid(), signal.SIGKILL)
        return execute(sql, *given)

    connection.execute_wrappers.append(counted)

"""A task that takes long enough to be met in the middle, for tests of the worker."""

import logging
import time
from pathlib import Path

from config.celery import app


@app.task  # type: ignore[untyped-decorator]
def slow(folder: str, seconds: float) -> None:
    """Say in a folder that it began, wait, and say that it ended."""
    Path(folder, "began").write_text("")
    time.sleep(seconds)
    logging.getLogger("config.slow").warning("the slow task ends")
    Path(folder, "ended").write_text("")

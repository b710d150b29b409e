"""A provider of text messages on this machine: it writes down every key that it was given."""

import json
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any


@dataclass(frozen=True)
class Treatment:
    """What the provider does with one request: wait before and after taking it, and the answer.

    It waits for some seconds, or for as long as whoever has the event likes. Status 0 closes the connection without an answer. Only 2xx and 0 mean that it was taken.
    """

    status: int = 202
    wait_before: float | threading.Event = 0.0
    wait_after: float | threading.Event = 0.0


def _wait(until: float | threading.Event) -> None:
    if isinstance(until, threading.Event):
        until.wait()
    else:
        time.sleep(until)


Treat = Callable[[str, int], Treatment]


@dataclass
class Provider:
    """What was received, and what of it was taken, by key."""

    treat: Treat = lambda key, times: Treatment()
    received: Counter[str] = field(default_factory=Counter)
    taken: Counter[str] = field(default_factory=Counter)
    bodies: list[dict[str, Any]] = field(default_factory=list)
    headers: list[dict[str, str]] = field(default_factory=list)
    looked_up: Counter[str] = field(default_factory=Counter)
    # Answered to every question, instead of what is known.
    look_up_status: int = 0
    port: int = 0
    lock: threading.Lock = field(default_factory=threading.Lock)

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}/messages"

    @property
    def look_up_url(self) -> str:
        return f"http://127.0.0.1:{self.port}/messages/{{key}}"

    def take(self, body: dict[str, Any], headers: dict[str, str]) -> Treatment:
        """Write a whole request down and do with it what `treat` says."""
        key = body["key"]
        with self.lock:
            self.received[key] += 1
            self.bodies.append(body)
            self.headers.append(headers)
            treatment = self.treat(key, self.received[key])
        _wait(treatment.wait_before)
        if treatment.status == 0 or 200 <= treatment.status < 300:
            with self.lock:
                self.taken[key] += 1
        _wait(treatment.wait_after)
        return treatment


def _handler(provider: Provider) -> type[BaseHTTPRequestHandler]:
    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            raw = self.rfile.read(int(self.headers["Content-Length"]))
            try:
                body = json.loads(raw)
            except ValueError:
                # Whoever sent it died in the middle of it.
                return
            treatment = provider.take(body, dict(self.headers))
            if treatment.status:
                self._answer(treatment.status, {"reference": f"ref-{body['key'][:8]}"})

        def do_GET(self) -> None:
            key = self.path.rsplit("/", 1)[-1]
            with provider.lock:
                provider.looked_up[key] += 1
                status = provider.look_up_status or (200 if provider.taken[key] else 404)
            self._answer(status, {})

        def _answer(self, status: int, body: dict[str, str]) -> None:
            said = json.dumps(body).encode()
            try:
                self.send_response(status)
                self.send_header("Content-Type", "application/json")
                self.send_header("Content-Length", str(len(said)))
                self.end_headers()
                self.wfile.write(said)
            except OSError:
                # Whoever asked has gone.
                return

        def log_message(self, format: str, *args: Any) -> None:
            return

    return Handler


class _Server(ThreadingHTTPServer):
    daemon_threads = True
    request_queue_size = 64

    def handle_error(self, request: Any, client_address: Any) -> None:
        return


@contextmanager
def serving(treat: Treat | None = None) -> Iterator[Provider]:
    """Run a provider inside the block."""
    provider = Provider() if treat is None else Provider(treat)
    with _Server(("127.0.0.1", 0), _handler(provider)) as server:
        provider.port = server.server_address[1]
        thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.05})
        thread.start()
        try:
            yield provider
        finally:
            server.shutdown()
            thread.join()

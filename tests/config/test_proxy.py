"""The proxy of compose.yaml, as it is shipped, in front of a server that tells what reached it."""

import json
import shutil
import socket
import ssl
import subprocess
import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from threading import Thread

import httpx
import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

from tests import servers

# The program is the same whatever database stands behind the service.
pytestmark = pytest.mark.needs_redis
ROOT = Path(__file__).resolve().parents[2]


class Tells(BaseHTTPRequestHandler):
    """Answers with the headers that it was sent."""

    def do_GET(self) -> None:
        told = json.dumps(dict(self.headers.items())).encode()
        self.send_response(200)
        self.send_header("Content-Length", str(len(told)))
        self.end_headers()
        self.wfile.write(told)

    def log_message(self, *said: object) -> None:
        """Say nothing."""


def certificate(folder: Path) -> None:
    """Write a certificate for this machine that nobody else trusts."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "localhost")])
    now = datetime.now(UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1))
        .not_valid_after(now + timedelta(days=1))
        .add_extension(x509.SubjectAlternativeName([x509.DNSName("localhost")]), critical=False)
        .sign(key, hashes.SHA256())
    )
    pem = serialization.Encoding.PEM
    (folder / "server.crt").write_bytes(made.public_bytes(pem))
    secret = key.private_bytes(pem, serialization.PrivateFormat.PKCS8, serialization.NoEncryption())
    (folder / "server.key").write_bytes(secret)


def free_port() -> int:
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


@pytest.fixture(scope="module")
def addresses(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, str, Path]]:
    """Serve behind the proxy; yield its address in the clear, that with https, and its certificate."""
    folder = tmp_path_factory.mktemp("proxy")
    certificate(folder)
    behind = ThreadingHTTPServer(("127.0.0.1", 0), Tells)
    Thread(target=behind.serve_forever, daemon=True).start()
    clear, safe = free_port(), free_port()
    text = (ROOT / "config" / "proxy.conf").read_text()
    # The same file, but for the places of a container.
    for there, here in {
        "/tmp/": f"{folder}/",  # noqa: S108 - a place in the file, not one of ours
        "/certificates": str(folder),
        # So few that a machine at whatever pace comes to the end of the burst.
        "rate=20r/s": "rate=1r/m",
        "listen 8080": f"listen 127.0.0.1:{clear}",
        "listen 8443": f"listen 127.0.0.1:{safe}",
        "http://web:8000": f"http://127.0.0.1:{behind.server_port}",
    }.items():
        assert there in text
        text = text.replace(there, here)
    (folder / "nginx.conf").write_text(text)
    words = [
        servers.proxy(),
        "-c",
        str(folder / "nginx.conf"),
        "-p",
        str(folder),
        "-g",
        "daemon off;",
    ]
    with (
        (folder / "said").open("w") as said,
        subprocess.Popen(words, stdout=said, stderr=said) as run,
    ):
        try:
            wait_for(safe, folder / "said")
            yield f"http://localhost:{clear}", f"https://localhost:{safe}", folder / "server.crt"
        finally:
            run.terminate()
            behind.shutdown()
            behind.server_close()


def wait_for(port: int, said: Path) -> None:
    for _ in range(200):
        with socket.socket() as probe:
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                return
        time.sleep(0.1)
    raise AssertionError(said.read_text())


@pytest.fixture
def visitor(addresses: tuple[str, str, Path]) -> Iterator[httpx.Client]:
    trusted = ssl.create_default_context(cafile=str(addresses[2]))
    with httpx.Client(base_url=addresses[1], verify=trusted, timeout=30) as client:
        yield client


def test_the_service_hears_from_whom_a_request_comes_and_believes_nothing_else(
    visitor: httpx.Client,
) -> None:
    forged = {"X-Forwarded-For": "203.0.113.9", "X-Forwarded-Proto": "http"}
    told = visitor.get("/due/", headers=forged).json()
    assert told["X-Forwarded-For"] == "127.0.0.1"
    assert told["X-Forwarded-Proto"] == "https"
    assert told["Host"].startswith("localhost")


def test_in_the_clear_nothing_is_answered_but_the_way_to_https(
    addresses: tuple[str, str, Path],
) -> None:
    answer = httpx.get(f"{addresses[0]}/due/?q=x", timeout=30)
    assert answer.status_code == 301
    assert answer.headers["Location"].startswith("https://")


@pytest.mark.parametrize("address", ["/api/v1/patients/", "/fhir/r4/metadata"])
def test_a_program_in_the_clear_is_refused_and_not_led_on(
    addresses: tuple[str, str, Path], address: str
) -> None:
    answer = httpx.get(f"{addresses[0]}{address}", timeout=30)
    assert answer.status_code == 403
    assert "https alone" in answer.text


def test_old_protocols_are_refused(addresses: tuple[str, str, Path]) -> None:
    old = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    old.check_hostname = False
    old.verify_mode = ssl.CERT_NONE
    old.set_ciphers("ALL:@SECLEVEL=0")
    with pytest.warns(DeprecationWarning, match="TLSv1_1"):
        old.minimum_version = old.maximum_version = ssl.TLSVersion.TLSv1_1
    port = int(addresses[1].rsplit(":", 1)[1])
    with socket.create_connection(("127.0.0.1", port)) as line, pytest.raises(ssl.SSLError):
        old.wrap_socket(line)


def test_what_is_too_large_is_refused_before_it_is_read(
    addresses: tuple[str, str, Path],
) -> None:
    trusted = ssl.create_default_context(cafile=str(addresses[2]))
    port = int(addresses[1].rsplit(":", 1)[1])
    with (
        socket.create_connection(("127.0.0.1", port), timeout=30) as line,
        trusted.wrap_socket(line, server_hostname="localhost") as safe,
    ):
        asked = "POST /import/ HTTP/1.1\r\nHost: localhost\r\nContent-Length: 1100000000\r\n\r\n"
        safe.sendall(asked.encode())
        assert safe.recv(200).startswith(b"HTTP/1.1 413")


def test_a_fault_of_the_proxy_itself_is_not_told_with_the_secret_in_an_address(
    addresses: tuple[str, str, Path], visitor: httpx.Client
) -> None:
    folder = addresses[2].parent
    body = folder / "body"
    shutil.rmtree(body)
    # Now a large form cannot be put aside.
    body.write_text("no folder")
    try:
        answer = visitor.post("/calendar/SECRET-OF-A-LINK/", content=b"x" * 300_000)
    finally:
        body.unlink()
        body.mkdir(mode=0o777)
        body.chmod(0o777)
    assert answer.status_code == 500
    said = (folder / "said").read_text()
    assert "SECRET" not in said


@pytest.mark.parametrize("inside", ["/metrics/", "/health/"])
def test_what_a_monitor_reads_is_not_to_be_had_from_outside(
    visitor: httpx.Client, inside: str
) -> None:
    assert visitor.get(inside).status_code == 404


def test_who_asks_faster_than_anybody_can_is_told_to_wait(visitor: httpx.Client) -> None:
    codes = [visitor.get("/due/").status_code for _ in range(120)]
    assert codes[:5] == [200] * 5
    assert 429 in codes

"""Handing messages to a provider of text messages or letters by HTTP, whichever it is.

The request's body is JSON: key, means, to, subject, text, language. The key also stands in the
header Idempotency-Key, by which a provider that knows it takes each message once.
"""

import ssl
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache

import httpx

from followup.exchange.parcels import Answer, Outcome, Parcel, Taken

# 'Not now': RFC 9110 sections 15.5.9 and 15.6.4, RFC 8470 section 5.2, RFC 6585 section 4. Every
# other 5xx says that something broke, not what had been done by then: RFC 9110 section 15.6.
LATER = {408, 425, 429, 503}
# Said of a key that came before with another body, which may have been taken: RFC 9110 sections
# 15.5.10 and 15.5.21.
NOT_AS_BEFORE = {409, 422}
GONE = {404, 410}
LONGEST_REFERENCE = 120
NEVER_LEFT = (httpx.ConnectError, httpx.ConnectTimeout, httpx.UnsupportedProtocol, httpx.InvalidURL)


@dataclass(frozen=True)
class HttpCarrier:
    """A provider at a URL. With `look_up_url`, which holds {key}, it can be asked what it took."""

    url: str
    method: str = "POST"
    # Holds the secret.
    headers: Mapping[str, str] = field(default_factory=dict, repr=False)
    look_up_url: str = ""
    timeout_seconds: float = 15.0
    name: str = "http"

    @property
    def can_look_up(self) -> bool:
        """Say whether the provider can be asked what it took."""
        return bool(self.look_up_url)

    def hand_over(self, parcel: Parcel) -> Answer:
        """Send one request and conclude from what comes back.

        A connection that was not made took nothing; one that broke or fell silent after that may
        have.
        """
        body = {
            "key": parcel.key,
            "means": parcel.means,
            "to": parcel.to,
            "subject": parcel.subject,
            "text": parcel.text,
            "language": parcel.language,
        }
        try:
            with self._client() as client:
                answer = client.request(
                    self.method, self.url, json=body, headers={"Idempotency-Key": parcel.key}
                )
        except NEVER_LEFT as fault:
            return Answer(Outcome.RETRY, f"the provider cannot be reached: {type(fault).__name__}")
        except httpx.HTTPError as fault:
            return Answer(
                Outcome.UNKNOWN, f"no answer after the message had left: {type(fault).__name__}"
            )
        return _conclude(answer, again=parcel.again)

    def look_up(self, key: str) -> Taken:
        """Ask by the key: 2xx means taken, 404 or 410 not taken, all else leaves it open.

        Where the connection fails or falls silent, there is no answer at all.
        """
        if not self.look_up_url:
            return Taken.NOT_KNOWN
        try:
            with self._client() as client:
                status = client.get(self.look_up_url.replace("{key}", key)).status_code
        except httpx.TransportError:
            return Taken.NO_ANSWER
        except (httpx.HTTPError, httpx.InvalidURL):
            return Taken.NOT_KNOWN
        if httpx.codes.is_success(status):
            return Taken.YES
        return Taken.NO if status in GONE else Taken.NOT_KNOWN

    def _client(self) -> httpx.Client:
        # A new connection each time: one that was kept may have been closed at the other end, and
        # then nobody knows what that end had read. Patients' messages take no proxy by chance.
        return httpx.Client(
            headers=dict(self.headers),
            timeout=self.timeout_seconds,
            trust_env=False,
            verify=_certificates(),
        )


@cache
def _certificates() -> ssl.SSLContext:
    # Reading them takes longer than sending a message.
    return httpx.create_ssl_context()


def _conclude(answer: httpx.Response, *, again: bool) -> Answer:
    status = answer.status_code
    if httpx.codes.is_success(status):
        return Answer(Outcome.ACCEPTED, reference=_reference(answer))
    said = f"the provider answered {status}"
    if status in LATER:
        return Answer(Outcome.RETRY, said)
    if httpx.codes.is_server_error(status) or (again and status in NOT_AS_BEFORE):
        return Answer(Outcome.UNKNOWN, said)
    return Answer(Outcome.REFUSED, said)


def _reference(answer: httpx.Response) -> str:
    """Return the provider's own name for the message, where its answer has one."""
    try:
        said = answer.json()
    except ValueError:
        return ""
    found = said.get("reference") or said.get("id") if isinstance(said, dict) else None
    return str(found)[:LONGEST_REFERENCE] if isinstance(found, str | int) else ""

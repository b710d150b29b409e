"""What static files are sent with besides their content: no page of others may frame or sniff them."""

from typing import Any


def guarded(headers: Any, path: str, url: str) -> None:
    """Add to a static file what the pages' own policy says of framing; it is sent before that is added."""
    headers["X-Frame-Options"] = "DENY"
    headers["Content-Security-Policy"] = "frame-ancestors 'none'"

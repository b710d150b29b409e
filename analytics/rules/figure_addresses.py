"""The addresses of the figures: which are ours, and how one is kept with a decision."""

from urllib.parse import urlsplit

ROOMS = ("outcomes", "harms", "signals", "function", "following")


def is_figure(address: str) -> bool:
    """Say whether an address leads to a page of the quality meeting's figures, on whatever host."""
    try:
        parts = urlsplit(address)
    except ValueError:
        # A bracket that is not closed, and the like: it leads nowhere.
        return False
    if parts.scheme not in ("", "http", "https"):
        return False
    first = parts.path.strip("/").split("/", 1)[0]
    # Two slashes at the start would name another host.
    return parts.path.startswith("/") and parts.path[:2] != "//" and first in ROOMS


def shortened(address: str) -> str:
    """Return path and query of an address without its host, which may change over the years."""
    parts = urlsplit(address)
    return parts.path + (f"?{parts.query}" if parts.query else "")

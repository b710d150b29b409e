"""Which view and posture the words of a header mean, as far as we know them."""

import re

# Looked for in this order: an axillary film is often called 'AP and axillary'.
VIEWS = (
    ("zanca", r"\bzanca\b"),
    ("axillary", r"\baxi(al|llary|llaer|llär)?\b|\baxial\b"),
    ("chest", r"\b(chest|thorax)\b"),
    ("ap", r"\b(ap|a\.p\.|pa|anteroposterior)\b"),
)
POSTURES = (
    ("upright", r"\b(upright|erect|standing|stehend)\b"),
    ("supine", r"\b(supine|recumbent|lying|liegend)\b"),
)


def view_of(*words: str) -> str:
    """Return the code of the view that the words of a header name; '' when they name none."""
    return _first(VIEWS, words)


def posture_of(*words: str) -> str:
    """Return the code of the posture that the words of a header name; '' when they name none."""
    return _first(POSTURES, words)


def _first(known: tuple[tuple[str, str], ...], words: tuple[str, ...]) -> str:
    text = " ".join(words).casefold().replace("_", " ")
    return next((code for code, pattern in known if re.search(pattern, text)), "")

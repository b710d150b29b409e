"""What kind of browser somebody used, in words."""

import pytest

from registry.rules.browsers import browser_in_words

KIT = "AppleWebKit/537.36 (KHTML, like Gecko)"


@pytest.mark.parametrize(
    ("agent", "words"),
    [
        (
            "Mozilla/5.0 (Windows NT 10.0; rv:140.0) Gecko/20100101 Firefox/140.0",
            "Firefox on Windows",
        ),
        (f"Mozilla/5.0 (X11; Linux x86_64) {KIT} Chrome/140.0 Safari/537.36", "Chrome on Linux"),
        (
            f"Mozilla/5.0 (Windows NT 10.0) {KIT} Chrome/140.0 Safari/537.36 Edg/140.0",
            "Edge on Windows",
        ),
        (f"Mozilla/5.0 (Linux; Android 15; Tablet) {KIT} Chrome/140.0", "Chrome on Android"),
        (
            "Mozilla/5.0 (iPad; CPU OS 18_0) AppleWebKit/605 Version/18 Safari/604",
            "Safari on an iPad",
        ),
        ("Mozilla/5.0 (Macintosh) AppleWebKit/605 Version/18 Safari/605", "Safari on a Mac"),
        ("Firefox", "Firefox"),
        ("something of Windows", "An unknown browser on Windows"),
        ("", "An unknown browser"),
        ("<script>", "An unknown browser"),
    ],
)
def test_a_browser_is_said_as_its_owner_would(agent: str, words: str) -> None:
    assert browser_in_words(agent) == words

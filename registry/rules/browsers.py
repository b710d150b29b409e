"""What kind of browser somebody used, in words that they recognise."""

# In this order: each browser also names those it descends from.
BROWSERS = (
    ("Edg", "Edge"),
    ("OPR/", "Opera"),
    ("SamsungBrowser", "Samsung Internet"),
    ("Firefox", "Firefox"),
    ("FxiOS", "Firefox"),
    ("CriOS", "Chrome"),
    ("Chrome", "Chrome"),
    ("Chromium", "Chrome"),
    ("Safari", "Safari"),
)
SYSTEMS = (
    ("iPhone", "an iPhone"),
    ("iPad", "an iPad"),
    ("Android", "Android"),
    ("Windows", "Windows"),
    ("Macintosh", "a Mac"),
    ("CrOS", "ChromeOS"),
    ("Linux", "Linux"),
)
UNKNOWN = "An unknown browser"


def browser_in_words(agent: str) -> str:
    """Say which browser and system a User-Agent header names, as 'Firefox on Windows'.

    Only to be recognised by: whoever sends the header writes what they like.
    """
    browser = next((word for mark, word in BROWSERS if mark in agent), "")
    system = next((word for mark, word in SYSTEMS if mark in agent), "")
    if not browser:
        return f"{UNKNOWN} on {system}" if system else UNKNOWN
    return f"{browser} on {system}" if system else browser

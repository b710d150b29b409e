"""What the settings come to in production, which no other test runs in."""

import json
import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
ASKS = """
import json, django
django.setup()
from django.conf import settings
from django.http import HttpResponse
from config.sign_in import known_devices
from followup.views import questionnaires
answer = HttpResponse()
answer.delete_cookie(questionnaires.COOKIE)
print(json.dumps({
    "session": settings.SESSION_COOKIE_NAME, "csrf": settings.CSRF_COOKIE_NAME,
    "known": known_devices.COOKIE, "answers": questionnaires.COOKIE,
    "paths": [settings.SESSION_COOKIE_PATH, settings.CSRF_COOKIE_PATH],
    "domains": [settings.SESSION_COOKIE_DOMAIN, settings.CSRF_COOKIE_DOMAIN],
    "secure": [settings.SESSION_COOKIE_SECURE, settings.CSRF_COOKIE_SECURE],
    "taken back": bool(answer.cookies[questionnaires.COOKIE]["secure"]),
    "policy": settings.CONTENT_SECURITY_POLICY["DIRECTIVES"]["base-uri"],
}))
"""


def test_cookies_are_bound_to_https_and_the_host_by_their_names(tmp_path: Path) -> None:
    environment = {
        **{name: text for name, text in os.environ.items() if not name.startswith("HOLDFAST_")},
        "DJANGO_SETTINGS_MODULE": "config.settings",
        "HOLDFAST_PRODUCTION": "yes",
        "HOLDFAST_SECRET_KEY": "k" * 60,
        "HOLDFAST_DATA_DIR": str(tmp_path),
    }
    done = subprocess.run(
        [sys.executable, "-c", ASKS],
        check=False,
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
    )
    told = json.loads(done.stdout or done.stderr)
    assert (told["session"], told["csrf"]) == ("__Host-sessionid", "__Host-csrftoken")
    assert (told["known"], told["answers"]) == ("__Host-known_device", "__Secure-questionnaire")
    # Without these a browser takes no cookie of such a name.
    assert told["paths"] == ["/", "/"]
    assert told["domains"] == [None, None]
    assert told["secure"] == [True, True]
    assert told["taken back"]
    assert told["policy"] == ["'none'"]

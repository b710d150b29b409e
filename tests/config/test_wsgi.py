"""What a web process has done before it takes the first request."""

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def test_pages_are_loaded_before_anybody_asks_for_one() -> None:
    asked = "import sys, config.wsgi; print('analytics.views.outcomes' in sys.modules)"
    environment = {**os.environ, "DJANGO_SETTINGS_MODULE": "tests.settings"}
    words = [sys.executable, "-c", asked]
    said = subprocess.run(
        words, cwd=ROOT, env=environment, capture_output=True, text=True, check=False
    )
    assert said.stdout.split() == ["True"], said.stderr

"""Static files are sent past the pages' policy, with what of it concerns them."""

from django.test import Client


def test_no_page_of_others_frames_a_static_file(client: Client) -> None:
    answer = client.head("/static/js/page.js")
    assert answer.status_code == 200
    assert answer.headers["X-Frame-Options"] == "DENY"
    assert answer.headers["Content-Security-Policy"] == "frame-ancestors 'none'"
    assert answer.headers["X-Content-Type-Options"] == "nosniff"

"""A passkey from its making to its use, with the browser's own virtual authenticator."""

import re
from collections.abc import Callable
from typing import Any

import pytest
from allauth.mfa.models import Authenticator
from playwright.sync_api import expect

from tests import builders
from tests.browser.visitor import Visitor
from tests.factored import PASSWORD, with_password

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
KEY = {
    "protocol": "ctap2",
    "transport": "internal",
    "hasResidentKey": True,
    "hasUserVerification": True,
    "isUserVerified": True,
    "automaticPresenceSimulation": True,
}

# As a browser that knows no passkey answers.
KEEPS_NONE = """() => {
  navigator.credentials.get = () => Promise.reject(new DOMException("", "NotAllowedError"));
}"""


@pytest.fixture
def selma(arrive: Callable[..., Visitor], live_server: Any, width: int) -> Visitor:
    """Somebody with a password at a browser that keeps passkeys."""
    with_password(builders.person("selma", north="surgeon"))
    visitor = arrive(width)
    # A passkey belongs to a name, and an address in digits is none.
    visitor.base = live_server.url.replace("127.0.0.1", "localhost")
    tools = visitor.page.context.new_cdp_session(visitor.page)
    tools.send("WebAuthn.enable")
    tools.send("WebAuthn.addVirtualAuthenticator", {"options": KEY})
    visitor.sign_in("selma", PASSWORD)
    return visitor


def test_a_passkey_is_made_asked_for_and_opens(selma: Visitor) -> None:
    selma.open("/account/factors/")
    selma.finds_no_barrier()
    selma.page.get_by_role("link", name="Add a passkey").click()
    selma.finds_no_barrier()
    selma.page.get_by_role("textbox", name="Name").fill("The computer in clinic two")
    selma.press("Add it")
    selma.reads("Write these down or print this page now")
    selma.finds_no_barrier()
    kept = Authenticator.objects.get(type=Authenticator.Type.WEBAUTHN)
    assert kept.data["name"] == "The computer in clinic two"
    selma.press("Sign out")
    selma.page.get_by_label("Username").fill("selma")
    selma.page.get_by_label("Password").fill(PASSWORD)
    selma.press("Sign in")
    selma.reads("Is it you?")
    selma.finds_no_barrier()
    selma.press("Use a passkey")
    expect(selma.page.get_by_text("Sign out")).to_be_visible()
    kept.refresh_from_db()
    assert kept.last_used_at is not None


def test_without_its_passkey_the_browser_says_what_to_do(selma: Visitor) -> None:
    selma.open("/account/factors/webauthn/add/")
    selma.press("Add it")
    selma.reads("Write these down or print this page now")
    selma.press("Sign out")
    selma.page.get_by_label("Username").fill("selma")
    selma.page.get_by_label("Password").fill(PASSWORD)
    selma.press("Sign in")
    selma.page.evaluate(KEEPS_NONE)
    selma.press("Use a passkey")
    selma.reads("Press the button to try again")


def test_an_authenticator_is_set_up_from_its_square(selma: Visitor) -> None:
    selma.open("/account/factors/totp/activate/")
    square = selma.page.get_by_role("img", name=re.compile("square code"))
    expect(square).to_be_visible()
    assert square.evaluate("one => one.naturalWidth") > 0
    selma.finds_no_barrier()

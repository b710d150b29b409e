"""Messages that were there before their reasons had keys."""

import importlib
import uuid

import pytest
from django.apps import apps

from followup.models import Message
from tests import builders
from tests.builders import booked

pytestmark = pytest.mark.usefixtures("defaults")


def test_a_message_gets_the_key_that_a_new_one_would_have() -> None:
    operation = builders.procedure()
    slot = booked(operation.reviews.get(step__code="6m"))
    new = Message.objects.get().key
    Message.objects.update(key="none", review=None, uuid=uuid.UUID(int=0))
    importlib.import_module("followup.migrations.0005_fill_message_keys").fill(apps, None)
    message = Message.objects.get()
    assert (message.key, message.review) == (new, slot.review)
    assert message.uuid != uuid.UUID(int=0)

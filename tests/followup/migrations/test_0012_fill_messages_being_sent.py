"""Messages that were being sent before it was written down when that began."""

import importlib

import pytest
from django.apps import apps

from followup.models import Message
from tests.builders import NOW
from tests.outbox import waiting

pytestmark = pytest.mark.usefixtures("defaults")


def test_what_was_being_sent_counts_as_handed_over_so_that_it_is_not_sent_again() -> None:
    sending, waits = waiting(), waiting()
    Message.objects.filter(pk=sending.pk).update(state="sending", claimed_at=NOW)
    module = importlib.import_module("followup.migrations.0012_fill_messages_being_sent")
    module.mark_as_begun(apps, None)
    assert dict(Message.objects.values_list("pk", "handed_at")) == {sending.pk: NOW, waits.pk: None}

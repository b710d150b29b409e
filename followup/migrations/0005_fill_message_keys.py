"""Give each message that is there the key of its reason, its review, and a number of its own."""

import uuid

from django.db import migrations


def fill(apps, schema_editor):
    Message = apps.get_model("followup", "Message")
    # None has a key before; all are about an appointment.
    rows = Message.objects.select_related("appointment")
    for message in rows.iterator(chunk_size=500):
        message.key = f"appointment:{message.appointment_id}:{message.purpose}"
        message.uuid = uuid.uuid4()
        message.review_id = message.appointment.review_id
        message.save(update_fields=["key", "uuid", "review"])


class Migration(migrations.Migration):
    dependencies = [
        ("followup", "0004_messages_of_any_reason"),
    ]

    operations = [migrations.RunPython(fill, migrations.RunPython.noop)]

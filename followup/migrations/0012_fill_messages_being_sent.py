from typing import Any

from django.db import migrations
from django.db.models import F


def mark_as_begun(apps: Any, schema_editor: Any) -> None:
    """Take what is being sent for handed over: before now nobody wrote down that it was not."""
    messages = apps.get_model("followup", "Message").objects
    messages.filter(state="sending", handed_at=None).update(handed_at=F("claimed_at"))


class Migration(migrations.Migration):
    dependencies = [("followup", "0011_how_messages_go")]

    operations = [migrations.RunPython(mark_as_begun, migrations.RunPython.noop)]

"""Give each hardware decision that is there its first and its present step.

What lay between is in the audit trail alone.
"""

from django.db import migrations

ANSWERS = ("planned", "declined", "done")


def fill(apps, schema_editor):
    HardwareDecision = apps.get_model("followup", "HardwareDecision")
    HardwareStep = apps.get_model("followup", "HardwareStep")
    for row in HardwareDecision.objects.filter(waiting_since__isnull=True).iterator(chunk_size=500):
        now_on = row.decided_on or row.raised_on
        row.waiting_since = now_on
        if row.state in ANSWERS:
            row.first_decided_on = now_on
        row.save(update_fields=["waiting_since", "first_decided_on"])
        raised = {"kind": "raised", "on": row.raised_on, "words": row.reason}
        present = {
            "kind": row.state,
            "on": now_on,
            "wish_on": row.wish_on,
            "deferred_until": row.deferred_until,
            "words": row.reason,
        }
        for step in [raised] if row.state == "raised" else [{**raised, "words": ""}, present]:
            HardwareStep.objects.create(
                decision=row,
                site_id=row.site_id,
                recorded_at=row.changed_at,
                recorded_by_id=row.changed_by_id,
                changed_at=row.changed_at,
                changed_by_id=row.changed_by_id,
                voided_at=row.voided_at,
                voided_by_id=row.voided_by_id,
                void_reason=row.void_reason,
                **step,
            )


class Migration(migrations.Migration):
    dependencies = [
        ("followup", "0019_hardware_steps"),
    ]

    operations = [migrations.RunPython(fill, migrations.RunPython.noop)]

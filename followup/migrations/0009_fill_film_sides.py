from django.db import migrations

BOTH, INJURED = "both", "injured"


def fill(apps, schema_editor):
    """Let every view of a step that asked for the other side as well show both sides."""
    step = apps.get_model("followup", "ProtocolStep")
    for row in step.objects.exclude(film_views=[]).iterator():
        side = BOTH if row.other_side_film else INJURED
        row.film_sides = dict.fromkeys(row.film_views, side)
        row.save(update_fields=["film_sides"])


def empty(apps, schema_editor):
    """Ask for the other side as well where any view showed it."""
    step = apps.get_model("followup", "ProtocolStep")
    for row in step.objects.exclude(film_views=[]).iterator():
        row.other_side_film = any(side != INJURED for side in row.film_sides.values())
        row.save(update_fields=["other_side_film"])


class Migration(migrations.Migration):
    dependencies = [
        ("followup", "0008_film_sides_and_milestones"),
    ]

    operations = [migrations.RunPython(fill, empty)]

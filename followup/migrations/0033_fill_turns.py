"""Say of each reading that is there the how-manieth reader of its film it is by."""

from django.db import migrations
from django.db.models import Count


def fill(apps, schema_editor):
    Reading = apps.get_model("followup", "Reading")
    live = Reading.objects.filter(voided_at__isnull=True)
    several = live.order_by().values("film").annotate(readers=Count("reader", distinct=True))
    films = several.filter(readers__gt=1).values_list("film", flat=True)
    for film in list(films):
        readers = []
        for row in live.filter(film=film).order_by("id"):
            if row.reader_id not in readers:
                readers.append(row.reader_id)
        for turn, reader in enumerate(readers[1:], 2):
            live.filter(film=film, reader=reader).update(turn=turn)


class Migration(migrations.Migration):
    dependencies = [
        ("followup", "0032_wanted_readings"),
    ]

    operations = [migrations.RunPython(fill, migrations.RunPython.noop)]

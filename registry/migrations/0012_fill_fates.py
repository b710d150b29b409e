"""Say of each row of an imported file whether it was added, known already, or refused."""

from django.db import migrations

KNOWN = ("imported before", "the same as line", "this operation is recorded already")


def fill(apps, schema_editor):
    rows = apps.get_model("registry", "ImportRow").objects
    rows.filter(procedure__isnull=False).update(fate="landed")
    left = rows.filter(procedure__isnull=True)
    for words in KNOWN:
        left.filter(reason__startswith=words).update(fate="known")
    left.filter(fate="").update(fate="refused")


class Migration(migrations.Migration):
    dependencies = [("registry", "0011_imports_in_parts")]

    operations = [migrations.RunPython(fill, migrations.RunPython.noop)]

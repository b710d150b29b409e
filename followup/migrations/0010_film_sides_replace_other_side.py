from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [
        ("followup", "0009_fill_film_sides"),
    ]

    operations = [
        migrations.RemoveField(model_name="protocolstep", name="other_side_film"),
    ]

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("followup", "0037_bulk_exports")]

    operations = [
        migrations.AddField(
            model_name="importdraft",
            name="waited",
            field=models.JSONField(blank=True, default=list),
        ),
    ]

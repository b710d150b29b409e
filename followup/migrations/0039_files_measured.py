from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("followup", "0038_import_waited")]

    operations = [
        operation
        for name in ("filmimage", "incomingimage")
        for operation in (
            migrations.AddField(
                model_name=name,
                name="file_bytes",
                field=models.PositiveBigIntegerField(blank=True, null=True),
            ),
            migrations.AddField(
                model_name=name,
                name="file_sha256",
                field=models.CharField(blank=True, db_default="", default="", max_length=64),
            ),
        )
    ]

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("analytics", "0001_initial"),
    ]

    operations = [
        migrations.AddField(
            model_name="snapshot",
            name="definitions",
            field=models.JSONField(default=dict),
        ),
        migrations.AddField(
            model_name="snapshot",
            name="kept_for",
            field=models.JSONField(blank=True, default=list),
        ),
        migrations.AlterField(
            model_name="snapshot",
            name="content_hash",
            field=models.CharField(db_index=True, max_length=64),
        ),
        migrations.AlterField(
            model_name="snapshot",
            name="frames",
            field=models.BinaryField(default=b""),
        ),
        migrations.CreateModel(
            name="SnapshotTable",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("name", models.CharField(max_length=80)),
                ("rows", models.PositiveIntegerField()),
                ("content_hash", models.CharField(max_length=64)),
                ("bytes_hash", models.CharField(max_length=64)),
                ("content", models.BinaryField()),
                (
                    "snapshot",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="tables",
                        to="analytics.snapshot",
                    ),
                ),
            ],
            options={
                "ordering": ["snapshot", "id"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("snapshot", "name"), name="analytics_snapshottable_once"
                    )
                ],
            },
        ),
    ]

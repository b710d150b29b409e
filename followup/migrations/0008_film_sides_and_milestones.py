from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("followup", "0007_scores_by_mode"),
    ]

    operations = [
        migrations.AddField(
            model_name="protocolstep",
            name="film_sides",
            field=models.JSONField(blank=True, default=dict),
        ),
        migrations.AddField(
            model_name="protocolstep",
            name="free_items",
            field=models.JSONField(blank=True, default=list),
        ),
        migrations.AddField(
            model_name="protocolstep",
            name="milestones",
            field=models.JSONField(blank=True, default=list),
        ),
    ]

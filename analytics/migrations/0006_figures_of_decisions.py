"""What the figure behind a decision said when it was taken."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("analytics", "0005_packs_with_surgeons")]

    operations = [
        migrations.AddField(
            model_name="meetingdecision",
            name="figure_said",
            field=models.TextField(blank=True, default="", max_length=2000),
        ),
        migrations.AddField(
            model_name="meetingdecision",
            name="figure_definition",
            field=models.CharField(blank=True, default="", max_length=60),
        ),
        migrations.AddField(
            model_name="meetingdecision",
            name="figure_snapshot",
            field=models.CharField(blank=True, default="", max_length=64),
        ),
        migrations.AddField(
            model_name="meetingdecision",
            name="figure_cutoff",
            field=models.DateField(blank=True, null=True),
        ),
    ]

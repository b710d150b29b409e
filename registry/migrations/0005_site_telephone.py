from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("registry", "0004_alternative_contacts"),
    ]

    operations = [
        migrations.AddField(
            model_name="site",
            name="telephone",
            field=models.CharField(blank=True, db_default="", default="", max_length=80),
        ),
    ]

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("followup", "0020_fill_hardware_steps"),
    ]

    operations = [
        migrations.AlterField(
            model_name="hardwaredecision",
            name="waiting_since",
            field=models.DateField(),
        ),
    ]

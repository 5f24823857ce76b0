"""The choices of a purpose come from a function: a new purpose is no migration. Nothing in the database changes."""

from django.db import migrations, models

from staff.models.regimen.regimen import purpose_choices


class Migration(migrations.Migration):
    dependencies = [("staff", "0021_one_way_to_void")]

    operations = [
        migrations.AlterField(
            model_name="dose",
            name="purpose",
            field=models.CharField(
                choices=purpose_choices, default="pre-exposure", max_length=30, verbose_name="purpose"
            ),
        ),
        migrations.AlterField(
            model_name="regimen",
            name="purpose",
            field=models.CharField(choices=purpose_choices, max_length=30, verbose_name="purpose"),
        ),
    ]

"""A notice of a changed account names the change."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("safety", "0023_moved_cases"),
        ("staff", "0026_account_changes"),
    ]

    operations = [
        migrations.AddField(
            model_name="notice",
            name="account_change",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="notices",
                to="staff.accountchange",
            ),
        ),
    ]

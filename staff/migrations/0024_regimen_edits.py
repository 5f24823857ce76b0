"""Who changed a draft is a row of its own; those of before come out of the trail once."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


def fill(apps, _editor):
    regimens = {
        f"regimen:{code}@{version}": pk
        for pk, code, version in apps.get_model("staff", "Regimen").objects.values_list(
            "pk", "code", "version"
        )
    }
    trail = apps.get_model("staff", "AuditEntry").objects.filter(action="regimen.edited", actor__isnull=False)
    edit = apps.get_model("staff", "RegimenEdit")
    edit.objects.bulk_create(
        edit(regimen_id=regimens[target], by_id=actor, at=at)
        for target, actor, at in trail.values_list("target", "actor", "at")
        if target in regimens
    )


class Migration(migrations.Migration):
    dependencies = [("staff", "0023_assignments_that_ended")]

    operations = [
        migrations.CreateModel(
            name="RegimenEdit",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("at", models.DateTimeField()),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "regimen",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="edits", to="staff.regimen"
                    ),
                ),
            ],
            options={"ordering": ["at", "id"]},
        ),
        migrations.RunPython(fill, migrations.RunPython.noop),
    ]

"""When a case was moved to another person; and a story has no limit of length."""

from django.db import migrations, models


def moved(apps, _schema_editor):
    """Cases moved before say so in the trail alone: read here once, so that the first person's visits answer nothing."""
    Incident = apps.get_model("safety", "Incident")
    corrected = apps.get_model("staff", "AuditEntry").objects.filter(action="incident.person-corrected")
    for reference, at in corrected.order_by("at").values_list("target", "at"):
        Incident.objects.filter(reference=reference).update(moved_at=at)


class Migration(migrations.Migration):
    dependencies = [
        ("safety", "0022_read_held_counts_again"),
        ("staff", "0026_account_changes"),
    ]

    operations = [
        migrations.AddField("incident", "moved_at", models.DateTimeField(blank=True, null=True)),
        migrations.AlterField(
            "incident", "narrative", models.TextField(blank=True, verbose_name="in your words")
        ),
        migrations.RunPython(moved, migrations.RunPython.noop),
    ]

"""Who, when and why of every voided entry, all three or none; and room for a whole reason of a hold."""

from django.db import migrations, models
from django.utils import timezone

NOT_RECORDED = "who voided it was not recorded: whoever recorded it stands in"


def complete(apps, schema_editor):
    """No service ever wrote less than all three; what was written past them is completed and says so."""
    audit = apps.get_model("staff", "AuditEntry").objects
    rows = apps.get_model("staff", "CommunityNotice").objects
    for row in rows.filter(voided_at__isnull=False, voided_by__isnull=True):
        said = f"{row.void_reason} ({NOT_RECORDED})"
        _note(audit, row, row.void_reason)
        # A reason too long to say it there stays whole; the audit trail says it.
        kept = said if len(said) <= 300 else row.void_reason
        rows.filter(pk=row.pk).update(voided_by=row.recorded_by_id, void_reason=kept)
    half = models.Q(voided_by__isnull=False) | ~models.Q(void_reason="")
    for row in rows.filter(half, voided_at__isnull=True):
        _note(audit, row, row.void_reason)
        rows.filter(pk=row.pk).update(voided_by=None, void_reason="")
    if schema_editor.connection.vendor == "postgresql":
        # A table with changes whose foreign keys wait to be checked can't be altered.
        schema_editor.execute("SET CONSTRAINTS ALL IMMEDIATE")


def _note(audit, row, reason):
    audit.create(
        at=timezone.now(),
        action="void.completed",
        site_id=row.outing.site_id,
        target=f"outing:{row.outing_id}",
        detail={"row": row.pk, "voided_by": row.voided_by_id, "reason": reason},
    )


class Migration(migrations.Migration):
    dependencies = [
        ("staff", "0020_crew_left_at"),
    ]

    operations = [
        migrations.RunPython(complete, migrations.RunPython.noop),
        migrations.RemoveConstraint(model_name="communitynotice", name="voided_community_notice_says_why"),
        migrations.AddConstraint(
            model_name="communitynotice",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("void_reason", ""), ("voided_at__isnull", True), ("voided_by__isnull", True)),
                    models.Q(
                        ("voided_at__isnull", False),
                        ("voided_by__isnull", False),
                        models.Q(("void_reason", ""), _negated=True),
                    ),
                    _connector="OR",
                ),
                name="voided_community_notice_says_why",
            ),
        ),
        migrations.AlterField(
            model_name="hold",
            name="reason",
            field=models.CharField(max_length=300, verbose_name="why"),
        ),
    ]

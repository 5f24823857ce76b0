"""A notice says when it was seen, which mail it went in with others, and which unanswered one it passes on."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("safety", "0012_calendar_feeds"),
    ]

    operations = [
        migrations.AddField(
            model_name="notice",
            name="about",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="passed_on",
                to="safety.notice",
            ),
        ),
        migrations.AddField(
            model_name="notice",
            name="acknowledged_at",
            field=models.DateTimeField(blank=True, null=True, verbose_name="seen"),
        ),
        migrations.AddField(
            model_name="notice",
            name="digest",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="members",
                to="safety.notice",
            ),
        ),
        migrations.AlterField(
            model_name="notice",
            name="state",
            field=models.CharField(
                choices=[
                    ("waiting", "waiting"),
                    ("claimed", "being sent"),
                    ("sent", "sent"),
                    ("failed", "refused for good"),
                    ("withdrawn", "withdrawn"),
                    ("gathered", "in a mail with others"),
                ],
                default="waiting",
                max_length=10,
                verbose_name="state",
            ),
        ),
        migrations.AddIndex(
            model_name="notice",
            index=models.Index(fields=["email", "due_at"], name="notice_by_address"),
        ),
        migrations.AddIndex(
            model_name="notice",
            index=models.Index(
                condition=models.Q(("state", "gathered")), fields=["digest"], name="notice_gathered"
            ),
        ),
        migrations.AddIndex(
            model_name="notice",
            index=models.Index(
                condition=models.Q(("acknowledged_at__isnull", True), ("state", "sent")),
                fields=["settled_at"],
                name="notice_unanswered",
            ),
        ),
        migrations.AddConstraint(
            model_name="notice",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("state", "gathered"), _negated=True), ("digest__isnull", False), _connector="OR"
                ),
                name="gathered_notice_has_its_mail",
            ),
        ),
    ]

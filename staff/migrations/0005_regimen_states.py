"""A regimen version is drafted, submitted, listed and retired; what stood before is listed."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

STATES = [
    ("draft", "draft"),
    ("submitted", "submitted for approval"),
    ("listed", "listed"),
    ("retired", "retired"),
]


def somebody():
    return models.ForeignKey(
        blank=True,
        null=True,
        on_delete=django.db.models.deletion.PROTECT,
        related_name="+",
        to=settings.AUTH_USER_MODEL,
    )


class Migration(migrations.Migration):
    dependencies = [("staff", "0004_rules_changes_and_due_dates")]

    operations = [
        # The versions that stand were used as they are: they come in as listed, a new one starts as a draft.
        migrations.AddField(
            model_name="regimen",
            name="state",
            field=models.CharField(choices=STATES, default="listed", max_length=10, verbose_name="state"),
        ),
        migrations.AlterField(
            model_name="regimen",
            name="state",
            field=models.CharField(choices=STATES, default="draft", max_length=10, verbose_name="state"),
        ),
        migrations.AddField(model_name="regimen", name="drafted_by", field=somebody()),
        migrations.AddField(model_name="regimen", name="changed_by", field=somebody()),
        migrations.AddField(model_name="regimen", name="submitted_by", field=somebody()),
        migrations.AddConstraint(
            model_name="regimen",
            constraint=models.CheckConstraint(
                condition=models.Q(("state__in", ["draft", "submitted", "listed", "retired"])),
                name="regimen_state_is_known",
            ),
        ),
        migrations.AddField(model_name="regimenapproval", name="withdrawn_by", field=somebody()),
        migrations.AddField(
            model_name="regimenapproval",
            name="withdraw_reason",
            field=models.CharField(blank=True, max_length=300, verbose_name="why withdrawn"),
        ),
        migrations.AddConstraint(
            model_name="regimenapproval",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(
                        ("withdraw_reason", ""),
                        ("withdrawn_at__isnull", True),
                        ("withdrawn_by__isnull", True),
                    ),
                    models.Q(
                        ("withdrawn_at__isnull", False),
                        ("withdrawn_by__isnull", False),
                        models.Q(("withdraw_reason", ""), _negated=True),
                    ),
                    _connector="OR",
                ),
                name="withdrawn_approval_says_why",
            ),
        ),
        migrations.CreateModel(
            name="RegimenMove",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("old", models.CharField(blank=True, max_length=10, verbose_name="from")),
                ("new", models.CharField(choices=STATES, max_length=10, verbose_name="to")),
                ("at", models.DateTimeField()),
                ("why", models.CharField(blank=True, max_length=300, verbose_name="why")),
                ("by", somebody()),
                (
                    "regimen",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="moves",
                        to="staff.regimen",
                    ),
                ),
            ],
            options={"ordering": ["at", "id"]},
        ),
    ]

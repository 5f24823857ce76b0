"""Documents, letters, standings of doses, months for dates; entry dates of titres and briefings."""

import uuid
import zoneinfo
from typing import Any

import django.core.validators
import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


def date_the_entries(apps: Any, _schema_editor: Any) -> None:
    """The site's date at the moment of entry, never before the day of the event it was entered for."""
    for name, day in (("Titre", "taken_on"), ("Briefing", "held_on")):
        rows = apps.get_model("staff", name).objects.select_related("person__site")
        for row in rows.iterator(chunk_size=500):
            zone = zoneinfo.ZoneInfo(row.person.site.time_zone)
            row.recorded_on = max(row.recorded_at.astimezone(zone).date(), getattr(row, day))
            row.save(update_fields=["recorded_on"])


class Migration(migrations.Migration):
    dependencies = [
        ("staff", "0005_regimen_states"),
    ]

    operations = [
        migrations.CreateModel(
            name="Certificate",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("key", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("certificate", "vaccination certificate"),
                            ("laboratory", "laboratory report of a titre"),
                            ("clearance-letter", "clinician's clearance letter"),
                        ],
                        max_length=20,
                        verbose_name="what it is",
                    ),
                ),
                ("content_type", models.CharField(max_length=40)),
                ("size", models.PositiveIntegerField(verbose_name="bytes")),
                ("sha256", models.CharField(max_length=64)),
                ("uploaded_at", models.DateTimeField()),
                ("verified_at", models.DateTimeField(blank=True, null=True)),
            ],
            options={
                "ordering": ["uploaded_at", "id"],
            },
        ),
        migrations.CreateModel(
            name="ClearanceLetter",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("clinician", models.CharField(max_length=160, verbose_name="clinician")),
                ("signed_on", models.DateField(verbose_name="signed on")),
                ("valid_until", models.DateField(verbose_name="last day it covers")),
                ("recorded_at", models.DateTimeField()),
                ("recorded_on", models.DateField(verbose_name="recorded on, site's date")),
                ("voided_at", models.DateTimeField(blank=True, null=True)),
                ("void_reason", models.CharField(blank=True, max_length=300, verbose_name="why voided")),
            ],
            options={
                "ordering": ["signed_on", "id"],
            },
        ),
        migrations.CreateModel(
            name="DoseStanding",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("counts", models.BooleanField(null=True, verbose_name="counts")),
                (
                    "step",
                    models.PositiveSmallIntegerField(blank=True, null=True, verbose_name="counts as dose"),
                ),
                ("regimen", models.CharField(blank=True, max_length=80, verbose_name="judged by")),
                ("reason", models.CharField(blank=True, max_length=30, verbose_name="why it doesn't count")),
                ("days", models.IntegerField(blank=True, null=True, verbose_name="days too early")),
            ],
            options={
                "ordering": ["dose__given_on", "dose_id"],
            },
        ),
        migrations.CreateModel(
            name="DoseVerification",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("verified_at", models.DateTimeField()),
            ],
            options={
                "ordering": ["id"],
            },
        ),
        migrations.RemoveConstraint(
            model_name="titre",
            name="titre_once_a_day",
        ),
        migrations.AddField(
            model_name="briefing",
            name="recorded_on",
            field=models.DateField(null=True, verbose_name="recorded on, site's date"),
        ),
        migrations.AddField(
            model_name="dose",
            name="date_known",
            field=models.CharField(
                choices=[
                    ("day", "the day is known"),
                    ("month", "only the month is known: counts from the month's last day"),
                ],
                default="day",
                max_length=5,
                verbose_name="how exact the date is",
            ),
        ),
        migrations.AddField(
            model_name="person",
            name="immunocompromised",
            field=models.BooleanField(
                default=False, verbose_name="immunocompromised: cleared by a clinician's letter only"
            ),
        ),
        migrations.AddField(
            model_name="siterules",
            name="mixed_routes",
            field=models.BooleanField(
                default=False,
                verbose_name="doses of one series may be given by different routes (each as the approved regimen of its route asks)",
            ),
        ),
        migrations.AddField(
            model_name="siterules",
            name="stopped_course_doses",
            field=models.PositiveSmallIntegerField(
                default=0,
                validators=[django.core.validators.MaxValueValidator(6)],
                verbose_name="valid doses of a post-exposure course that was stopped which make a series (0: it never does)",
            ),
        ),
        migrations.AddField(
            model_name="titre",
            name="recorded_on",
            field=models.DateField(null=True, verbose_name="recorded on, site's date"),
        ),
        migrations.AddField(
            model_name="titre",
            name="void_reason",
            field=models.CharField(blank=True, max_length=300, verbose_name="why voided"),
        ),
        migrations.AddField(
            model_name="titre",
            name="voided_at",
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="titre",
            name="voided_by",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.RunPython(date_the_entries, migrations.RunPython.noop),
        migrations.AlterField(
            model_name="briefing",
            name="recorded_on",
            field=models.DateField(verbose_name="recorded on, site's date"),
        ),
        migrations.AlterField(
            model_name="titre",
            name="recorded_on",
            field=models.DateField(verbose_name="recorded on, site's date"),
        ),
        migrations.AddConstraint(
            model_name="briefing",
            constraint=models.CheckConstraint(
                condition=models.Q(("held_on__lte", models.F("recorded_on"))),
                name="briefing_not_in_the_future",
            ),
        ),
        migrations.AddConstraint(
            model_name="dose",
            constraint=models.CheckConstraint(
                condition=models.Q(("date_known__in", ["day", "month"])), name="dose_date_is_a_day_or_a_month"
            ),
        ),
        migrations.AddConstraint(
            model_name="siterules",
            constraint=models.CheckConstraint(
                condition=models.Q(("stopped_course_doses", 1), _negated=True),
                name="one_dose_is_no_course",
                violation_error_message="A stopped course of one dose is no series: give 0, or 2 or more.",
            ),
        ),
        migrations.AddConstraint(
            model_name="titre",
            constraint=models.UniqueConstraint(
                condition=models.Q(("voided_at__isnull", True)),
                fields=("person", "taken_on"),
                name="titre_once_a_day",
            ),
        ),
        migrations.AddConstraint(
            model_name="titre",
            constraint=models.CheckConstraint(
                condition=models.Q(("taken_on__lte", models.F("recorded_on"))), name="titre_not_in_the_future"
            ),
        ),
        migrations.AddConstraint(
            model_name="titre",
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
                name="voided_titre_says_why",
            ),
        ),
        migrations.AddField(
            model_name="certificate",
            name="person",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="certificates", to="staff.person"
            ),
        ),
        migrations.AddField(
            model_name="certificate",
            name="uploaded_by",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
            ),
        ),
        migrations.AddField(
            model_name="certificate",
            name="verified_by",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddField(
            model_name="clearanceletter",
            name="document",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="letters", to="staff.certificate"
            ),
        ),
        migrations.AddField(
            model_name="clearanceletter",
            name="person",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="letters", to="staff.person"
            ),
        ),
        migrations.AddField(
            model_name="clearanceletter",
            name="recorded_by",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
            ),
        ),
        migrations.AddField(
            model_name="clearanceletter",
            name="voided_by",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddField(
            model_name="dosestanding",
            name="dose",
            field=models.OneToOneField(
                on_delete=django.db.models.deletion.CASCADE, related_name="standing", to="staff.dose"
            ),
        ),
        migrations.AddField(
            model_name="dosestanding",
            name="person",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.CASCADE, related_name="dose_standings", to="staff.person"
            ),
        ),
        migrations.AddField(
            model_name="doseverification",
            name="certificate",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="verifications",
                to="staff.certificate",
            ),
        ),
        migrations.AddField(
            model_name="doseverification",
            name="dose",
            field=models.OneToOneField(
                on_delete=django.db.models.deletion.PROTECT, related_name="verification", to="staff.dose"
            ),
        ),
        migrations.AddField(
            model_name="doseverification",
            name="verified_by",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
            ),
        ),
        migrations.AddConstraint(
            model_name="certificate",
            constraint=models.UniqueConstraint(
                condition=models.Q(("kind", "clearance-letter"), _negated=True),
                fields=("person", "sha256"),
                name="certificate_once_a_person",
            ),
        ),
        migrations.AddConstraint(
            model_name="certificate",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("verified_at__isnull", True), ("verified_by__isnull", True)),
                    models.Q(
                        ("verified_at__isnull", False),
                        ("verified_by__isnull", False),
                        models.Q(("verified_by", models.F("uploaded_by")), _negated=True),
                    ),
                    _connector="OR",
                ),
                name="certificate_verified_by_a_second_person",
            ),
        ),
        migrations.AddConstraint(
            model_name="clearanceletter",
            constraint=models.CheckConstraint(
                condition=models.Q(("signed_on__lte", models.F("recorded_on"))),
                name="letter_not_in_the_future",
            ),
        ),
        migrations.AddConstraint(
            model_name="clearanceletter",
            constraint=models.CheckConstraint(
                condition=models.Q(("valid_until__gte", models.F("signed_on"))),
                name="letter_ends_after_it_starts",
            ),
        ),
        migrations.AddConstraint(
            model_name="clearanceletter",
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
                name="voided_letter_says_why",
            ),
        ),
        migrations.AddConstraint(
            model_name="dosestanding",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("counts", True), ("reason", ""), ("step__isnull", False)),
                    models.Q(
                        models.Q(("counts", False), ("counts__isnull", True), _connector="OR"),
                        ("step__isnull", True),
                        models.Q(("reason", ""), _negated=True),
                    ),
                    _connector="OR",
                ),
                name="dose_counts_or_says_why_not",
            ),
        ),
    ]

import datetime
import uuid
from decimal import Decimal

import django.contrib.auth.models
import django.contrib.auth.validators
import django.core.validators
import django.db.models.deletion
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models

import staff.models.site.site


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("auth", "0012_alter_user_first_name_max_length"),
    ]

    operations = [
        migrations.CreateModel(
            name="GuessCounter",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("key", models.CharField(max_length=80, unique=True)),
                ("window_started_at", models.DateTimeField()),
                ("tries", models.PositiveIntegerField(default=0)),
            ],
        ),
        migrations.CreateModel(
            name="Site",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("code", models.SlugField(max_length=30, unique=True, verbose_name="code")),
                ("name", models.CharField(max_length=120, verbose_name="name")),
                (
                    "time_zone",
                    models.CharField(
                        max_length=60,
                        validators=[staff.models.site.site.check_time_zone],
                        verbose_name="time zone",
                    ),
                ),
                ("language", models.CharField(default="en", max_length=10, verbose_name="language")),
                ("authority", models.CharField(max_length=200, verbose_name="health authority")),
                ("emergency_number", models.CharField(max_length=40, verbose_name="emergency number")),
            ],
            options={
                "ordering": ["name"],
            },
        ),
        migrations.CreateModel(
            name="User",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("password", models.CharField(max_length=128, verbose_name="password")),
                ("last_login", models.DateTimeField(blank=True, null=True, verbose_name="last login")),
                (
                    "is_superuser",
                    models.BooleanField(
                        default=False,
                        help_text="Designates that this user has all permissions without explicitly assigning them.",
                        verbose_name="superuser status",
                    ),
                ),
                (
                    "username",
                    models.CharField(
                        error_messages={"unique": "A user with that username already exists."},
                        help_text="Required. 150 characters or fewer. Letters, digits and @/./+/-/_ only.",
                        max_length=150,
                        unique=True,
                        validators=[django.contrib.auth.validators.UnicodeUsernameValidator()],
                        verbose_name="username",
                    ),
                ),
                ("first_name", models.CharField(blank=True, max_length=150, verbose_name="first name")),
                ("last_name", models.CharField(blank=True, max_length=150, verbose_name="last name")),
                ("email", models.EmailField(blank=True, max_length=254, verbose_name="email address")),
                (
                    "is_staff",
                    models.BooleanField(
                        default=False,
                        help_text="Designates whether the user can log into this admin site.",
                        verbose_name="staff status",
                    ),
                ),
                (
                    "is_active",
                    models.BooleanField(
                        default=True,
                        help_text="Designates whether this user should be treated as active. Unselect this instead of deleting accounts.",
                        verbose_name="active",
                    ),
                ),
                (
                    "date_joined",
                    models.DateTimeField(default=django.utils.timezone.now, verbose_name="date joined"),
                ),
                (
                    "language",
                    models.CharField(
                        choices=[("en", "English")], default="en", max_length=10, verbose_name="language"
                    ),
                ),
                (
                    "groups",
                    models.ManyToManyField(
                        blank=True,
                        help_text="The groups this user belongs to. A user will get all permissions granted to each of their groups.",
                        related_name="user_set",
                        related_query_name="user",
                        to="auth.group",
                        verbose_name="groups",
                    ),
                ),
                (
                    "user_permissions",
                    models.ManyToManyField(
                        blank=True,
                        help_text="Specific permissions for this user.",
                        related_name="user_set",
                        related_query_name="user",
                        to="auth.permission",
                        verbose_name="user permissions",
                    ),
                ),
            ],
            options={
                "verbose_name": "user",
                "verbose_name_plural": "users",
                "abstract": False,
            },
            managers=[
                ("objects", django.contrib.auth.models.UserManager()),
            ],
        ),
        migrations.CreateModel(
            name="Campaign",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("name", models.CharField(max_length=120, verbose_name="name")),
                ("starts_on", models.DateField(verbose_name="first day of field work")),
                (
                    "route",
                    models.CharField(
                        choices=[("IM", "intramuscular (IM)"), ("ID", "intradermal (ID)")],
                        max_length=2,
                        verbose_name="route",
                    ),
                ),
                (
                    "dose_ml",
                    models.DecimalField(
                        decimal_places=2,
                        default=Decimal("0.10"),
                        max_digits=4,
                        verbose_name="mL of one injection into the skin",
                    ),
                ),
                (
                    "vial_ml",
                    models.DecimalField(
                        decimal_places=2, default=Decimal("1.00"), max_digits=5, verbose_name="mL in one vial"
                    ),
                ),
                ("place", models.CharField(max_length=160, verbose_name="where the sessions are held")),
                ("created_at", models.DateTimeField()),
                (
                    "created_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["-starts_on", "name"],
            },
        ),
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
                (
                    "uploaded_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "verified_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["uploaded_at", "id"],
            },
        ),
        migrations.CreateModel(
            name="Dose",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("given_on", models.DateField(verbose_name="given on")),
                (
                    "date_known",
                    models.CharField(
                        choices=[
                            ("day", "the day is known"),
                            ("month", "only the month is known: counts from the month's last day"),
                        ],
                        default="day",
                        max_length=5,
                        verbose_name="how exact the date is",
                    ),
                ),
                (
                    "purpose",
                    models.CharField(
                        choices=[
                            ("pre-exposure", "pre-exposure"),
                            ("post-exposure", "post-exposure"),
                            ("post-exposure-immunised", "post-exposure, immunised"),
                            ("booster", "booster"),
                        ],
                        default="pre-exposure",
                        max_length=30,
                        verbose_name="purpose",
                    ),
                ),
                (
                    "route",
                    models.CharField(
                        blank=True,
                        choices=[("IM", "intramuscular (IM)"), ("ID", "intradermal (ID)")],
                        max_length=2,
                        verbose_name="route",
                    ),
                ),
                (
                    "injections",
                    models.PositiveSmallIntegerField(blank=True, null=True, verbose_name="injections"),
                ),
                ("product", models.CharField(blank=True, max_length=120, verbose_name="product")),
                ("batch", models.CharField(blank=True, max_length=60, verbose_name="batch")),
                ("place", models.CharField(blank=True, max_length=160, verbose_name="where")),
                (
                    "evidence",
                    models.CharField(
                        choices=[
                            ("certificate-seen", "certificate seen"),
                            ("clinic-register", "given at the clinic or read from its register"),
                            ("none", "no document seen yet: does not clear anyone"),
                        ],
                        max_length=20,
                        verbose_name="evidence",
                    ),
                ),
                ("course_key", models.UUIDField(blank=True, null=True)),
                ("recorded_at", models.DateTimeField()),
                ("recorded_on", models.DateField(verbose_name="recorded on, site's date")),
                ("voided_at", models.DateTimeField(blank=True, null=True)),
                ("void_reason", models.CharField(blank=True, max_length=300, verbose_name="why voided")),
                (
                    "recorded_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "voided_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["given_on", "id"],
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
                (
                    "certificate",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="verifications",
                        to="staff.certificate",
                    ),
                ),
                (
                    "dose",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="verification",
                        to="staff.dose",
                    ),
                ),
                (
                    "verified_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["id"],
            },
        ),
        migrations.CreateModel(
            name="Outing",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("date", models.DateField(verbose_name="date")),
                ("area", models.CharField(max_length=120, verbose_name="area")),
                (
                    "method",
                    models.CharField(
                        choices=[
                            ("fixed-post", "fixed post"),
                            ("house-to-house", "house to house"),
                            ("street-catching", "catching on the street"),
                        ],
                        default="house-to-house",
                        max_length=20,
                        verbose_name="method",
                    ),
                ),
                (
                    "dogs_expected",
                    models.PositiveIntegerField(
                        default=0,
                        validators=[django.core.validators.MinValueValidator(0)],
                        verbose_name="dogs expected",
                    ),
                ),
                ("created_at", models.DateTimeField()),
                ("cancelled_at", models.DateTimeField(blank=True, null=True)),
                ("cancel_reason", models.CharField(blank=True, max_length=300, verbose_name="why cancelled")),
                (
                    "created_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="outings", to="staff.site"
                    ),
                ),
            ],
            options={
                "ordering": ["date", "area"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("cancelled_at__isnull", True),
                            models.Q(("cancel_reason", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="cancelled_outing_says_why",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Crew",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("name", models.CharField(max_length=60, verbose_name="crew")),
                (
                    "outing",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="crews", to="staff.outing"
                    ),
                ),
            ],
            options={
                "ordering": ["id"],
                "constraints": [models.UniqueConstraint(fields=("outing", "name"), name="crew_name_once")],
            },
        ),
        migrations.CreateModel(
            name="Person",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("number", models.CharField(max_length=30, verbose_name="staff number")),
                ("name", models.CharField(max_length=120, verbose_name="name")),
                ("email", models.EmailField(blank=True, max_length=254, verbose_name="e-mail")),
                ("phone", models.CharField(blank=True, max_length=40, verbose_name="telephone")),
                ("language", models.CharField(default="en", max_length=10, verbose_name="language")),
                (
                    "immunocompromised",
                    models.BooleanField(
                        default=False, verbose_name="immunocompromised: cleared by a clinician's letter only"
                    ),
                ),
                (
                    "active_from",
                    models.DateField(blank=True, null=True, verbose_name="first day with the team"),
                ),
                (
                    "active_until",
                    models.DateField(blank=True, null=True, verbose_name="last day with the team"),
                ),
                (
                    "user",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="person",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="people", to="staff.site"
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "people",
                "ordering": ["name", "number"],
                "constraints": [
                    models.UniqueConstraint(fields=("site", "number"), name="staff_number_once_a_site"),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("active_from__isnull", True),
                            ("active_until__isnull", True),
                            ("active_from__lte", models.F("active_until")),
                            _connector="OR",
                        ),
                        name="person_starts_before_leaving",
                        violation_error_message="The last day with the team lies before the first.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Hold",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("starts_on", models.DateField(verbose_name="from")),
                ("ends_on", models.DateField(blank=True, null=True, verbose_name="last day held")),
                ("reason", models.CharField(max_length=200, verbose_name="why")),
                ("source", models.CharField(max_length=80)),
                ("placed_at", models.DateTimeField()),
                ("released_at", models.DateTimeField(blank=True, null=True)),
                ("release_note", models.CharField(blank=True, max_length=300, verbose_name="why released")),
                (
                    "placed_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "released_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="holds", to="staff.person"
                    ),
                ),
            ],
            options={
                "ordering": ["starts_on", "id"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("released_at__isnull", True)),
                        fields=("person", "source"),
                        name="open_hold_once_a_source",
                    )
                ],
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
                (
                    "dose",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE, related_name="standing", to="staff.dose"
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="dose_standings",
                        to="staff.person",
                    ),
                ),
            ],
            options={
                "ordering": ["dose__given_on", "dose_id"],
                "constraints": [
                    models.CheckConstraint(
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
                    )
                ],
            },
        ),
        migrations.AddField(
            model_name="dose",
            name="person",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="doses", to="staff.person"
            ),
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
                (
                    "document",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="letters",
                        to="staff.certificate",
                    ),
                ),
                (
                    "recorded_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "voided_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="letters", to="staff.person"
                    ),
                ),
            ],
            options={
                "ordering": ["signed_on", "id"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("signed_on__lte", models.F("recorded_on"))),
                        name="letter_not_in_the_future",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("valid_until__gte", models.F("signed_on"))),
                        name="letter_ends_after_it_starts",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("void_reason", ""), ("voided_at__isnull", True), ("voided_by__isnull", True)
                            ),
                            models.Q(
                                ("voided_at__isnull", False),
                                ("voided_by__isnull", False),
                                models.Q(("void_reason", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="voided_letter_says_why",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Clearance",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("starts_on", models.DateField(verbose_name="from")),
                ("ends_on", models.DateField(blank=True, null=True, verbose_name="until")),
                ("computed_at", models.DateTimeField()),
                ("superseded_on", models.DateField(blank=True, null=True)),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="clearances",
                        to="staff.person",
                    ),
                ),
            ],
            options={
                "ordering": ["starts_on"],
                "indexes": [
                    models.Index(
                        condition=models.Q(("superseded_on__isnull", True)),
                        fields=["starts_on", "ends_on", "person"],
                        name="clearance_by_date",
                    )
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("ends_on__isnull", True),
                            ("ends_on__gte", models.F("starts_on")),
                            _connector="OR",
                        ),
                        name="clearance_ends_after_it_starts",
                    )
                ],
            },
        ),
        migrations.AddField(
            model_name="certificate",
            name="person",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="certificates", to="staff.person"
            ),
        ),
        migrations.CreateModel(
            name="CampaignMember",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "campaign",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="members",
                        to="staff.campaign",
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="campaign_memberships",
                        to="staff.person",
                    ),
                ),
            ],
            options={
                "ordering": ["person__name", "person__number"],
                "constraints": [
                    models.UniqueConstraint(fields=("campaign", "person"), name="campaign_member_once")
                ],
            },
        ),
        migrations.CreateModel(
            name="Briefing",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("held_on", models.DateField(verbose_name="held on")),
                ("held_by", models.CharField(blank=True, max_length=120, verbose_name="held by")),
                ("recorded_at", models.DateTimeField()),
                ("recorded_on", models.DateField(verbose_name="recorded on, site's date")),
                (
                    "recorded_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="briefings",
                        to="staff.person",
                    ),
                ),
            ],
            options={
                "ordering": ["held_on", "id"],
                "constraints": [
                    models.UniqueConstraint(fields=("person", "held_on"), name="briefing_once_a_day"),
                    models.CheckConstraint(
                        condition=models.Q(("held_on__lte", models.F("recorded_on"))),
                        name="briefing_not_in_the_future",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Assignment",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "role",
                    models.CharField(
                        choices=[
                            ("catcher", "catcher"),
                            ("vaccinator", "vaccinator"),
                            ("recorder", "recorder"),
                            ("driver", "driver"),
                            ("lead", "crew lead"),
                        ],
                        max_length=12,
                        verbose_name="crew role",
                    ),
                ),
                ("assigned_at", models.DateTimeField()),
                (
                    "assigned_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "clearance",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="assignments",
                        to="staff.clearance",
                    ),
                ),
                (
                    "crew",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="assignments",
                        to="staff.crew",
                    ),
                ),
                (
                    "outing",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="assignments",
                        to="staff.outing",
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="assignments",
                        to="staff.person",
                    ),
                ),
            ],
            options={
                "ordering": ["crew", "id"],
                "constraints": [
                    models.UniqueConstraint(fields=("outing", "person"), name="person_once_an_outing")
                ],
            },
        ),
        migrations.CreateModel(
            name="PersonCrewRole",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "role",
                    models.CharField(
                        choices=[
                            ("catcher", "catcher"),
                            ("vaccinator", "vaccinator"),
                            ("recorder", "recorder"),
                            ("driver", "driver"),
                            ("lead", "crew lead"),
                        ],
                        max_length=12,
                        verbose_name="crew role",
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="crew_roles",
                        to="staff.person",
                    ),
                ),
            ],
            options={
                "ordering": ["id"],
                "constraints": [models.UniqueConstraint(fields=("person", "role"), name="crew_role_once")],
            },
        ),
        migrations.CreateModel(
            name="PersonDue",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("dose", "next dose before field work"),
                            ("recheck", "titre or booster"),
                            ("briefing", "safety briefing"),
                            ("letter", "clinician's clearance letter"),
                        ],
                        max_length=10,
                    ),
                ),
                ("due_on", models.DateField(verbose_name="due on")),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="dues", to="staff.person"
                    ),
                ),
            ],
            options={
                "ordering": ["due_on", "id"],
                "indexes": [models.Index(fields=["due_on", "person"], name="due_by_date")],
                "constraints": [
                    models.UniqueConstraint(fields=("person", "kind"), name="one_due_date_a_kind")
                ],
            },
        ),
        migrations.CreateModel(
            name="Regimen",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("code", models.SlugField(max_length=60, verbose_name="code")),
                ("version", models.PositiveSmallIntegerField(default=1, verbose_name="version")),
                ("name", models.CharField(max_length=160, verbose_name="name")),
                (
                    "purpose",
                    models.CharField(
                        choices=[
                            ("pre-exposure", "pre-exposure"),
                            ("post-exposure", "post-exposure"),
                            ("post-exposure-immunised", "post-exposure, immunised"),
                            ("booster", "booster"),
                        ],
                        max_length=30,
                        verbose_name="purpose",
                    ),
                ),
                ("routes", models.JSONField(default=list, verbose_name="routes")),
                (
                    "for_whom",
                    models.CharField(
                        choices=[
                            ("anyone", "anyone"),
                            ("not-immunised", "not immunised"),
                            ("immunised", "immunised"),
                            ("immunocompromised", "immunocompromised"),
                        ],
                        default="anyone",
                        max_length=20,
                        verbose_name="for whom",
                    ),
                ),
                ("source", models.TextField(verbose_name="source")),
                (
                    "source_kind",
                    models.CharField(
                        choices=[
                            ("published", "published table"),
                            ("second-hand", "read in a secondary copy"),
                            ("memory", "from memory, unchecked"),
                        ],
                        max_length=12,
                        verbose_name="kind of source",
                    ),
                ),
                ("created_at", models.DateTimeField(auto_now_add=True)),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("draft", "draft"),
                            ("submitted", "submitted for approval"),
                            ("listed", "listed"),
                            ("retired", "retired"),
                        ],
                        default="draft",
                        max_length=10,
                        verbose_name="state",
                    ),
                ),
                (
                    "changed_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "drafted_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "submitted_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["purpose", "code", "version"],
                "constraints": [
                    models.UniqueConstraint(fields=("code", "version"), name="regimen_version_once"),
                    models.CheckConstraint(
                        condition=models.Q(("state__in", ["draft", "submitted", "listed", "retired"])),
                        name="regimen_state_is_known",
                    ),
                ],
            },
        ),
        migrations.AddField(
            model_name="dose",
            name="regimen",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="staff.regimen",
            ),
        ),
        migrations.AddField(
            model_name="campaign",
            name="regimen",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to="staff.regimen"
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
                (
                    "new",
                    models.CharField(
                        choices=[
                            ("draft", "draft"),
                            ("submitted", "submitted for approval"),
                            ("listed", "listed"),
                            ("retired", "retired"),
                        ],
                        max_length=10,
                        verbose_name="to",
                    ),
                ),
                ("at", models.DateTimeField()),
                ("why", models.CharField(blank=True, max_length=300, verbose_name="why")),
                (
                    "by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "regimen",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="moves", to="staff.regimen"
                    ),
                ),
            ],
            options={
                "ordering": ["at", "id"],
            },
        ),
        migrations.CreateModel(
            name="RegimenStep",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("number", models.PositiveSmallIntegerField(verbose_name="number")),
                ("day", models.PositiveSmallIntegerField(verbose_name="day")),
                ("latest_day", models.PositiveSmallIntegerField(verbose_name="last day of the window")),
                (
                    "smallest_gap",
                    models.PositiveSmallIntegerField(verbose_name="smallest gap to the step before, days"),
                ),
                ("injections", models.PositiveSmallIntegerField(default=1, verbose_name="injections")),
                ("later", models.BooleanField(default=False, verbose_name="keeps a complete series")),
                (
                    "regimen",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="steps", to="staff.regimen"
                    ),
                ),
            ],
            options={
                "ordering": ["number"],
                "constraints": [
                    models.UniqueConstraint(fields=("regimen", "number"), name="regimen_step_once"),
                    models.CheckConstraint(
                        condition=models.Q(("latest_day__gte", models.F("day"))),
                        name="step_window_ends_after_it_opens",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="RulesChange",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("changes", models.JSONField(verbose_name="what changed")),
                ("reason", models.CharField(max_length=300, verbose_name="why")),
                ("at", models.DateTimeField(verbose_name="when")),
                ("total", models.PositiveIntegerField(verbose_name="people to recompute")),
                ("finished_at", models.DateTimeField(blank=True, null=True)),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "overtaken_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="overtook",
                        to="staff.ruleschange",
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="rules_changes",
                        to="staff.site",
                    ),
                ),
            ],
            options={
                "ordering": ["-at", "-id"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("finished_at__isnull", True)),
                        fields=("site",),
                        name="one_recompute_at_a_time_a_site",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("reason", ""), _negated=True), name="rules_change_says_why"
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="ClearancePending",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "person",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="clearance_pending",
                        to="staff.person",
                    ),
                ),
                (
                    "change",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="pending",
                        to="staff.ruleschange",
                    ),
                ),
            ],
            options={
                "ordering": ["person"],
            },
        ),
        migrations.CreateModel(
            name="Session",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("key", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("sequence", models.PositiveIntegerField(default=0)),
                ("held_on", models.DateField(verbose_name="date")),
                ("opens_at", models.TimeField(default=datetime.time(9, 0), verbose_name="opens at")),
                ("place", models.CharField(max_length=160, verbose_name="where")),
                (
                    "state",
                    models.CharField(
                        choices=[("planned", "planned"), ("held", "held"), ("cancelled", "cancelled")],
                        default="planned",
                        max_length=10,
                        verbose_name="state",
                    ),
                ),
                ("planned_at", models.DateTimeField()),
                ("changed_at", models.DateTimeField()),
                (
                    "campaign",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="sessions",
                        to="staff.campaign",
                    ),
                ),
                (
                    "planned_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="sessions", to="staff.site"
                    ),
                ),
            ],
            options={
                "ordering": ["held_on", "id"],
                "indexes": [models.Index(fields=["site", "held_on"], name="session_by_site_and_date")],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("state", "cancelled"), _negated=True),
                        fields=("campaign", "held_on"),
                        name="campaign_session_once_a_day",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="SessionPlace",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "number",
                    models.PositiveSmallIntegerField(
                        validators=[django.core.validators.MinValueValidator(1)], verbose_name="dose"
                    ),
                ),
                ("injections", models.PositiveSmallIntegerField(default=1, verbose_name="injections")),
                (
                    "outcome",
                    models.CharField(
                        choices=[
                            ("expected", "expected"),
                            ("given", "given"),
                            ("absent", "didn't come"),
                            ("refused", "not given"),
                            ("moved", "moved to another session"),
                        ],
                        default="expected",
                        max_length=10,
                        verbose_name="outcome",
                    ),
                ),
                ("planned", models.BooleanField(default=True, verbose_name="was expected")),
                (
                    "reason",
                    models.CharField(blank=True, max_length=200, verbose_name="why no dose was given"),
                ),
                (
                    "dose",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="session_place",
                        to="staff.dose",
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="session_places",
                        to="staff.person",
                    ),
                ),
                (
                    "session",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="places", to="staff.session"
                    ),
                ),
            ],
            options={
                "ordering": ["person__name", "person__number"],
                "constraints": [
                    models.UniqueConstraint(fields=("session", "person"), name="person_once_a_session"),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("dose__isnull", False), ("outcome", "given")),
                            models.Q(models.Q(("outcome", "given"), _negated=True), ("dose__isnull", True)),
                            _connector="OR",
                        ),
                        name="given_place_names_its_dose",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="RegimenApproval",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("authority", models.CharField(max_length=200, verbose_name="authority")),
                ("approved_on", models.DateField(verbose_name="approved on")),
                ("document", models.CharField(max_length=200, verbose_name="document")),
                ("withdrawn_at", models.DateTimeField(blank=True, null=True)),
                (
                    "withdraw_reason",
                    models.CharField(blank=True, max_length=300, verbose_name="why withdrawn"),
                ),
                (
                    "approved_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "regimen",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="approvals",
                        to="staff.regimen",
                    ),
                ),
                (
                    "withdrawn_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="regimen_approvals",
                        to="staff.site",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("withdrawn_at__isnull", True)),
                        fields=("regimen", "site"),
                        name="regimen_approved_once_a_site",
                    ),
                    models.CheckConstraint(
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
                ],
            },
        ),
        migrations.CreateModel(
            name="ImportDraft",
            fields=[
                (
                    "key",
                    models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
                ),
                ("file_name", models.CharField(max_length=120, verbose_name="file")),
                ("sheet", models.JSONField(default=dict)),
                ("mapping", models.JSONField(default=dict)),
                (
                    "date_format",
                    models.CharField(
                        choices=[
                            ("iso", "year-month-day only, such as 2026-04-03 (and real dates of a workbook)"),
                            ("day-month-year", "day, month, year: 03/04/2026 is 3 April"),
                            ("month-day-year", "month, day, year: 03/04/2026 is 4 March"),
                        ],
                        default="iso",
                        max_length=20,
                        verbose_name="written dates",
                    ),
                ),
                (
                    "evidence",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("certificate-seen", "certificate seen"),
                            ("clinic-register", "given at the clinic or read from its register"),
                            ("none", "no document seen yet: does not clear anyone"),
                        ],
                        max_length=20,
                        verbose_name="evidence",
                    ),
                ),
                ("uploaded_at", models.DateTimeField()),
                ("applied_at", models.DateTimeField(blank=True, null=True)),
                ("result", models.JSONField(default=dict)),
                (
                    "uploaded_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="import_drafts",
                        to="staff.site",
                    ),
                ),
            ],
            options={
                "ordering": ["-uploaded_at"],
            },
        ),
        migrations.AddField(
            model_name="campaign",
            name="site",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="campaigns", to="staff.site"
            ),
        ),
        migrations.CreateModel(
            name="AuditEntry",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("at", models.DateTimeField()),
                ("action", models.CharField(max_length=60)),
                ("target", models.CharField(blank=True, max_length=80)),
                ("detail", models.JSONField(default=dict)),
                (
                    "actor",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="audit_entries",
                        to="staff.person",
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="staff.site",
                    ),
                ),
            ],
            options={
                "ordering": ["-at", "-id"],
                "indexes": [models.Index(fields=["site", "-at"], name="audit_by_site")],
            },
        ),
        migrations.CreateModel(
            name="SiteHoliday",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("date", models.DateField(verbose_name="date")),
                ("name", models.CharField(max_length=80, verbose_name="holiday")),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="holidays", to="staff.site"
                    ),
                ),
            ],
            options={
                "ordering": ["date"],
                "constraints": [models.UniqueConstraint(fields=("site", "date"), name="holiday_once_a_site")],
            },
        ),
        migrations.CreateModel(
            name="SiteRole",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "role",
                    models.CharField(
                        choices=[
                            ("officer", "safety officer"),
                            ("lead", "crew lead"),
                            ("liaison", "clinic liaison"),
                        ],
                        max_length=10,
                        verbose_name="role",
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="site_roles",
                        to="staff.site",
                    ),
                ),
                (
                    "user",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="site_roles",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(fields=("user", "site", "role"), name="site_role_once")
                ],
            },
        ),
        migrations.CreateModel(
            name="SiteRules",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "doses_required",
                    models.PositiveSmallIntegerField(
                        default=3,
                        validators=[
                            django.core.validators.MinValueValidator(1),
                            django.core.validators.MaxValueValidator(6),
                        ],
                        verbose_name="valid doses before field work",
                    ),
                ),
                (
                    "settling_days",
                    models.PositiveSmallIntegerField(
                        default=0, verbose_name="days after the last dose before field work"
                    ),
                ),
                (
                    "recheck_months",
                    models.PositiveSmallIntegerField(
                        default=0, verbose_name="months until a titre or booster is due (0: never)"
                    ),
                ),
                (
                    "recheck_once",
                    models.BooleanField(
                        default=False,
                        verbose_name="one re-check is enough: a booster, or an adequate titre a year or more after the series",
                    ),
                ),
                (
                    "lapse_blocks",
                    models.BooleanField(
                        default=True, verbose_name="a lapsed re-check takes people off the roster"
                    ),
                ),
                (
                    "briefing_months",
                    models.PositiveSmallIntegerField(
                        blank=True,
                        null=True,
                        verbose_name="months a safety briefing lasts (0: once is enough; empty: not asked)",
                    ),
                ),
                (
                    "mixed_routes",
                    models.BooleanField(
                        default=False,
                        verbose_name="doses of one series may be given by different routes (each as the approved regimen of its route asks)",
                    ),
                ),
                (
                    "stopped_course_doses",
                    models.PositiveSmallIntegerField(
                        default=0,
                        validators=[django.core.validators.MaxValueValidator(6)],
                        verbose_name="valid doses of a post-exposure course that was stopped which make a series (0: it never does)",
                    ),
                ),
                (
                    "hold_after_exposure",
                    models.BooleanField(
                        default=True,
                        verbose_name="hold a person after a category II or III exposure until a clinic visit is recorded",
                    ),
                ),
                (
                    "wash_minutes",
                    models.PositiveSmallIntegerField(
                        default=15,
                        validators=[django.core.validators.MinValueValidator(1)],
                        verbose_name="minutes of washing with soap and running water",
                    ),
                ),
                (
                    "observation_days",
                    models.PositiveSmallIntegerField(default=10, verbose_name="days a dog or cat is watched"),
                ),
                (
                    "late_rule",
                    models.CharField(
                        choices=[
                            ("keep-gaps", "keep the gaps between the doses that remain"),
                            ("keep-calendar", "keep the calendar of the first dose"),
                            ("restart", "start again after a stated delay"),
                        ],
                        default="keep-gaps",
                        max_length=20,
                        verbose_name="when a dose is late",
                    ),
                ),
                (
                    "restart_after_days",
                    models.PositiveSmallIntegerField(
                        blank=True, null=True, verbose_name="days late after which a course starts again"
                    ),
                ),
                (
                    "travel_kmh",
                    models.PositiveSmallIntegerField(
                        default=30,
                        validators=[
                            django.core.validators.MinValueValidator(1),
                            django.core.validators.MaxValueValidator(200),
                        ],
                        verbose_name="how fast one gets to a clinic, in km/h",
                    ),
                ),
                (
                    "notice_hour",
                    models.PositiveSmallIntegerField(
                        default=7,
                        validators=[django.core.validators.MaxValueValidator(23)],
                        verbose_name="hour of reminders, site time",
                    ),
                ),
                (
                    "site",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE, related_name="rules", to="staff.site"
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "site rules",
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("doses_required__gte", 1)), name="rules_ask_for_a_dose"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("late_rule", "restart"), _negated=True),
                            ("restart_after_days__gte", 1),
                            _connector="OR",
                        ),
                        name="restart_states_its_delay",
                        violation_error_message="Say after how many days late a course starts again.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("travel_kmh__gte", 1)), name="travel_speed_is_above_zero"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("notice_hour__lte", 23)), name="notice_hour_is_an_hour"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("stopped_course_doses", 1), _negated=True),
                        name="one_dose_is_no_course",
                        violation_error_message="A stopped course of one dose is no series: give 0, or 2 or more.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Titre",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("taken_on", models.DateField(verbose_name="blood taken on")),
                (
                    "iu_per_ml",
                    models.DecimalField(
                        decimal_places=2,
                        max_digits=7,
                        validators=[django.core.validators.MinValueValidator(0)],
                        verbose_name="IU/mL",
                    ),
                ),
                ("laboratory", models.CharField(blank=True, max_length=160, verbose_name="laboratory")),
                ("recorded_at", models.DateTimeField()),
                ("recorded_on", models.DateField(verbose_name="recorded on, site's date")),
                ("voided_at", models.DateTimeField(blank=True, null=True)),
                ("void_reason", models.CharField(blank=True, max_length=300, verbose_name="why voided")),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="titres", to="staff.person"
                    ),
                ),
                (
                    "recorded_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "voided_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["taken_on", "id"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("voided_at__isnull", True)),
                        fields=("person", "taken_on"),
                        name="titre_once_a_day",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("iu_per_ml__gte", 0)), name="titre_not_negative"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("taken_on__lte", models.F("recorded_on"))),
                        name="titre_not_in_the_future",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("void_reason", ""), ("voided_at__isnull", True), ("voided_by__isnull", True)
                            ),
                            models.Q(
                                ("voided_at__isnull", False),
                                ("voided_by__isnull", False),
                                models.Q(("void_reason", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="voided_titre_says_why",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Withdrawal",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("crew_name", models.CharField(max_length=60)),
                (
                    "role",
                    models.CharField(
                        choices=[
                            ("catcher", "catcher"),
                            ("vaccinator", "vaccinator"),
                            ("recorder", "recorder"),
                            ("driver", "driver"),
                            ("lead", "crew lead"),
                        ],
                        max_length=12,
                    ),
                ),
                ("reason", models.CharField(max_length=300, verbose_name="why")),
                ("by_rule", models.BooleanField(default=False)),
                ("withdrawn_at", models.DateTimeField()),
                (
                    "outing",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="withdrawals",
                        to="staff.outing",
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="withdrawals",
                        to="staff.person",
                    ),
                ),
                (
                    "withdrawn_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["-withdrawn_at", "-id"],
            },
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
        migrations.AddIndex(
            model_name="dose",
            index=models.Index(fields=["course_key"], name="dose_by_course"),
        ),
        migrations.AddConstraint(
            model_name="dose",
            constraint=models.UniqueConstraint(
                condition=models.Q(("voided_at__isnull", True)),
                fields=("person", "given_on"),
                name="dose_once_a_day",
            ),
        ),
        migrations.AddConstraint(
            model_name="dose",
            constraint=models.CheckConstraint(
                condition=models.Q(("given_on__lte", models.F("recorded_on"))), name="dose_not_in_the_future"
            ),
        ),
        migrations.AddConstraint(
            model_name="dose",
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
                name="voided_dose_says_why",
            ),
        ),
        migrations.AddConstraint(
            model_name="dose",
            constraint=models.CheckConstraint(
                condition=models.Q(("date_known__in", ["day", "month"])), name="dose_date_is_a_day_or_a_month"
            ),
        ),
        migrations.AddConstraint(
            model_name="campaign",
            constraint=models.UniqueConstraint(fields=("site", "name"), name="campaign_name_once_a_site"),
        ),
        migrations.AddConstraint(
            model_name="campaign",
            constraint=models.CheckConstraint(
                condition=models.Q(("dose_ml__gt", 0), ("vial_ml__gte", models.F("dose_ml"))),
                name="vial_holds_a_dose",
            ),
        ),
    ]

import uuid

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

import safety.models.case.choices


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("staff", "0001_squashed_0012_guesses_holidays_travel"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="MailboxMessage",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("message_id", models.CharField(max_length=120)),
                ("to", models.EmailField(max_length=254)),
                ("subject", models.CharField(max_length=200)),
                ("text", models.TextField()),
                ("received_at", models.DateTimeField()),
            ],
            options={
                "ordering": ["-received_at", "-id"],
            },
        ),
        migrations.CreateModel(
            name="SealKey",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("number", models.PositiveIntegerField(unique=True)),
                ("key_id", models.CharField(max_length=16, unique=True)),
                ("public", models.CharField(max_length=100)),
                ("private", models.TextField()),
                ("made_at", models.DateTimeField()),
                ("retired_at", models.DateTimeField(blank=True, null=True)),
            ],
            options={
                "ordering": ["-number"],
            },
        ),
        migrations.CreateModel(
            name="Clinic",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("name", models.CharField(max_length=120, verbose_name="name")),
                ("address", models.CharField(blank=True, max_length=200, verbose_name="address")),
                ("phone", models.CharField(max_length=40, verbose_name="telephone")),
                ("hours", models.CharField(blank=True, max_length=200, verbose_name="opening hours")),
                (
                    "vaccine",
                    models.CharField(
                        choices=[("yes", "in stock"), ("no", "not in stock"), ("unknown", "not known")],
                        default="unknown",
                        max_length=8,
                        verbose_name="vaccine",
                    ),
                ),
                (
                    "immunoglobulin",
                    models.CharField(
                        choices=[("yes", "in stock"), ("no", "not in stock"), ("unknown", "not known")],
                        default="unknown",
                        max_length=8,
                        verbose_name="immunoglobulin",
                    ),
                ),
                ("confirmed_on", models.DateField(blank=True, null=True, verbose_name="stock confirmed on")),
                ("latitude", models.FloatField(blank=True, null=True, verbose_name="latitude")),
                ("longitude", models.FloatField(blank=True, null=True, verbose_name="longitude")),
                (
                    "language",
                    models.CharField(blank=True, max_length=10, verbose_name="language of its letters"),
                ),
                ("active", models.BooleanField(default=True, verbose_name="in use")),
                (
                    "confirmed_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="clinics", to="staff.site"
                    ),
                ),
            ],
            options={
                "ordering": ["name"],
                "constraints": [
                    models.UniqueConstraint(fields=("site", "name"), name="clinic_name_once_a_site"),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("latitude__isnull", True), ("longitude__isnull", True)),
                            models.Q(("latitude__range", (-90, 90)), ("longitude__range", (-180, 180))),
                            _connector="OR",
                        ),
                        name="clinic_place_is_on_earth",
                        violation_error_message="Give latitude (-90 to 90) and longitude (-180 to 180) in degrees, or neither.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="HandledTally",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("date", models.DateField(verbose_name="date")),
                (
                    "task",
                    models.CharField(
                        choices=[
                            ("approaching", "approaching the dog"),
                            ("netting", "netting"),
                            ("holding", "holding"),
                            ("injecting", "injecting"),
                            ("collaring", "collaring"),
                            ("releasing", "releasing"),
                            ("held-by-owner", "dog held by its owner"),
                            ("travelling", "travelling"),
                            ("other", "something else"),
                            ("unknown", "don't know"),
                        ],
                        max_length=14,
                        verbose_name="task",
                    ),
                ),
                ("count", models.PositiveIntegerField(verbose_name="dogs")),
                ("made_at", models.DateTimeField()),
                (
                    "outing",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="handled",
                        to="staff.outing",
                    ),
                ),
                (
                    "sender",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="handled", to="staff.person"
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="handled", to="staff.site"
                    ),
                ),
            ],
            options={
                "ordering": ["date", "task"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("sender", "date", "task"), name="tally_once_a_day_and_task"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Incident",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("key", models.UUIDField(default=uuid.uuid4, unique=True)),
                ("body_digest", models.CharField(max_length=64)),
                ("reference", models.CharField(max_length=12, unique=True, verbose_name="reference")),
                ("reported_at", models.DateTimeField()),
                ("details_at", models.DateTimeField(blank=True, null=True)),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("bite", "bite"),
                            ("scratch", "scratch"),
                            ("lick", "lick"),
                            ("splash", "saliva in eye, nose or mouth"),
                            ("needlestick", "needlestick"),
                            ("near-miss", "near miss"),
                            ("road", "road incident"),
                            ("other", "something else"),
                        ],
                        max_length=12,
                        verbose_name="what happened",
                    ),
                ),
                ("happened_at", models.DateTimeField(verbose_name="when")),
                (
                    "animal",
                    models.CharField(
                        choices=[
                            ("dog-owned", "dog with an owner"),
                            ("dog-roaming", "roaming dog"),
                            ("cat", "cat"),
                            ("bat", "bat"),
                            ("other", "other animal"),
                            ("unknown", "don't know"),
                        ],
                        default="unknown",
                        max_length=12,
                        verbose_name="animal",
                    ),
                ),
                (
                    "task",
                    models.CharField(
                        choices=[
                            ("approaching", "approaching the dog"),
                            ("netting", "netting"),
                            ("holding", "holding"),
                            ("injecting", "injecting"),
                            ("collaring", "collaring"),
                            ("releasing", "releasing"),
                            ("held-by-owner", "dog held by its owner"),
                            ("travelling", "travelling"),
                            ("other", "something else"),
                            ("unknown", "don't know"),
                        ],
                        default="unknown",
                        max_length=14,
                        verbose_name="task",
                    ),
                ),
                ("causes", models.JSONField(default=list, verbose_name="causes")),
                ("narrative", models.TextField(blank=True, max_length=2000, verbose_name="in your words")),
                (
                    "animal_facts",
                    models.JSONField(
                        default=safety.models.case.choices.no_animal_facts, verbose_name="about the animal"
                    ),
                ),
                (
                    "others_hurt",
                    models.CharField(
                        choices=[("yes", "yes"), ("no", "no"), ("unknown", "don't know")],
                        default="unknown",
                        max_length=8,
                        verbose_name="others hurt",
                    ),
                ),
                (
                    "antiseptic",
                    models.CharField(
                        choices=[("yes", "yes"), ("no", "no"), ("unknown", "don't know")],
                        default="unknown",
                        max_length=8,
                        verbose_name="antiseptic after washing",
                    ),
                ),
                ("latitude", models.FloatField(blank=True, null=True, verbose_name="latitude")),
                ("longitude", models.FloatField(blank=True, null=True, verbose_name="longitude")),
                (
                    "accuracy_m",
                    models.FloatField(blank=True, null=True, verbose_name="accurate to, in metres"),
                ),
                ("not_washed", models.BooleanField(default=False, verbose_name="not washed")),
                ("closed_at", models.DateTimeField(blank=True, null=True)),
                ("close_reason", models.CharField(blank=True, max_length=300, verbose_name="why closed")),
                (
                    "closed_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "outing",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="incidents",
                        to="staff.outing",
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="incidents",
                        to="staff.person",
                    ),
                ),
                (
                    "reported_by",
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
                        on_delete=django.db.models.deletion.PROTECT, related_name="incidents", to="staff.site"
                    ),
                ),
            ],
            options={
                "ordering": ["-happened_at", "-id"],
            },
        ),
        migrations.CreateModel(
            name="Course",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("key", models.UUIDField(default=uuid.uuid4, unique=True)),
                (
                    "late_rule",
                    models.CharField(
                        choices=[
                            ("keep-gaps", "keep the gaps between the doses that remain"),
                            ("keep-calendar", "keep the calendar of the first dose"),
                            ("restart", "start again after a stated delay"),
                        ],
                        max_length=20,
                    ),
                ),
                ("restart_after_days", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("starts_on", models.DateField(verbose_name="first dose expected on")),
                ("planned_recorded", models.PositiveIntegerField(blank=True, null=True)),
                ("planned_voided", models.PositiveIntegerField(blank=True, null=True)),
                ("plan_note", models.CharField(blank=True, max_length=500)),
                ("started_at", models.DateTimeField()),
                ("ended_on", models.DateField(blank=True, null=True)),
                ("end_reason", models.CharField(blank=True, max_length=300, verbose_name="why ended")),
                (
                    "ended_by",
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
                        on_delete=django.db.models.deletion.PROTECT, related_name="courses", to="staff.person"
                    ),
                ),
                (
                    "regimen",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="staff.regimen"
                    ),
                ),
                (
                    "started_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "incident",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="courses",
                        to="safety.incident",
                    ),
                ),
            ],
            options={
                "ordering": ["-started_at"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("ended_on__isnull", True)),
                        fields=("incident",),
                        name="one_running_course_a_case",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("ended_on__isnull", True),
                            models.Q(("end_reason", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="ended_course_says_why",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Notice",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("key", models.CharField(max_length=160, unique=True)),
                ("kind", models.CharField(max_length=20, verbose_name="kind")),
                ("reference", models.CharField(max_length=20, verbose_name="reference")),
                ("path", models.CharField(max_length=200)),
                ("sequence", models.PositiveIntegerField(blank=True, null=True)),
                ("step", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("when_on", models.DateField(blank=True, null=True, verbose_name="about the date")),
                ("audience", models.CharField(max_length=12, verbose_name="to")),
                ("email", models.EmailField(max_length=254, verbose_name="address")),
                ("language", models.CharField(default="en", max_length=10)),
                ("send_on", models.DateField(verbose_name="send on, local date")),
                ("send_hour", models.PositiveSmallIntegerField(verbose_name="hour")),
                ("zone", models.CharField(max_length=60)),
                ("due_at", models.DateTimeField(verbose_name="due")),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("waiting", "waiting"),
                            ("claimed", "being sent"),
                            ("sent", "sent"),
                            ("failed", "refused for good"),
                            ("withdrawn", "withdrawn"),
                        ],
                        default="waiting",
                        max_length=10,
                        verbose_name="state",
                    ),
                ),
                ("attempts", models.PositiveSmallIntegerField(default=0, verbose_name="attempts")),
                ("next_try_at", models.DateTimeField()),
                ("claim_token", models.UUIDField(blank=True, null=True)),
                ("lease_until", models.DateTimeField(blank=True, null=True)),
                ("message_id", models.CharField(max_length=120, unique=True)),
                ("last_error", models.CharField(blank=True, max_length=500, verbose_name="last error")),
                ("created_at", models.DateTimeField()),
                ("settled_at", models.DateTimeField(blank=True, null=True)),
                (
                    "course",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="notices",
                        to="safety.course",
                    ),
                ),
                (
                    "incident",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="notices",
                        to="safety.incident",
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="notices",
                        to="staff.person",
                    ),
                ),
                (
                    "session",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="notices",
                        to="staff.session",
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="notices", to="staff.site"
                    ),
                ),
                (
                    "user",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="notices",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "withdrawal",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="notices",
                        to="staff.withdrawal",
                    ),
                ),
            ],
            options={
                "ordering": ["due_at", "id"],
                "indexes": [
                    models.Index(
                        condition=models.Q(("state__in", ["waiting", "claimed"])),
                        fields=["next_try_at"],
                        name="notice_open",
                    ),
                    models.Index(
                        condition=models.Q(("state", "waiting")),
                        fields=["course"],
                        name="notice_open_by_course",
                    ),
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state", "claimed"), _negated=True),
                            models.Q(("claim_token__isnull", False), ("lease_until__isnull", False)),
                            _connector="OR",
                        ),
                        name="claimed_notice_has_a_lease",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="NoticeEvent",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("at", models.DateTimeField()),
                ("old", models.CharField(blank=True, max_length=10)),
                ("new", models.CharField(max_length=10)),
                ("why", models.CharField(blank=True, max_length=500)),
                (
                    "notice",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="events", to="safety.notice"
                    ),
                ),
            ],
            options={
                "ordering": ["id"],
            },
        ),
        migrations.CreateModel(
            name="PhoneLink",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("selector", models.CharField(max_length=8, unique=True)),
                ("secret_hash", models.CharField(max_length=64)),
                ("made_at", models.DateTimeField(verbose_name="made")),
                ("ended_at", models.DateTimeField(blank=True, null=True, verbose_name="ended")),
                ("last_used_at", models.DateTimeField(blank=True, null=True, verbose_name="last used")),
                (
                    "made_by",
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
                        related_name="phone_links",
                        to="staff.person",
                    ),
                ),
            ],
            options={
                "ordering": ["-made_at", "-id"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("ended_at__isnull", True)),
                        fields=("person",),
                        name="one_live_link_a_person",
                    )
                ],
            },
        ),
        migrations.AddField(
            model_name="incident",
            name="reported_through",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="safety.phonelink",
            ),
        ),
        migrations.CreateModel(
            name="PhoneMessage",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("key", models.UUIDField(unique=True)),
                ("key_id", models.CharField(max_length=16)),
                ("sealed", models.TextField()),
                ("received_at", models.DateTimeField(verbose_name="received")),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("received", "received"),
                            ("waiting", "waits for its report"),
                            ("placed", "placed"),
                            ("held", "waits for an officer"),
                            ("set-aside", "set aside"),
                        ],
                        default="received",
                        max_length=10,
                        verbose_name="state",
                    ),
                ),
                ("reason", models.CharField(blank=True, max_length=80)),
                ("proven", models.BooleanField(default=False)),
                ("kind", models.CharField(blank=True, max_length=10)),
                ("about", models.UUIDField(blank=True, null=True)),
                ("made_at", models.DateTimeField(blank=True, null=True, verbose_name="written on the phone")),
                ("settled_at", models.DateTimeField(blank=True, null=True)),
                ("settle_reason", models.CharField(blank=True, max_length=300, verbose_name="why")),
                (
                    "incident",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="phone_messages",
                        to="safety.incident",
                    ),
                ),
                (
                    "link",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="messages",
                        to="safety.phonelink",
                    ),
                ),
                (
                    "settled_by",
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
                "ordering": ["received_at", "id"],
                "indexes": [
                    models.Index(
                        condition=models.Q(("state__in", ["received", "waiting", "held"])),
                        fields=["received_at"],
                        name="phone_message_open",
                    ),
                    models.Index(fields=["about"], name="phone_message_about"),
                ],
            },
        ),
        migrations.CreateModel(
            name="PlannedDose",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("number", models.PositiveSmallIntegerField(verbose_name="dose")),
                ("day", models.PositiveSmallIntegerField(verbose_name="day")),
                ("due_on", models.DateField(verbose_name="due")),
                ("latest_on", models.DateField(verbose_name="at the latest")),
                ("injections", models.PositiveSmallIntegerField(default=1, verbose_name="injections")),
                ("given_on", models.DateField(blank=True, null=True, verbose_name="given")),
                ("days_late", models.PositiveSmallIntegerField(default=0, verbose_name="days late")),
                (
                    "course",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="planned_doses",
                        to="safety.course",
                    ),
                ),
                (
                    "dose",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="planned_as",
                        to="staff.dose",
                    ),
                ),
            ],
            options={
                "ordering": ["number"],
                "indexes": [
                    models.Index(
                        condition=models.Q(("given_on__isnull", True)),
                        fields=["due_on"],
                        name="dose_still_due",
                    )
                ],
                "constraints": [
                    models.UniqueConstraint(fields=("course", "number"), name="planned_dose_once")
                ],
            },
        ),
        migrations.CreateModel(
            name="Referral",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("referred_at", models.DateTimeField(verbose_name="sent to the clinic at")),
                (
                    "clinic",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="referrals",
                        to="safety.clinic",
                    ),
                ),
                (
                    "incident",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="referrals",
                        to="safety.incident",
                    ),
                ),
                (
                    "referred_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["referred_at", "id"],
            },
        ),
        migrations.CreateModel(
            name="Visit",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("visited_on", models.DateField(verbose_name="seen on")),
                ("clinician", models.CharField(blank=True, max_length=120, verbose_name="clinician")),
                (
                    "decision",
                    models.CharField(
                        choices=[
                            ("course", "a course of post-exposure doses"),
                            ("no-course", "no doses needed"),
                            ("referred-on", "sent on to another clinic"),
                            ("pending", "not decided yet"),
                        ],
                        max_length=12,
                        verbose_name="clinician's decision",
                    ),
                ),
                (
                    "immunoglobulin",
                    models.CharField(
                        choices=[("yes", "yes"), ("no", "no"), ("unknown", "don't know")],
                        default="unknown",
                        max_length=8,
                        verbose_name="immunoglobulin given",
                    ),
                ),
                ("note", models.CharField(blank=True, max_length=500, verbose_name="note")),
                ("recorded_at", models.DateTimeField()),
                (
                    "clinic",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="visits", to="safety.clinic"
                    ),
                ),
                (
                    "incident",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="visits",
                        to="safety.incident",
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
            ],
            options={
                "ordering": ["visited_on", "id"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("incident", "clinic", "visited_on"), name="visit_once_a_day"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="WashSpell",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("started_at", models.DateTimeField(verbose_name="started")),
                ("stopped_at", models.DateTimeField(blank=True, null=True, verbose_name="stopped")),
                (
                    "soap",
                    models.CharField(
                        choices=[("yes", "yes"), ("no", "no"), ("unknown", "don't know")],
                        default="unknown",
                        max_length=8,
                        verbose_name="with soap",
                    ),
                ),
                (
                    "running_water",
                    models.CharField(
                        choices=[("yes", "yes"), ("no", "no"), ("unknown", "don't know")],
                        default="unknown",
                        max_length=8,
                        verbose_name="under running water",
                    ),
                ),
                ("voided_at", models.DateTimeField(blank=True, null=True)),
                ("void_reason", models.CharField(blank=True, max_length=300, verbose_name="why voided")),
                (
                    "incident",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="wash_spells",
                        to="safety.incident",
                    ),
                ),
                (
                    "recorded_by",
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
                "ordering": ["started_at", "id"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("stopped_at__isnull", True), ("voided_at__isnull", True)),
                        fields=("incident",),
                        name="one_wash_clock_running",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("stopped_at__isnull", True),
                            ("stopped_at__gte", models.F("started_at")),
                            _connector="OR",
                        ),
                        name="wash_stops_after_it_starts",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Wound",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "contact",
                    models.CharField(
                        choices=[
                            ("bitten", "bitten"),
                            ("scratched", "scratched"),
                            ("nibbled-uncovered-skin", "nibbled on uncovered skin"),
                            ("licked-broken-skin", "licked on broken skin"),
                            ("licked-intact-skin", "licked on unbroken skin"),
                            ("splashed-eye-nose-mouth", "saliva in eye, nose or mouth"),
                            ("touched", "touched or fed only"),
                            ("needlestick", "stuck by a needle"),
                            ("none", "no contact"),
                            ("unknown", "don't know"),
                        ],
                        default="unknown",
                        max_length=26,
                        verbose_name="contact",
                    ),
                ),
                (
                    "body_site",
                    models.CharField(
                        choices=[
                            ("head-face-neck", "head, face or neck"),
                            ("hand", "hand or fingers"),
                            ("arm", "arm"),
                            ("trunk", "chest, belly or back"),
                            ("genitals", "genitals"),
                            ("leg", "leg"),
                            ("foot", "foot"),
                            ("unknown", "don't know"),
                        ],
                        default="unknown",
                        max_length=16,
                        verbose_name="where on the body",
                    ),
                ),
                (
                    "broke_skin",
                    models.CharField(
                        choices=[("yes", "yes"), ("no", "no"), ("unknown", "don't know")],
                        default="unknown",
                        max_length=8,
                        verbose_name="skin broken",
                    ),
                ),
                (
                    "bled",
                    models.CharField(
                        choices=[("yes", "yes"), ("no", "no"), ("unknown", "don't know")],
                        default="unknown",
                        max_length=8,
                        verbose_name="bleeding",
                    ),
                ),
                (
                    "deep",
                    models.CharField(
                        choices=[("yes", "yes"), ("no", "no"), ("unknown", "don't know")],
                        default="unknown",
                        max_length=8,
                        verbose_name="deep",
                    ),
                ),
                (
                    "incident",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="wounds",
                        to="safety.incident",
                    ),
                ),
            ],
            options={
                "ordering": ["id"],
            },
        ),
        migrations.AddIndex(
            model_name="incident",
            index=models.Index(fields=["site", "-happened_at"], name="incident_by_site"),
        ),
        migrations.AddConstraint(
            model_name="incident",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("closed_at__isnull", True),
                    models.Q(("close_reason", ""), _negated=True),
                    _connector="OR",
                ),
                name="closed_incident_says_why",
            ),
        ),
        migrations.AddConstraint(
            model_name="incident",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("reported_by__isnull", False), ("reported_through__isnull", False), _connector="OR"
                ),
                name="incident_says_who_reported",
            ),
        ),
        migrations.AddConstraint(
            model_name="incident",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("latitude__isnull", True), ("longitude__isnull", True)),
                    models.Q(("latitude__range", (-90, 90)), ("longitude__range", (-180, 180))),
                    _connector="OR",
                ),
                name="incident_place_is_on_earth",
            ),
        ),
    ]

"""What a notice is about, in columns; of rows written before, read from their keys for the last time."""

import hashlib
import re
from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import django.db.models.deletion
from django.db import migrations, models

BATCH = 500
# Column: the kind, where its key names the number of what it is about, and the model it is a row of.
NAMED = {
    "departure_id": ("left-without", r"left-(\d{1,18}):", ("safety", "Departure")),
    "observation_id": ("animal-word", r"animal-(\d{1,18}):", ("safety", "Observation")),
    "held_id": ("held-report", r"held-(\d{1,18}):", ("safety", "PhoneMessage")),
    "clinic_id": ("clinic-lacks", r"clinic-(\d{1,18}):", ("safety", "Clinic")),
    "refused_id": ("undelivered", r"undelivered-(\d{1,18}):", ("safety", "Notice")),
}
SAYS = {
    "on": ("outing-moved", "roster-on-again", "invitation"),
    "off": ("roster-off", "outing-off", "invitation-off"),
}


def fill(apps, schema_editor):
    Notice = apps.get_model("safety", "Notice")
    for column, (kind, pattern, (app, model)) in NAMED.items():
        known = set(apps.get_model(app, model).objects.values_list("pk", flat=True))
        _read(Notice, [kind], column, lambda key, p=pattern, k=known: _number(key, p, k))
    # Without the two parts that name the reader.
    _read(Notice, ["new-report", "animal-word"], "matter", lambda key: key.rsplit(":", 2)[0])
    _read(Notice, ["outing-moved"], "known_on", lambda key: _date(key, r"outing-moved-\d+:([\d-]{10}):"))
    _read(Notice, ["dates-late"], "week_on", lambda key: _date(key, r"late-\d+:([\d-]{10}):"))
    for says, kinds in SAYS.items():
        Notice.objects.filter(kind__in=kinds).update(says=says)
    off = Notice.objects.filter(kind__in=SAYS["off"], withdrawal__isnull=False)
    off.update(known_on=models.F("when_on"))
    _starts(Notice)
    Notice.objects.filter(kind="digest").update(gathers=True)
    # D is a departure's; what has left keeps the reference it left with.
    for row in Notice.objects.filter(kind="digest", state="waiting", attempts=0, reference__startswith="D"):
        Notice.objects.filter(pk=row.pk).update(reference=f"G{row.reference[1:]}")
    # PostgreSQL makes no index while checks of these rows are due.
    schema_editor.connection.check_constraints()


def _read(Notice, kinds, column, read):
    changed = []
    for row in Notice.objects.filter(kind__in=kinds).only("pk", "key", column).iterator(chunk_size=BATCH):
        found = read(row.key)
        if found is not None:
            setattr(row, column, found)
            changed.append(row)
    Notice.objects.bulk_update(changed, [column.removesuffix("_id")], batch_size=BATCH)


def _number(key, pattern, known):
    found = re.match(pattern, key)
    return int(found[1]) if found and int(found[1]) in known else None


def _date(key, pattern):
    found = re.match(pattern, key)
    return date.fromisoformat(found[1]) if found else None


def _starts(Notice):
    """An invitation says when the session is held as long as its key's digest is that of the session as it is now."""
    changed = []
    rows = Notice.objects.filter(kind__in=("invitation", "invitation-off"), session__isnull=False)
    for row in rows.select_related("session__site").order_by("pk"):
        session = row.session
        said = f"{session.held_on} {session.opens_at} {session.site.time_zone} {row.email}"
        if f":{hashlib.sha256(said.encode()).hexdigest()[:24]}:" in row.key:
            zone = ZoneInfo(session.site.time_zone)
            row.starts_at = datetime.combine(session.held_on, session.opens_at, zone).astimezone(UTC)
            changed.append(row)
    Notice.objects.bulk_update(changed, ["starts_at"], batch_size=BATCH)


class Migration(migrations.Migration):
    dependencies = [
        ("safety", "0020_one_way_to_void"),
    ]

    operations = [
        migrations.AddField(
            model_name="notice",
            name="clinic",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="notices",
                to="safety.clinic",
            ),
        ),
        migrations.AddField(
            model_name="notice",
            name="departure",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="notices",
                to="safety.departure",
            ),
        ),
        migrations.AddField(
            model_name="notice",
            name="gathers",
            field=models.BooleanField(default=False),
        ),
        migrations.AddField(
            model_name="notice",
            name="held",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="notices",
                to="safety.phonemessage",
            ),
        ),
        migrations.AddField(
            model_name="notice",
            name="known_on",
            field=models.DateField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="notice",
            name="matter",
            field=models.CharField(blank=True, max_length=120),
        ),
        migrations.AddField(
            model_name="notice",
            name="observation",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="notices",
                to="safety.observation",
            ),
        ),
        migrations.AddField(
            model_name="notice",
            name="refused",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="told_on",
                to="safety.notice",
            ),
        ),
        migrations.AddField(
            model_name="notice",
            name="says",
            field=models.CharField(blank=True, choices=[("on", "On"), ("off", "Off")], max_length=3),
        ),
        migrations.AddField(
            model_name="notice",
            name="starts_at",
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="notice",
            name="week_on",
            field=models.DateField(blank=True, null=True),
        ),
        migrations.RunPython(fill, migrations.RunPython.noop),
    ]

"""Messages held because nothing in them could be read are read again by the next tick: counts of dogs were among them."""

from django.db import migrations


def read_again(apps, _schema_editor):
    rows = apps.get_model("safety", "PhoneMessage").objects.filter(state="held", reason="unreadable", kind="")
    # `held_at` stays, so that what can't be read by anybody still isn't told of twice.
    rows.update(state="received", reason="")


class Migration(migrations.Migration):
    dependencies = [("safety", "0021_notice_subjects")]

    operations = [migrations.RunPython(read_again, migrations.RunPython.noop)]

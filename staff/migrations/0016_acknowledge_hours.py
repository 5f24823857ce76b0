"""How long a reminder waits for a word that it was seen, and who is told when nobody answers."""

import django.core.validators
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("staff", "0015_standings_by_the_route_used"),
    ]

    operations = [
        migrations.AddField(
            model_name="siterules",
            name="acknowledge_hours",
            field=models.PositiveSmallIntegerField(
                default=4,
                validators=[
                    django.core.validators.MinValueValidator(1),
                    django.core.validators.MaxValueValidator(24),
                ],
                verbose_name="hours after which a reminder nobody has seen goes to the next contact",
            ),
        ),
        migrations.AddField(
            model_name="siterules",
            name="further_contact_email",
            field=models.EmailField(
                blank=True,
                default="",
                max_length=254,
                verbose_name="e-mail of the further contact, who is told when no officer answers (empty: nobody)",
            ),
        ),
        migrations.AddConstraint(
            model_name="siterules",
            constraint=models.CheckConstraint(
                condition=models.Q(("acknowledge_hours__range", (1, 24))), name="acknowledged_within_a_day"
            ),
        ),
    ]

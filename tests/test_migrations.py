"""The migrations and the models say the same, by the short way of a new database and by the long one of an old."""

from __future__ import annotations

import pytest
from django.core.management import call_command
from django.db.migrations.autodetector import MigrationAutodetector
from django.db.migrations.loader import MigrationLoader


@pytest.mark.django_db
def test_no_model_change_waits_for_a_migration() -> None:
    call_command("makemigrations", check=True, dry_run=True, verbosity=0)


def test_the_squashed_migrations_end_where_the_single_ones_do() -> None:
    single = MigrationLoader(None, replace_migrations=False)
    # The long way: without the squashed ones, as a database of before them goes it.
    nodes = [node for node in single.graph.leaf_nodes() if not single.graph.nodes[node].replaces]
    long, short = single.graph.make_state(nodes=nodes), MigrationLoader(None).project_state()
    for before, after in ((long, short), (short, long)):
        assert MigrationAutodetector(before, after).changes(graph=single.graph) == {}

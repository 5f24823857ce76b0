"""A list with more problems than a screen holds."""

from __future__ import annotations

import pytest
from django.urls import reverse

from tests.factories import Team
from tests.staff.imports.lists import lines
from tests.staff.imports.test_pages import client_of, send

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(("rows", "folded"), [(3, False), (60, True)])
def test_many_problems_are_folded_so_that_the_choices_which_mend_them_are_in_reach(
    team: Team, rows: int, folded: bool
) -> None:
    officer = client_of(team.officer)
    cells = [f"P{n},Person {n},03/04/2026" for n in range(rows)]
    draft = send(officer, team, lines("Number,Name,Dose 1", *cells))
    page = officer.get(reverse("import-draft", args=[draft.key])).content.decode()
    main = page[page.index("<main") :]
    assert f"{rows} problems, by row and column" in main
    assert ("<details open><summary>" not in main) == folded
    assert main.index('href="#choices"') < main.index("<details") < main.index('id="choices"')

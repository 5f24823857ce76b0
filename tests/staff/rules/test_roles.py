"""One table of the roles of accounts; doors, menu, audiences and words are made of it."""

from __future__ import annotations

from config.context import EVERYBODY, NAV
from config.context import OFFICE as OFFICE_OF_THE_MENU
from safety.rules.notices.follow_up import Audience
from safety.rules.notices.levels import Level
from safety.selectors.notices.absences import OFFICE as AWAY
from safety.words import AUDIENCES
from staff.doors import api as door
from staff.doors import page
from staff.ground.roles import GIVEN, OFFICE, ROLES, Role
from staff.models import ROLE_WORDS, SiteRole


def test_the_rows_are_the_four_of_the_programme() -> None:
    assert [role.value for role in ROLES] == ["officer", "lead", "liaison", "member"]
    assert [role.value for role in GIVEN] == ["officer", "lead", "liaison"]
    assert [role.value for role in OFFICE] == ["officer", "liaison"]


def test_every_reader_has_its_roles_from_the_table() -> None:
    assert set(SiteRole.Role.values) == set(GIVEN)
    for shop in (page, door):
        assert {shop.OFFICER, shop.LIAISON, shop.LEAD, shop.MEMBER} == set(Role)
    assert set(Audience) <= set(Role) and set(Role) > set(Level) - {"further"}
    assert OFFICE_OF_THE_MENU == set(OFFICE) == set(AWAY) and set(ROLES) == EVERYBODY
    assert all(seen_by is None or seen_by <= set(Role) for _name, _label, seen_by in NAV)


def test_a_role_is_called_the_same_everywhere() -> None:
    assert set(ROLE_WORDS) == set(Role)
    for audience in Audience:
        assert str(AUDIENCES[audience]) == str(ROLE_WORDS[audience])

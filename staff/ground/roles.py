"""What an account may be at a site: one row a role. Their words stand in staff.models.site.user.

A crew role (catcher, recorder, lead of a crew ...) is another matter: staff.models.record.person.CrewRole.
"""

from dataclasses import dataclass
from enum import StrEnum


class Role(StrEnum):
    OFFICER = "officer"
    LEAD = "lead"
    LIAISON = "liaison"
    MEMBER = "member"


@dataclass(frozen=True)
class RoleRow:
    """`given`: an administrator gives it to an account at a site; without, being on the team is enough.
    `office`: works at a desk and follows cases up; the others are in the field."""

    role: Role
    given: bool
    office: bool


ROLES = {
    row.role: row
    for row in (
        RoleRow(Role.OFFICER, given=True, office=True),
        RoleRow(Role.LEAD, given=True, office=False),
        RoleRow(Role.LIAISON, given=True, office=True),
        RoleRow(Role.MEMBER, given=False, office=False),
    )
}
if missing := set(Role) - set(ROLES):
    raise RuntimeError(f"roles without a row: {', '.join(sorted(missing))}")

GIVEN = tuple(row.role for row in ROLES.values() if row.given)
OFFICE = tuple(row.role for row in ROLES.values() if row.office)

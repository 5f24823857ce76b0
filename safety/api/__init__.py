"""Doors for programs: reports, the steps of a case, the outbox. Shapes of errors are those of staff.api."""

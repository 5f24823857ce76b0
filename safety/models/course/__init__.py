"""The rows of this shelf, handed on."""

from safety.models.course.course import Course, CourseDate, CourseFact, EndKind, PlanChange, PlannedDose

__all__ = [
    "Course",
    "CourseDate",
    "CourseFact",
    "EndKind",
    "PlanChange",
    "PlannedDose",
]

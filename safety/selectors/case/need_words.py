"""The sentence of each need, and why a case can't be closed while it stands."""

from __future__ import annotations

from django.utils.translation import gettext_lazy as _

from safety.rules.case.needs import Bar, Incomplete, NeedCode, need_every

WORDS = {
    # Of washing by its state; see `WASHING`.
    NeedCode.WASH: _("Washing isn't recorded: ask, and write down how long."),
    NeedCode.REFERRAL: _("Refer to a clinic: it is to be reached the same day."),
    NeedCode.VISIT: _("No clinic visit is recorded yet."),
    NeedCode.DECISION: _("The clinician's decision isn't recorded."),
    NeedCode.COURSE: _("Record the course the clinician ordered."),
    NeedCode.IMMUNOGLOBULIN: _(
        "Immunoglobulin wasn't available: ask the clinic again, or another clinic that has it."
    ),
    NeedCode.DATES_DIFFER: _(
        "The dates differ: the clinic wrote %(said)s, the regimen gives %(due)s. Ring the clinic."
    ),
    NeedCode.DOSE: _("Dose %(number)s of the course."),
    NeedCode.PLAN: _("The dates of the doses are being computed."),
    NeedCode.UNDATED: _("The course has no dates yet: ask the clinic and write them down."),
    NeedCode.COMPLETE: _("Every dose of the course is given: end it as complete."),
    NeedCode.RESUME: _(
        "A dose of the course that ended as complete was voided: take the course up again, and record what was given."
    ),
    NeedCode.UNLISTED: _("Course on a regimen the table lacks, %(name)s: ask the authority about it."),
    NeedCode.TITRE: _(
        "Immunocompromised by the record: ask the clinician about a titre after the course, taken between"
        " %(first)s and %(last)s."
    ),
    NeedCode.DETAILS: _("The answers aren't all in yet: ask the person what happened."),
    # Those of the animal come with their own words (safety.selectors.animal.observation) but for the last.
    NeedCode.ANIMAL_LAST_DAY: _(
        "The last day of the observation is reached: see the animal and record how it ended."
    ),
    NeedCode.ANIMAL_CHECK_MISSING: _("No check is recorded for %(day)s: ask how the animal is."),
    NeedCode.ANIMAL_CHECK_TODAY: _("Today's check isn't recorded yet."),
    NeedCode.ANIMAL_LABORATORY: _("The laboratory's answer is awaited: ring and ask."),
    NeedCode.ANIMAL_WATCH: _("The animal is watched: record on the last day how that ended."),
    NeedCode.CLOSE: _("Nothing is open; review what can be learned and close the case."),
}
need_every(WORDS, "WORDS")

# Another sentence for the same need, by what goes with it.
VARIANTS = {
    (NeedCode.WASH, "running"): _("Washing is under way."),
    (NeedCode.WASH, "short"): _(
        "Washing fell short of the target; wash on if the wound is fresh, and tell the clinic."
    ),
    (NeedCode.WASH, "not-washed"): _(
        "Not washed: wash with soap and running water now, and tell the clinic."
    ),
    (NeedCode.WASH, "not-recorded"): WORDS[NeedCode.WASH],
    (NeedCode.VISIT, "referred-on"): _("Sent on to another clinic: record that visit."),
    (NeedCode.VISIT, "late-report"): _(
        "Its report came after the visit on record: ask a clinic again, and record that visit."
    ),
    (NeedCode.VISIT, "moved"): _(
        "The case was another person's before, and so may be the visit on record: ask the clinic whom it saw, void "
        "that visit and record this person's."
    ),
    (NeedCode.DOSE, "in-window"): _(
        "Dose %(number)s of the course: in its window, due since %(due)s, to be given by %(last)s."
    ),
}

BARRED = {
    Bar.VISIT: _("No clinic visit is recorded that answers this case; it can't be closed."),
    Bar.COURSE: _("A course is running: end it first, with the clinician's word."),
    Bar.SHORT: _(
        "A dose of the course was voided since it ended as complete: take the course up again first."
    ),
    Bar.ANIMAL: _("The animal is being watched: record first how that ended."),
    Bar.DETAILS: _("The answers aren't all in yet: ask the person, or say that they won't come."),
}
if missing := [bar.value for bar in Bar if bar not in BARRED]:
    raise Incomplete(f"BARRED has no row for: {', '.join(missing)}")


def sentence(code: NeedCode, variant: str = "", **facts: object) -> str:
    """In the reader's language; `facts` are the dates and numbers that the sentence names."""
    words = VARIANTS[code, variant] if variant else WORDS[code]
    return str(words) % facts if facts else str(words)

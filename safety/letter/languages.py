"""Which languages a letter is written in."""

from __future__ import annotations

from dataclasses import dataclass

from django.conf import settings
from django.conf.locale import LANG_INFO

from safety.models import Clinic
from staff.models import Site

# Every word of the program is written in it first.
SOURCE_LANGUAGE = "en"


@dataclass(frozen=True)
class LetterLanguage:
    """A language with its own name for itself."""

    code: str
    name: str


def letter_languages(site: Site, clinic: Clinic | None) -> list[LetterLanguage]:
    """The site's language first, the clinic's next where it differs, then the others letters are written in.

    A site whose language no letter is written in gets English ones.
    """
    own = site.language if site.language in settings.LETTER_LANGUAGES else SOURCE_LANGUAGE
    theirs = clinic.language if clinic and clinic.language in settings.LETTER_LANGUAGES else own
    codes = dict.fromkeys([own, theirs, *settings.LETTER_LANGUAGES])
    return [LetterLanguage(code, LANG_INFO[code]["name_local"]) for code in codes]

"""The file of the regimen table (fixtures/regimens.json holds the samples), its format and writer; the one
reader is staff.services.regimen.regimen_file.

fixtures/regimens.schema.json describes the same format as a JSON Schema (draft 2020-12).

A JSON list; each row is one regimen:
  code, version       what a course or dose refers to; a change is a new version
  name                plain words, in English
  purpose             pre-exposure, post-exposure, post-exposure-immunised or booster
  routes              list of IM (into the muscle) and ID (into the skin)
  for_whom            anyone, not-immunised, immunised or immunocompromised
  source, source_kind where the days come from; "published" was read, "second-hand" was read in a copy by
                      others, "memory" means that nobody has checked some figure of the row
  steps               number, day and latest_day (both from day 0), smallest_gap (days from the step before),
                      injections on the day, later (a dose that keeps an already complete series)
Rows are samples: nothing may be used before the local health authority has approved it. The row "wound care
only" (immunised by a full course under three months ago) has no dose, so it is no regimen and is not here.
"""

import json


def write_regimens(rows: list[dict[str, object]]) -> str:
    """The text of the file: rows in the order given, keys in the order of the format, each step on one line."""
    return "[\n" + ",\n".join(_row_text(row) for row in rows) + "\n]\n"


def _row_text(row: dict[str, object]) -> str:
    steps = row["steps"]
    assert isinstance(steps, list)
    keys = ("code", "version", "name", "purpose", "routes", "for_whom", "source", "source_kind")
    lines = [f'    "{key}": {json.dumps(row[key], ensure_ascii=False)}' for key in keys]
    told = ",\n".join(f"      {json.dumps(step, ensure_ascii=False)}" for step in steps)
    lines.append(f'    "steps": [\n{told}\n    ]')
    return "  {\n" + ",\n".join(lines) + "\n  }"

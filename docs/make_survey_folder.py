"""
Write `docs/reference/survey-folder.md`, `docs/reference/plan-tables.md` and the JSON Schemas from the layouts of both.

Run `python docs/make_survey_folder.py` after changing the layout or a kind of entry; a test holds that they agree.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

from lapel.exchange.plan_folder.layout import HAND, PLAN, PLAN_TABLES
from lapel.exchange.survey_folder.columns import Column, Document, Table
from lapel.exchange.survey_folder.layout import (
    FILE_LIMITS_MB,
    LABORATORY,
    RESULT_RANGES,
    SURVEY,
    TABLES,
    XLSX_UNPACKED_LIMIT_MB,
)
from lapel.exchange.survey_folder.log_layout import log_tables
from lapel.exchange.survey_folder.schemas import described, schema_names, schema_of

REFERENCE = Path(__file__).parent / "reference"
PAGE = REFERENCE / "survey-folder.md"
PLAN_PAGE = REFERENCE / "plan-tables.md"
SCHEMAS = REFERENCE / "schemas"

HEAD = """# The survey folder

A survey folder holds one whole survey as files that people can read, compare and keep: TOML for what is said once,
CSV for what comes in rows, and the laboratory's own files beside a few lines that say how to read them.
`examples/small` and `examples/hard` are two complete ones. How to fill one from paper: [Type a paper day into a
survey folder](../how-to/type-a-paper-day-into-a-survey-folder.md); what to do about faults: [Fix faults in a survey
folder](../how-to/fix-faults-in-a-survey-folder.md).

    survey.toml            title, site and its zone, rule book, who answers for it
    groups.csv workers.csv shifts.csv
    agents.csv limits.csv methods.csv media.csv samples.csv
    overrides.csv          (if a person lifted a finding)
    equipment/pumps.csv equipment/meters.csv
    equipment/splitters.csv    (if there are any)
    log/KIND.csv           what happened in the field, one table a kind of entry
    log/*.jsonl            the same as recorded by a device, one entry a line
    laboratory/REPORT.toml how to read one report, and beside it
    laboratory/….csv .xlsx the report as it was delivered

## What holds for every file

- Text is UTF-8, with or without a byte order mark. Every file ends with a line end: one that does not may have been
  cut off. Line ends of any system will do.
- CSV: commas between cells, one header row, columns in any order. A column the table does not have is a fault, so
  that nothing typed is dropped without a word. Columns that are not needed may be left out. Rows without any text
  are skipped.
- Numbers have a decimal point. A comma could mean decimals or thousands and is never guessed. NaN and the like are
  faults.
- **Units stand beside the numbers**, in the unit column the table names; none is assumed. Where a column's name holds
  the unit (`averaging_min`, `holding_days`, `analysis_cv_percent`), that is the unit.
- Every number has a plausible range, given below in the unit of the range; a number outside it is a fault, for it
  is most often a slip of unit or point.
- Dates are year-month-day. Times are `2026-03-09T05:42`, on the 24-hour clock, with seconds where they matter.
  Without an offset the site's zone counts. In the hour a clock shows twice the offset is needed
  (`2026-11-01T01:40-07:00`); a time the clock skipped is a fault, and so is an offset the zone does not have then.
- Codes have no blanks, at most 64 signs, and count as written: `W-1` and `w-1` are two people. A code that stands
  nowhere is a fault.
- Several codes in one cell are parted by blanks, commas or semicolons; several words by semicolons.
- Names of people have no place here: workers are codes.
- A file the folder does not know is a fault (`README.md` and other kinds of files may lie in it). Names that begin
  with a full stop or `~` are left alone.
- Sizes: {sizes}. A workbook that unpacks to more than {unpacked} MB is refused.

Everything is checked before anything is used, and all faults are told at once: file, row (the header is row 1),
column, what was found, what is wanted, what to do. A folder with a fault gives no results.

Every file that was read goes into one hash (SHA-256 over the sorted list of names and hashes), which the assessment
prints: two folders with the same hash hold the same inputs.

The tables below are written from the program's own layout (`python docs/make_survey_folder.py`). The same is
published as [JSON Schemas](schemas/), a table's over its rows with empty cells left out.
"""

PLAN_HEAD = """# The plan's tables

What `lapel plan FOLDER` needs beside the tables a survey folder has anyway (groups.csv, workers.csv, agents.csv,
limits.csv, methods.csv, media.csv, equipment/pumps.csv, equipment/splitters.csv; see [The survey
folder](survey-folder.md), whose rules for cells hold here too). They lie in the folder `plan`; `examples/plan` is a
complete one. How to go about it: [Plan a survey](../how-to/plan-a-survey.md).

    plan/plan.toml          strategy, draw, air, splitters, crew, rates
    plan/wanted.csv         what is to be learned, of whom
    plan/days.csv plan/technicians.csv
    plan/laboratory.csv     what the laboratory said of each method
    plan/media.csv plan/workers.csv plan/areas.csv      (where needed)

Each pump needs its lowest and highest flow, each method its flow window and reporting limit; nothing is assumed. A
group works one pattern of shift: one start and one length. All faults of all files are told at once.

The tables below are written from the program's own layout (`python docs/make_survey_folder.py`); the same is published
as [JSON Schemas](schemas/).
"""

HAND_NOTE = """## A plan edited by hand

`lapel plan FOLDER --write-hand FILE` writes the plan as this table, `lapel plan FOLDER --checked FILE` reads it back:
every fault is said, nothing is put right. The kinds of samplers are those the plan prints. A folder written from the
records has the plan in force in this form as `plan/trains.csv`; bringing the folder in again puts it in force again. A
search does not look at it.
"""

LIMITS_NOTE = """A limit is either written out (authority, kind, value, unit, averaging time, source, day looked
up), or names a packaged one in `reference`, which fills the cells left empty. Its key is authority, CAS number,
type and number as printed, such as `US-OSHA/108-88-3/TWA-8h/200ppm`; a fault lists the keys there are for the
agent. The number is part of the key: should a later edition print another, the old key is known no more. Packaged
limits are copies made on a day: **confirm each with its authority**, and write the day you did into `as_of`. Cells
that contradict the packaged limit are faults.
"""

LOG_NOTE = """## The field log

One table a kind of entry; only those that happened need a file. Every row says when (`at`) and by whom (`author`, or
`field_author` of survey.toml), and may have an `id` of its own, which only rows need that a correction names. What
is typed stays as typed. What the kinds mean for a sample, and how a day is worked out from them, stands in [The field
log](field-log.md).

A row that was wrong is not changed but corrected: a row of `log/correction.csv` names its `id`, the field, the right
value and the reason. Rows of the same minute count in the order a hand would do them (a pump stops before its tube
comes off), so paper kept to the minute is enough; short-term samples deserve seconds.

Acts of a shift (hanging, fitting, starting, checking, stopping) must lie within a day of some shift in shifts.csv,
all others within 60 days of the shifts, and nothing but corrections after the day of the assessment.

Files of devices, `log/*.jsonl`, hold one entry a line ([schema](schemas/log-device-entry.schema.json)), with the
device's sequence and hash chain; an entry altered, lost or put in later breaks the chain and is a fault.
What a device recorded cannot be changed in its file, so slips in it are no faults: the correction that follows counts.
A device that serves several surveys has a line saying which of its entries stand in the others:
`{"device": "phone-3", "elsewhere": "1-50 56-80"}`.
"""

LABORATORY_NOTE = """A report is one TOML document and the delivered file beside it, unchanged. Nothing of the file is
guessed: each of its columns is named in `[columns]` or `[wide.AGENT]`, or listed in `ignored_columns`.

- `layout = "long"`: a row a sampler and agent. `[agents]` translates the laboratory's names into keys of agents.csv.
- `layout = "wide"`: a row a sampler; a section `[wide.AGENT]` an agent names its columns: `front`, and where there
  are any `back`, `reporting_limit`, `recovery`, `uncertainty`, `concentration`.
- `<0.5` means below the reporting limit 0.5. A word of `not_detected` (ND unless you say otherwise) means below the
  reporting limit in its own column, which must then be named. A word of `not_analysed` means that there is no
  result. An empty cell is a fault, but in wide layouts where nobody asked for that agent.
- Who divided by the recovery and who took the blank off is said once, here, and each is done once.
- Blanks are results like others, under the codes the log opened them with.
- Workbooks: values are taken as stored. A formula without its result and an error such as #N/A are faults.
- A sampler and an agent may stand once in a report. Two reports may both have them (an amended report): the
  assessment then says so.

Plausible results: {ranges}.
"""


def cell(text: str) -> str:
    """Text for a table cell."""
    return text.replace("|", "/")


def row(column: Column) -> str:
    """One column as a row of the page."""
    needed = "yes" if column.needed else ""
    words = {"word": ", ".join(column.words), "yes or no": "yes, no"}.get(column.type, column.type)
    default = f"; “{column.default}” if empty" if column.default else ""
    return f"| `{column.name}` | {cell(words)} | {needed} | {cell(described(column))}{default} |"


def section(part: Table | Document, level: str = "###") -> list[str]:
    """One file of the folder."""
    optional = " (may be left out)" if isinstance(part, Table) and not part.needed else ""
    name = next(name for name, described_part in schema_names().items() if described_part is part)
    key = f" Every `{part.key}` stands once." if isinstance(part, Table) and part.key else ""
    if isinstance(part, Table) and part.dated:
        key = f" A `{part.key}` may stand again with another `{part.dated}`: from that day on that row counts."
    return [
        f"{level} {part.file}{optional}",
        "",
        f"{part.about}{key} [Schema](schemas/{name})",
        "",
        "| Column | Holds | Needed | What it says |"
        if isinstance(part, Table)
        else "| Key | Holds | Needed | What it says |",
        "| --- | --- | --- | --- |",
        *map(row, part.columns),
        "",
    ]


def page() -> str:
    """The whole page as text."""
    sizes = ", ".join(f"{ending} at most {limit} MB" for ending, limit in FILE_LIMITS_MB.items())
    lines = [HEAD.format(sizes=sizes, unpacked=XLSX_UNPACKED_LIMIT_MB), "## The survey", "", *section(SURVEY)]
    lines += [
        "`[notes]` holds free notes, one a key, that go into the report.",
        "",
        "## People, plan and equipment",
        "",
    ]
    for table in TABLES:
        lines += section(table)
        if table.file == "limits.csv":
            lines += [LIMITS_NOTE]
    lines += [LOG_NOTE]
    for table in log_tables().values():
        lines += section(table)
    ranges = "; ".join(f"{kind} {low:g} to {high:g} {unit}" for kind, (low, high, unit) in RESULT_RANGES.items())
    lines += ["## Laboratory reports", "", LABORATORY_NOTE.format(ranges=ranges), *section(LABORATORY)]
    return "\n".join(lines).rstrip("\n") + "\n"


def plan_page() -> str:
    """The page of the plan's tables as text."""
    lines = [PLAN_HEAD, *section(PLAN, "##"), "`[notes]` holds free notes, one a key, that go into the plan.", ""]
    for table in PLAN_TABLES:
        lines += section(table, "##")
    lines += [HAND_NOTE, *section(HAND)]
    return "\n".join(lines).rstrip("\n") + "\n"


def schema_text(name: str) -> str:
    """One schema as it is published."""
    return json.dumps(schema_of(schema_names()[name]), indent=2, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
    PLAN_PAGE.write_text(plan_page(), encoding="utf-8")
    SCHEMAS.mkdir(exist_ok=True)
    for stale in set(SCHEMAS.glob("*.schema.json")) - {SCHEMAS / name for name in schema_names()}:
        stale.unlink()
    for name in schema_names():
        (SCHEMAS / name).write_text(schema_text(name), encoding="utf-8")
    print(f"{PAGE.name} and {len(schema_names())} schemas written", file=sys.stderr)

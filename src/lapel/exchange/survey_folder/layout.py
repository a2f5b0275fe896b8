"""
The survey folder as data: which files, which columns, what a cell may hold.

The reader, the JSON Schemas and the reference page all follow these tables. Units that are not in a column's name stand
in a unit column of their own; ranges are those of a plausible cell and are printed with every fault.
"""

from __future__ import annotations

from lapel.exchange.survey_folder.columns import (
    Column,
    Document,
    Table,
    flow_column,
    percent_column,
    pressure_column,
    temperature_column,
    unit_column,
)

SURVEY = Document(
    "survey.toml",
    "What was done, where, under which rules, and who answers for it.",
    (
        Column("title", "text", "what the report is called", True),
        Column("purpose", "text", "why the survey was done, in a sentence", True),
        Column("prepared_by", "text", "who answers for the assessment", True),
        Column("field_author", "text", "who is meant where a row of the log names no author"),
        Column("assessed_on", "date", "the day the assessment refers to (ages of limits and certificates)", True),
        Column("rule_book", "code", "key of the rule book that decides standing, such as us-osha", True),
        Column("compared_rule_books", "codes", "rule books shown side by side"),
        Column("site.name", "text", "name of the site", True),
        Column("site.zone", "text", "IANA time zone of the clock on the wall, as in Europe/Oslo", True),
        Column("site.area_class", "text", "explosive-area class as the site states it"),
        temperature_column("site.temperature", "air temperature that stands in where the log has none"),
        unit_column("site.temperature_unit", "temperature"),
        pressure_column(
            "site.pressure", "pressure at the site, not reduced to sea level, that stands in where the log has none"
        ),
        unit_column("site.pressure_unit", "pressure"),
    ),
    free=("notes",),
)

GROUPS = Table(
    "groups.csv",
    "Similar exposure groups.",
    (
        Column("code", "code", "the group's code", True),
        Column("name", "text", "what the group is called", True),
        Column("tasks", "text", "what its people do"),
    ),
    key="code",
)

WORKERS = Table(
    "workers.csv",
    "Workers by code; names have no place in this folder. A worker who changed group has a row a group, with its day.",
    (
        Column("code", "code", "the worker's code, never a name", True),
        Column("group", "code", "similar exposure group", True, refers="groups.csv"),
        Column("job", "text", "job title"),
        Column("since", "date", "first day in this group; empty means from the start"),
    ),
    key="code",
    dated="since",
)

SHIFTS = Table(
    "shifts.csv",
    "One worker's shift a row, as it was worked.",
    (
        Column("code", "code", "the shift's code", True),
        Column("worker", "code", "who worked it", True, refers="workers.csv"),
        Column("start", "date-time", "start of the shift", True),
        Column("end", "date-time", "end of the shift, 10 minutes to 24 hours after the start", True),
        Column(
            "reference_min",
            "number",
            "averaging time of the daily limit",
            own_unit="min",
            low=15,
            high=1440,
            default="480",
        ),
        Column(
            "unsampled",
            "word",
            "what is assumed of time without a sample",
            words=("zero", "mean", "highest"),
            default="zero",
        ),
        Column("unsampled_reason", "text", "why; needed unless “zero” is assumed"),
        Column("hours_per_week", "number", "hours worked in the week", own_unit="h", low=0, high=168, above=True),
        Column("respirator", "text", "respirator worn, and when"),
    ),
    key="code",
)

AGENTS = Table(
    "agents.csv",
    "Substances looked for.",
    (
        Column("key", "code", "short key used in this folder", True),
        Column("name", "text", "name of the substance", True),
        Column("cas", "text", "CAS number"),
        Column("molar_mass", "number", "needed to turn mg/m3 into ppm", own_unit="g/mol", low=1, high=2000),
        Column("effect_groups", "words", "effects it shares with other agents, for the additive index"),
    ),
    key="key",
)

LIMITS = Table(
    "limits.csv",
    "Limits this survey is judged by. Each is confirmed with its authority by whoever enters it.",
    (
        Column("agent", "code", "the substance", True, refers="agents.csv"),
        Column("authority", "text", "who set the limit; needed without a reference"),
        Column("kind", "word", "needed without a reference", words=("TWA", "STEL", "ceiling", "action level")),
        Column("value", "number", "the limit; needed without a reference", low=0, high=1e6, above=True),
        Column("unit", "word", "mg/m3 or ppm, as the authority states it", words=("mg/m3", "ppm")),
        Column("averaging_min", "number", "averaging time", own_unit="min", low=0, high=1440, above=True),
        Column("source", "text", "document and clause"),
        Column("as_of", "date", "the day the limit was looked up"),
        Column("binding", "yes or no", "whether the law binds to it here; yes if empty, or as the packaged limit says"),
        Column(
            "extended_shift_model",
            "word",
            "model that lowers the limit for long shifts",
            words=("brief-scala-day", "brief-scala-week", "proportional-day", "proportional-week"),
        ),
        Column("note", "text", "what a reader must know of this limit"),
        Column("reference", "code", "key of a packaged limit that fills the cells left empty"),
    ),
)

METHODS = Table(
    "methods.csv",
    "Sampling and analytical methods, one agent a row.",
    (
        Column("code", "code", "the method's code in this folder", True),
        Column("agent", "code", "the substance it measures", True, refers="agents.csv"),
        Column("medium", "text", "medium it wants, in the words of media.csv", True),
        flow_column("flow_min", "lowest flow of the method"),
        flow_column("flow_max", "highest flow of the method"),
        unit_column("flow_unit", "flow"),
        Column("volume_min", "quantity", "lowest volume", unit_kind="volume", unit_in="volume_unit", low=0, high=20000),
        Column(
            "volume_max", "quantity", "highest volume", unit_kind="volume", unit_in="volume_unit", low=0, high=20000
        ),
        unit_column("volume_unit", "volume"),
        Column(
            "reporting_limit",
            "quantity",
            "laboratory's reporting limit a sample",
            unit_kind="mass",
            unit_in="reporting_limit_unit",
            low=0,
            high=1e6,
            above=True,
        ),
        unit_column("reporting_limit_unit", "mass"),
        percent_column("analysis_cv_percent", "coefficient of variation of the analysis"),
        percent_column("sampling_cv_percent", "coefficient of variation of the sampling"),
        Column("holding_days", "number", "days from sampling to analysis", own_unit="d", low=0, high=3650, above=True),
        Column(
            "receipt_max",
            "quantity",
            "warmest receipt",
            unit_kind="temperature",
            unit_in="receipt_max_unit",
            low=213.15,
            high=343.15,
        ),
        unit_column("receipt_max_unit", "temperature"),
        Column(
            "blanks_min",
            "whole number",
            "field blanks the method wants; else the rules decide",
            low=0,
            high=100,
        ),
        percent_column("blanks_share_percent", "field blanks the method wants, of the samples"),
        Column(
            "duplicates_min",
            "whole number",
            "side-by-side duplicates the method wants; else the plan's own share decides",
            low=0,
            high=100,
        ),
        percent_column("duplicates_share_percent", "side-by-side duplicates the method wants, of its samples"),
        Column("two_sections", "yes or no", "whether the sampler has a back section", default="yes"),
        Column("source", "text", "method number, issue, and who stated the window"),
    ),
    key="code",
)

MEDIA = Table(
    "media.csv",
    "Lots of samplers.",
    (
        Column("lot", "code", "lot number", True),
        Column("medium", "text", "what it is, in the words methods.csv uses", True),
        Column("expiry", "date", "last day of use"),
        Column("family", "text", "sorbent family, such as charcoal or silica gel"),
        Column("catalogue", "text", "order number"),
    ),
    key="lot",
)

SAMPLES = Table(
    "samples.csv",
    "What was wanted of each sampler.",
    (
        Column("sampler", "code", "the sampler's code, on its label and at the laboratory", True),
        Column("shift", "code", "whose shift", True, refers="shifts.csv"),
        Column(
            "purpose", "word", "what it is for", True, words=("full shift", "short term", "ceiling", "task", "area")
        ),
        Column("methods", "codes", "methods, separated by “;”", True, refers="methods.csv"),
        Column("averaging_min", "number", "averaging time wanted", own_unit="min", low=0, high=1440, above=True),
        Column("task", "text", "task it covers"),
    ),
    key="sampler",
)

OVERRIDES = Table(
    "overrides.csv",
    "Findings a person has decided to lift, and why.",
    (
        Column("sampler", "code", "the sample", True, refers="samples.csv"),
        Column("rule", "code", "rule id as the assessment prints it", True),
        Column("person", "text", "who decided", True),
        Column("reason", "text", "why", True),
    ),
    needed=False,
)

PUMPS = Table(
    "equipment/pumps.csv",
    "Pumps.",
    (
        Column("code", "code", "the pump's code", True),
        flow_column("flow_min", "lowest flow it holds"),
        flow_column("flow_max", "highest flow it holds"),
        unit_column("flow_unit", "flow"),
        Column("area_certificate", "text", "certificate for explosive areas"),
    ),
    key="code",
)

SPLITTERS = Table(
    "equipment/splitters.csv",
    "Holders with two or more ports, each with its own valve.",
    (
        Column("code", "code", "the splitter's code", True),
        Column("ports", "codes", "letters of its ports, separated by “;”", True),
        flow_column("total_max", "highest sum of its ports"),
        unit_column("flow_unit", "flow"),
    ),
    key="code",
    needed=False,
)

METERS = Table(
    "equipment/meters.csv",
    "Flow meters, a row a certificate: a reading counts as the certificate in force on its day says.",
    (
        Column("code", "code", "the meter's code", True),
        Column("kind", "word", "how it measures", True, words=("piston", "burette", "rotameter", "thermal")),
        Column("certificate", "text", "certificate number; empty means none was seen"),
        Column("certified_on", "date", "day of the certificate"),
        Column("due_on", "date", "last day the certificate counts"),
        flow_column("range_min", "lowest flow of its range"),
        flow_column("range_max", "highest flow of its range"),
        unit_column("flow_unit", "flow"),
        percent_column("reading_u_percent", "expanded uncertainty, % of reading"),
        percent_column("full_scale_u_percent", "expanded uncertainty, % of range_max"),
        Column("coverage_factor", "number", "k of both; needed where one is given", low=1, high=4),
        Column(
            "reads",
            "word",
            "actual: flow at the air it stands in; standard: flow at its own standard air",
            words=("actual", "standard"),
            default="actual",
        ),
        temperature_column("scale_temperature", "air the scale was made for, or the standard air"),
        unit_column("scale_temperature_unit", "temperature"),
        pressure_column("scale_pressure", "air the scale was made for, or the standard air"),
        unit_column("scale_pressure_unit", "pressure"),
        Column("exponent", "number", "rotameter float: 0 viscosity, 0.5 density; empty when unknown", low=0, high=0.5),
        Column(
            "curve",
            "curve",
            "indicated=true pairs from the certificate, in flow_unit: 50=49.1; 100=98.8",
            unit_in="flow_unit",
        ),
    ),
    key="code",
    dated="certified_on",
)

TABLES: tuple[Table, ...] = (
    GROUPS,
    WORKERS,
    SHIFTS,
    AGENTS,
    LIMITS,
    METHODS,
    MEDIA,
    SAMPLES,
    OVERRIDES,
    PUMPS,
    SPLITTERS,
    METERS,
)
"""All tables but those of the log, whose columns follow the entry kinds (`log_layout.log_tables`)."""

LABORATORY = Document(
    "laboratory/*.toml",
    "How to read one laboratory report: the file as delivered, what its columns are, who corrected what.",
    (
        Column("code", "code", "the report's number", True),
        Column("laboratory", "text", "who analysed", True),
        Column("file", "text", "the delivered .csv or .xlsx, in the same folder", True),
        Column("sheet", "text", "sheet of an .xlsx; needed where it has several"),
        Column(
            "as_delivered",
            "text",
            "place below laboratory/ of the file as it came, where `file` is our own table of it",
        ),
        Column("as_delivered_sha256", "sha256", "SHA-256 of that file"),
        Column("version", "whole number", "2 and on for an amended report", low=1, high=999),
        Column("received_on", "date", "day the report came", True),
        Column("samples_received_on", "date", "day the samples reached the laboratory"),
        temperature_column("receipt_temperature", "temperature of the parcel on receipt"),
        unit_column("receipt_temperature_unit", "temperature"),
        Column("recovery_corrected_by", "word", "who divided by the recovery", True, words=("laboratory", "nobody")),
        Column("blank_corrected_by", "word", "who took the blank off", True, words=("laboratory", "nobody")),
        Column(
            "layout", "word", "long: a row a sampler and agent; wide: a row a sampler", True, words=("long", "wide")
        ),
        Column(
            "encoding",
            "word",
            "character set of a .csv",
            words=("utf-8", "windows-1252", "utf-16"),
            default="utf-8",
        ),
        Column(
            "separator",
            "word",
            "what stands between the cells of a .csv",
            words=("comma", "semicolon", "tab"),
            default="comma",
        ),
        Column(
            "decimal_mark", "word", "decimal mark of numbers written as text", words=("point", "comma"), default="point"
        ),
        Column("header_row", "whole number", "row of the column names", low=1, high=200, default="1"),
        Column("last_row", "whole number", "last row of results, where remarks follow below", low=2, high=1_000_000),
        Column("not_detected", "words", "words that mean: below the reporting limit", default="ND"),
        Column("not_analysed", "words", "words that mean: no result; none unless stated"),
        Column("units.mass", "unit", "unit of masses and reporting limits", True, unit_kind="mass"),
        Column("units.volume", "unit", "needed where a volume column is named", unit_kind="volume"),
        Column(
            "units.concentration", "unit", "needed where a concentration column is named", unit_kind="concentration"
        ),
        Column("units.recovery", "unit", "“%” or “1”; needed where recovery is named", unit_kind="ratio"),
        Column("units.uncertainty", "unit", "“%” or “1”; needed where uncertainty is named", unit_kind="ratio"),
        Column("uncertainty_coverage_factor", "number", "k of the printed uncertainty; needed with it", low=1, high=4),
        Column("columns.sampler", "text", "column with the sampler's code", True),
        Column("columns.agent", "text", "long: column with the agent"),
        Column("columns.front", "text", "long: mass on the front section, or the whole mass"),
        Column("columns.back", "text", "long: mass on the back section"),
        Column("columns.reporting_limit", "text", "long: reporting limit a section"),
        Column("columns.recovery", "text", "long: recovery or desorption efficiency"),
        Column("columns.uncertainty", "text", "long: expanded relative uncertainty of the analysis"),
        Column("columns.concentration", "text", "long: concentration the laboratory printed, for cross-checking"),
        Column("columns.volume", "text", "air volume the laboratory used, for cross-checking"),
        Column("columns.medium", "text", "medium the laboratory saw"),
        Column("columns.remark", "text", "the laboratory's remark"),
        Column("columns.analysed_on", "text", "day of analysis"),
        Column("ignored_agents", "words", "long: agents in the file that this survey does not use"),
        Column("ignored_samplers", "words", "rows of the laboratory's own quality control"),
        Column("ignored_columns", "words", "columns of the file that are not used; every column must be accounted for"),
    ),
    free=("agents", "wide"),
)

RESULT_RANGES: dict[str, tuple[float, float, str]] = {
    "mass": (0.0, 1e7, "ug"),
    "volume": (0.0, 50_000.0, "L"),
    "concentration": (0.0, 1e6, "mg/m3"),
    "recovery": (0.05, 1.5, "as a fraction"),
    "uncertainty": (0.0, 1.0, "as a fraction"),
}
"""Plausible ranges of a delivered result, in canonical units."""

FILE_LIMITS_MB = {".csv": 200, ".toml": 1, ".jsonl": 400, ".xlsx": 25}
"""Files above these sizes are refused. [MB]"""
XLSX_UNPACKED_LIMIT_MB = 250
"""A workbook that would unpack to more is refused, as is one that shrinks more than 200 to 1. [MB]"""

"""
The plan's own tables as data: what is wanted, on which days, with whom, at which laboratory and at what cost.

They stand in the folder `plan` of a survey folder, beside the tables both share (groups, workers, agents, limits,
methods, media, equipment). Reader, JSON Schemas and reference page follow these tables.
"""

from __future__ import annotations

from lapel.exchange.survey_folder.columns import (
    Column,
    Document,
    Table,
    flow_column,
    percent_column,
    temperature_column,
    unit_column,
)

PURPOSES = ("full shift", "short term", "task")
WHO = ("draw", "everybody", "named")
TESTS = ("preliminary", "percentile 95/70", "tolerance 95/95", "individual worker", "bayesian")


def _minutes(name: str, about: str, default: str = "", high: float = 1440) -> Column:
    return Column(name, "whole number", about, own_unit="min", low=0, high=high, default=default)


PLAN = Document(
    "plan/plan.toml",
    "What holds for the whole plan: strategy, draw, air, splitters, crew, rates.",
    (
        Column("strategy", "text", "why these groups, days and samples, in the words of whoever answers for it", True),
        Column("seed", "text", "seed of the random draw, chosen before anything is drawn; needed where one is asked"),
        Column("label_prefix", "code", "what every sampler's code begins with", default="S"),
        temperature_column("air.temperature", "highest air temperature expected"),
        unit_column("air.temperature_unit", "temperature"),
        percent_column("air.humidity_percent", "worst relative humidity expected"),
        flow_column("splitter.port_min", "lowest flow a port holds", unit_in="splitter.flow_unit"),
        flow_column("splitter.port_max", "highest flow a port holds", unit_in="splitter.flow_unit"),
        flow_column(
            "splitter.main_flow", "flow the pump moves through a pressure controller", unit_in="splitter.flow_unit"
        ),
        unit_column("splitter.flow_unit", "flow"),
        Column(
            "splitter.suction_kpa",
            "number",
            "suction the pressure controller holds; empty: no controller, the pump holds the total flow",
            own_unit="kPa",
            low=0,
            high=30,
            above=True,
        ),
        Column(
            "splitter.droop_kpa_per_lpm",
            "number",
            "fall of that suction with the total",
            own_unit="kPa/(L/min)",
            low=0,
            high=100,
            default="0",
        ),
        Column("splitter.may_cap", "yes or no", "whether an unused port may be capped", default="yes"),
        _minutes("crew.hang_min", "to hang one pump on a worker", "4", 60),
        _minutes("crew.before_min", "a pump may be hung so long before the shift begins", "20", 240),
        _minutes("crew.after_min", "and so long after it began", "4", 240),
        _minutes("crew.set_min", "to set one train and read its closing round", "8", 120),
        _minutes("crew.check_min", "for one check of a running pump", "2", 60),
        _minutes("crew.check_every_min", "between two checks of a pump", "120", 480),
        _minutes("crew.first_check_min", "from start to the first check", "30", 240),
        _minutes("crew.change_min", "for one sampler change", "3", 60),
        _minutes("crew.take_down_min", "to stop and take off one train", "3", 60),
        _minutes("crew.post_min", "to read one train afterwards", "5", 120),
        _minutes("crew.pack_min", "to label, pack and hand over at the end", "45", 480),
        Column(
            "crew.pumps_per_technician", "whole number", "pumps one can watch in a day", low=1, high=100, default="12"
        ),
        Column(
            "crew.changes_per_technician",
            "whole number",
            "sampler changes one can make in a day",
            low=0,
            high=500,
            default="30",
        ),
        Column("cost.currency", "text", "currency of every rate", default="units"),
        Column("cost.technician_day", "number", "rate of one technician for a day", low=0, high=1e6),
        Column("cost.pump_day", "number", "rate of one pump for a day", low=0, high=1e6),
        percent_column("duplicates_percent", "side-by-side duplicates, of the samples", "5"),
        percent_column("spares_percent", "spare samplers, of the samples; one a worker-day at least", "10"),
    ),
    free=("notes",),
)

WANTED = Table(
    "plan/wanted.csv",
    "What is to be learned: one row a question, about a group or one worker, and one agent.",
    (
        Column("code", "code", "the question's code", True),
        Column("group", "code", "the group it is about; or else a worker", refers="groups.csv"),
        Column("worker", "code", "the one worker it is about", refers="workers.csv"),
        Column("agent", "code", "the substance", True, refers="agents.csv"),
        Column("methods", "codes", "methods that may be used; all of the agent's if empty", refers="methods.csv"),
        Column("purpose", "word", "what a sample is compared with", True, words=PURPOSES),
        Column("minutes", "number", "length of a short-term or task sample", own_unit="min", low=1, high=1440),
        Column("task", "text", "the task, for short-term and task samples"),
        percent_column("see_share_percent", "share of the limit a sample must be able to show; 10, or 50 short term"),
        percent_column("least_share_percent", "share of the shift that must be sampled at least", "100"),
        Column("samplers_max", "whole number", "most samplers one after the other", low=1, high=24),
        Column("others", "number", "other vapours on the same bed", own_unit="mg/m3", low=0, high=1e5, default="0"),
        Column("who", "word", "how workers of the group are chosen", words=WHO, default="draw"),
        Column("named", "codes", "the workers, where they are named", refers="workers.csv"),
        Column("results", "whole number", "results wanted of the group, or of the worker", low=1, high=1000),
        Column("test", "word", "or: the test that decides how many", words=TESTS),
        percent_column("chance_percent", "wanted chance that the test shows compliance", "80"),
        Column(
            "assumed_gm_share",
            "number",
            "assumed geometric mean over the limit, for the test",
            low=0,
            high=100,
            above=True,
        ),
        Column(
            "assumed_gsd", "number", "assumed geometric standard deviation, for the test", low=1, high=20, above=True
        ),
        Column("why", "text", "why, and where the assumption comes from"),
    ),
    key="code",
)

DAYS = Table(
    "plan/days.csv",
    "Shifts on offer for field work: one row a day, or one a day and group where groups differ.",
    (
        Column("start", "date-time", "start of the shift", True),
        Column("end", "date-time", "end of the shift", True),
        Column("group", "code", "the group that works it; all groups if empty", refers="groups.csv"),
    ),
)

TECHNICIANS = Table(
    "plan/technicians.csv",
    "Who hangs and watches the pumps.",
    (
        Column("code", "code", "the technician's code", True),
        Column("away_on", "codes", "days on which this technician is not there, as 2026-06-02"),
    ),
    key="code",
)

PLAN_WORKERS = Table(
    "plan/workers.csv",
    "What the plan must know of single workers; those without a row wear at most two pumps.",
    (
        Column("worker", "code", "the worker", True, refers="workers.csv"),
        Column("area_class", "text", "explosive-area class where this worker works; the site's if empty"),
        Column("pumps_at_once", "whole number", "most pumps on a day", low=1, high=6, default="2"),
        Column("days_at_most", "whole number", "most days this worker is asked", low=1, high=366),
        Column("away_on", "codes", "days on which this worker is not there, as 2026-06-02"),
    ),
    key="worker",
    needed=False,
)

PLAN_MEDIA = Table(
    "plan/media.csv",
    "What the plan must know of each medium: its price, its pack, its resistance.",
    (
        Column("medium", "text", "the medium, in the words of methods.csv", True),
        Column("cost", "number", "price of one sampler", low=0, high=1e5, default="0"),
        Column("pack", "whole number", "samplers in a pack", low=1, high=10000, default="1"),
        Column(
            "loss_kpa_per_lpm",
            "number",
            "pressure loss at 1 L/min",
            own_unit="kPa/(L/min)",
            low=0,
            high=100,
            default="3.4",
        ),
    ),
    needed=False,
)

PLAN_LABORATORY = Table(
    "plan/laboratory.csv",
    "What the laboratory said about each method: who analyses it, what may share a sampler, reporting limit, price.",
    (
        Column("method", "code", "the method", True, refers="methods.csv"),
        Column("laboratory", "text", "the laboratory", True),
        Column("desorption", "text", "how the sampler is desorbed", True),
        Column("shared_analysis", "text", "name of an analysis in which it takes several methods from one sampler"),
        Column("cost", "number", "price of one analysis", low=0, high=1e5, default="0"),
        Column("reporting_limit", "quantity", "reporting limit it offers, instead of methods.csv", unit_kind="mass",
               unit_in="reporting_limit_unit", low=0, high=1e6, above=True),
        unit_column("reporting_limit_unit", "mass"),
        Column("breakthrough", "quantity", "volume at 5 % breakthrough", unit_kind="volume",
               unit_in="breakthrough_unit", low=0, high=20000, above=True),
        unit_column("breakthrough_unit", "volume"),
        percent_column("tested_humidity_percent", "humidity at which that was measured"),
        Column("source", "text", "offer, letter or call, with its day"),
    ),
    key="method",
)  # fmt: skip

AREAS = Table(
    "plan/areas.csv",
    "Which pump certificate a person accepts for which explosive-area class. The program never decides that.",
    (
        Column("area_class", "text", "the class, in the words of survey.toml or plan/workers.csv", True),
        Column("area_certificate", "text", "the certificate, in the words of equipment/pumps.csv", True),
        Column("accepted_by", "text", "who answers for it", True),
    ),
    needed=False,
)

PRODUCTS = Table(
    "plan/products.csv",
    "Products and tasks by which people may be exposed, and the agents that come of them. Nothing is planned from it.",
    (
        Column("code", "code", "the product's or task's code", True),
        Column("name", "text", "what it is called on site", True),
        Column("task", "text", "where and how it is used, and what forms on heating or mixing"),
        Column("groups", "codes", "the groups that meet it", refers="groups.csv"),
        Column("agents", "codes", "the agents that come of it", refers="agents.csv"),
        Column("source", "text", "safety data sheet with its date, or who said so"),
    ),
    key="code",
    needed=False,
)

PLAN_TABLES: tuple[Table, ...] = (
    WANTED,
    DAYS,
    TECHNICIANS,
    PLAN_WORKERS,
    PLAN_MEDIA,
    PLAN_LABORATORY,
    AREAS,
    PRODUCTS,
)

_HAND_COLUMNS = (
    Column("day", "date", "the day", True),
    Column("worker", "code", "who wears it", True, refers="workers.csv"),
    Column("pump", "code", "the pump", True, refers="equipment/pumps.csv"),
    Column("splitter", "code", "the splitter; empty for a sampler straight on the pump",
           refers="equipment/splitters.csv"),
    Column("port", "port", "letter of the port; A where there is no splitter", True),
    Column("kind", "code", "kind of sampler, as the plan's list of kinds names it (K1, K2 …)", True),
    flow_column("flow", "flow of the port", needed=True),
    unit_column("flow_unit", "flow"),
    Column("technician", "code", "who hangs it", True, refers="plan/technicians.csv"),
    Column("hang_at", "date-time", "when hanging begins", True),
)  # fmt: skip

TRAINS = Table(
    "plan/trains.csv",
    "The plan in force, one row a port, where there is one; `lapel plan --checked plan/trains.csv` checks it. A search "
    "does not look at it.",
    _HAND_COLUMNS,
    needed=False,
)

HAND = Table(
    "HAND.csv",
    "A plan edited by hand: one row a port. `lapel plan --write-hand` writes it, `lapel plan --checked` reads it.",
    _HAND_COLUMNS,
)

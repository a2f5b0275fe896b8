"""
Planning: from the question to a feasible day.

The window of a sample, the train that carries it, whom to draw, how many results to want, and the campaign:
who wears what on which day, with its proof or its gap, re-checked by a reader that knows nothing of the search.
"""

from lapel.planning.checker import Fault, check_campaign, check_run, check_visits
from lapel.planning.demand import (
    CampaignPlan,
    Crew,
    Demand,
    Equipment,
    Goal,
    Missing,
    PortUse,
    PumpKind,
    SamplerOption,
    SplitterKind,
    Train,
    Visit,
    Worker,
)
from lapel.planning.diffusion import DiffusionShare, diffusion_share, diffusive_uptake
from lapel.planning.draw import (
    BlankRule,
    DrawSize,
    RandomDraw,
    chance_to_catch,
    draw_workers,
    duplicates,
    field_blanks,
    spares,
    workers_to_draw,
)
from lapel.planning.fragility import Fragility, fragilities
from lapel.planning.port_pattern import Diagnosis, port_pattern
from lapel.planning.port_window import PortWindow, SamplerRun, port_window
from lapel.planning.replan import Replanned, replan
from lapel.planning.results_needed import (
    GroupTest,
    PowerPoint,
    ResultsWanted,
    Truth,
    individual_worker_route,
    percentile_test,
    posterior_route,
    power_curve,
    preliminary_route,
    results_wanted,
)
from lapel.planning.safe_volume import (
    Margin,
    SafeVolume,
    co_vapour_margin,
    humidity_margin,
    safe_maximum_volume,
    temperature_margin,
)
from lapel.planning.solve import design_campaign
from lapel.planning.splitter import HeldFlow, HeldSuction, Port, SplitterFlows, splitter_flows
from lapel.planning.splitter_changes import Consequence, consequence, tube_sensitivities, valve_sensitivities
from lapel.planning.splitter_setting import set_splitter, valve_for
from lapel.planning.train import AgentMethod, PortMap, port_map, sampler_options, why_not_shared
from lapel.planning.volume_window import (
    MethodWindow,
    Purpose,
    expected_mass,
    full_shift,
    required_volume,
    short_term,
    task,
)

__all__ = [
    "AgentMethod",
    "BlankRule",
    "CampaignPlan",
    "Consequence",
    "Crew",
    "Demand",
    "Diagnosis",
    "DiffusionShare",
    "DrawSize",
    "Equipment",
    "Fault",
    "Fragility",
    "Goal",
    "GroupTest",
    "HeldFlow",
    "HeldSuction",
    "Margin",
    "MethodWindow",
    "Missing",
    "Port",
    "PortMap",
    "PortUse",
    "PortWindow",
    "PowerPoint",
    "PumpKind",
    "Purpose",
    "RandomDraw",
    "Replanned",
    "ResultsWanted",
    "SafeVolume",
    "SamplerOption",
    "SamplerRun",
    "SplitterFlows",
    "SplitterKind",
    "Train",
    "Truth",
    "Visit",
    "Worker",
    "chance_to_catch",
    "check_campaign",
    "check_run",
    "check_visits",
    "co_vapour_margin",
    "consequence",
    "design_campaign",
    "diffusion_share",
    "diffusive_uptake",
    "draw_workers",
    "duplicates",
    "expected_mass",
    "field_blanks",
    "fragilities",
    "full_shift",
    "humidity_margin",
    "individual_worker_route",
    "percentile_test",
    "port_map",
    "port_pattern",
    "port_window",
    "posterior_route",
    "power_curve",
    "preliminary_route",
    "replan",
    "required_volume",
    "results_wanted",
    "safe_maximum_volume",
    "sampler_options",
    "set_splitter",
    "short_term",
    "spares",
    "splitter_flows",
    "task",
    "temperature_margin",
    "tube_sensitivities",
    "valve_for",
    "valve_sensitivities",
    "why_not_shared",
    "workers_to_draw",
]

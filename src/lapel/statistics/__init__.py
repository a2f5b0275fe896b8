"""The science of a group: arrays in, arrays out; nothing of ours imported."""

from lapel.statistics.action_level import action_level_decision
from lapel.statistics.anova import VarianceComponents, individual_worker_test, variance_components
from lapel.statistics.bulk import BulkAnswer, BulkQuestion, bulk_posteriors
from lapel.statistics.censored import Fit, NoEstimate, ProfiledQuantity, fit
from lapel.statistics.chunks import Crew, map_chunks
from lapel.statistics.compliance import compliance_test
from lapel.statistics.compliance_preliminary import PRELIMINARY_FRACTIONS, preliminary_leak, preliminary_test
from lapel.statistics.compliance_statistical import statistical_test
from lapel.statistics.diagnostics import Outliers, Split, outliers, two_populations
from lapel.statistics.goodness import ShapeTest, probability_plot, probability_plot_correlation, shapiro_wilk
from lapel.statistics.kaplan_meier import KaplanMeier, kaplan_meier
from lapel.statistics.lognormal import (
    Z95,
    arithmetic_mean,
    exceedance_fraction,
    geometric_mean,
    geometric_standard_deviation,
    percentile,
    unit_spread,
)
from lapel.statistics.mean import (
    mean_limits,
    mean_lower_limit,
    mean_upper_limit,
    moment_mean,
    unbiased_mean,
    unbiased_mean_standard_error,
)
from lapel.statistics.observed import Observations, observed
from lapel.statistics.order_statistics import (
    OrderStatisticsFit,
    plotting_positions,
    regression_on_order_statistics,
)
from lapel.statistics.posterior import CATEGORY_BANDS, Note, Posterior, posterior
from lapel.statistics.power import (
    OutcomeChances,
    action_level_chances,
    gm_for_percentile,
    preliminary_test_chances,
    results_needed,
    statistical_test_power,
)
from lapel.statistics.power_next import NextResult, next_result, next_result_with_non_detects
from lapel.statistics.power_simulation import (
    SimulatedChances,
    simulate_group_test_with_workers,
    simulate_individual_worker_test,
    simulate_route,
    simulate_statistical_test,
    true_chance_of_a_worker_above,
)
from lapel.statistics.priors import PUBLISHED_SPREAD, FlatPrior, Prior, SpreadPrior
from lapel.statistics.tolerance import (
    ExceedanceInterval,
    exceedance_interval,
    exceedance_upper_limit,
    tolerance_factor,
    upper_tolerance_limit,
)
from lapel.statistics.trend import Trend, trend_in_time
from lapel.statistics.verdict import Outcome, Verdict
from lapel.statistics.workers import WorkersPosterior, workers_posterior

__all__ = [
    "CATEGORY_BANDS",
    "PRELIMINARY_FRACTIONS",
    "PUBLISHED_SPREAD",
    "Z95",
    "BulkAnswer",
    "BulkQuestion",
    "Crew",
    "ExceedanceInterval",
    "Fit",
    "FlatPrior",
    "KaplanMeier",
    "NextResult",
    "NoEstimate",
    "Note",
    "Observations",
    "OrderStatisticsFit",
    "Outcome",
    "OutcomeChances",
    "Outliers",
    "Posterior",
    "Prior",
    "ProfiledQuantity",
    "ShapeTest",
    "SimulatedChances",
    "Split",
    "SpreadPrior",
    "Trend",
    "VarianceComponents",
    "Verdict",
    "WorkersPosterior",
    "action_level_chances",
    "action_level_decision",
    "arithmetic_mean",
    "bulk_posteriors",
    "compliance_test",
    "exceedance_fraction",
    "exceedance_interval",
    "exceedance_upper_limit",
    "fit",
    "geometric_mean",
    "geometric_standard_deviation",
    "gm_for_percentile",
    "individual_worker_test",
    "kaplan_meier",
    "map_chunks",
    "mean_limits",
    "mean_lower_limit",
    "mean_upper_limit",
    "moment_mean",
    "next_result",
    "next_result_with_non_detects",
    "observed",
    "outliers",
    "percentile",
    "plotting_positions",
    "posterior",
    "preliminary_leak",
    "preliminary_test",
    "preliminary_test_chances",
    "probability_plot",
    "probability_plot_correlation",
    "regression_on_order_statistics",
    "results_needed",
    "shapiro_wilk",
    "simulate_group_test_with_workers",
    "simulate_individual_worker_test",
    "simulate_route",
    "simulate_statistical_test",
    "statistical_test",
    "statistical_test_power",
    "tolerance_factor",
    "trend_in_time",
    "true_chance_of_a_worker_above",
    "two_populations",
    "unbiased_mean",
    "unbiased_mean_standard_error",
    "unit_spread",
    "upper_tolerance_limit",
    "variance_components",
    "workers_posterior",
]

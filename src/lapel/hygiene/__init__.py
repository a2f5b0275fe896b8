"""The science of one sample and one shift."""

from lapel.hygiene.air import NTP, Air, expected_pressure, molar_volume, standard_pressure, water_vapour_pressure
from lapel.hygiene.concentration import concentration, concentration_at, to_mg_m3, to_ppm
from lapel.hygiene.flow import ReplicateFlow, SampleFlow, flow_by_rule, flow_change, replicate_flow, sample_flow
from lapel.hygiene.mass import (
    back_share_of_total,
    breakthrough_fraction,
    collected_mass,
    laboratory_mass,
    mean_blank,
    sections_together,
    total_mass,
)
from lapel.hygiene.meters import (
    ambient_to_standard_flow,
    certificate_factor,
    corrected_reading,
    curve_flow,
    full_scale_offset,
    rotameter_flow,
    soap_film_vapour_correction,
    standard_to_ambient_flow,
    unknown_float_exponent,
    volume_time_flow,
)
from lapel.hygiene.volume import clock_minutes, counter_minutes, sample_volume, total_volume, volume_at

__all__ = [
    "NTP",
    "Air",
    "ReplicateFlow",
    "SampleFlow",
    "ambient_to_standard_flow",
    "back_share_of_total",
    "breakthrough_fraction",
    "certificate_factor",
    "clock_minutes",
    "collected_mass",
    "concentration",
    "concentration_at",
    "corrected_reading",
    "counter_minutes",
    "curve_flow",
    "expected_pressure",
    "flow_by_rule",
    "flow_change",
    "full_scale_offset",
    "laboratory_mass",
    "mean_blank",
    "molar_volume",
    "replicate_flow",
    "rotameter_flow",
    "sample_flow",
    "sample_volume",
    "sections_together",
    "soap_film_vapour_correction",
    "standard_pressure",
    "standard_to_ambient_flow",
    "to_mg_m3",
    "to_ppm",
    "total_mass",
    "total_volume",
    "unknown_float_exponent",
    "volume_at",
    "volume_time_flow",
    "water_vapour_pressure",
]

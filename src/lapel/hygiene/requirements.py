"""Requirements on a measurement: is it accurate enough for the decision, and was the sampler used within its window?"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal, TypeAlias

from lapel.figures import percent, significant
from lapel.hygiene.limits import one_sided_factor

Averaging: TypeAlias = Literal["long term", "short term"]
"""Whether a limit is averaged over a shift or over a short period, usually 15 minutes."""

Certainty: TypeAlias = Literal["read", "known", "judgement"]
"""Whether the clause was read, is known from the named document but was not re-read, or rests on judgement."""


@dataclass(frozen=True, slots=True)
class RequirementCheck:
    """
    One requirement held against one number.

    Attributes
    ----------
    met : bool or None
        None where the requirement says nothing about this case, or the number is not known.
    found, wanted : str
        Both in words, with their numbers.
    source : str
        Document and clause.
    certainty : Certainty
        Whether that clause was read.
    """

    met: bool | None
    found: str
    wanted: str
    source: str
    certainty: Certainty


@dataclass(frozen=True, slots=True)
class AccuracyBand:
    """
    Accuracy a rule asks for at 95 % confidence within a range of concentrations.

    Parameters
    ----------
    at_least : float
        Lower end of the range, in the unit of the rule.
    within : float
        ± so much of the true value. [-]
    inclusive : bool
        Whether the range holds its lower end.
    """

    at_least: float
    within: float
    inclusive: bool = True


@dataclass(frozen=True, slots=True)
class AccuracyRule:
    """Accuracy a substance standard asks for: bands from the lowest range up, in its unit, with its paragraph."""

    agent: str
    unit: str
    bands: tuple[AccuracyBand, ...]
    source: str
    certainty: Certainty


US_ACCURACY: Mapping[str, AccuracyRule] = MappingProxyType(
    {
        rule.agent: rule
        for rule in (
            AccuracyRule(
                "arsenic, inorganic",
                "ug/m3",
                (AccuracyBand(5.0, 0.35), AccuracyBand(10.0, 0.25)),
                "29 CFR 1910.1018(e)(6)",
                "read",
            ),
            AccuracyRule("cadmium", "ug/m3", (AccuracyBand(2.5, 0.25),), "29 CFR 1910.1027, on accuracy", "read"),
            AccuracyRule("lead", "ug/m3", (AccuracyBand(30.0, 0.20),), "29 CFR 1910.1025(d)(9)", "known"),
            AccuracyRule(
                "formaldehyde",
                "ppm",
                (AccuracyBand(0.5, 0.35), AccuracyBand(0.75, 0.25)),
                "29 CFR 1910.1048(d)(5)",
                "known",
            ),
            AccuracyRule(
                "vinyl chloride",
                "ppm",
                (
                    AccuracyBand(0.25, 0.50),
                    AccuracyBand(0.5, 0.35, inclusive=False),
                    AccuracyBand(1.0, 0.25, inclusive=False),
                ),
                "29 CFR 1910.1017(d)(4)",
                "known",
            ),
            AccuracyRule("benzene", "ppm", (AccuracyBand(0.0, 0.25),), "29 CFR 1910.1028(e)(6)", "known"),
        )
    }
)
"""What US substance standards ask of a monitoring method at 95 % confidence; below the lowest band they are silent."""

NIOSH_ACCURACY = 0.25
"""NIOSH: 95 % of results within ±25 % of the true concentration (NMAM, chapter on method development)."""


def en482_check(
    expanded_relative_u: float | None, share_of_limit: float, *, averaging: Averaging = "long term"
) -> RequirementCheck:
    """
    Hold an expanded uncertainty against EN 482 / ISO 20581.

    Parameters
    ----------
    expanded_relative_u : float or None
        U = 2·u_c as a fraction of the result; None where it is not known. [-]
    share_of_limit : float
        Result as a fraction of the limit, which picks the row of the table. [-]
    averaging : Averaging
        Of the limit.

    Returns
    -------
    RequirementCheck

    Raises
    ------
    ValueError
        A number is negative or not finite, or the averaging is unknown.

    Notes
    -----
    Long term: 50 % from 0.1 to below 0.5 of the limit, 30 % from 0.5 to 2. Short term: 50 % from 0.5 to 2. Outside
    these ranges the table says nothing. Known from EN 482:2021, not re-read; confirm before it is shown as a rule.
    """
    if not 0.0 <= share_of_limit < math.inf:
        raise ValueError(f"`share_of_limit` must be finite and not below 0; found {share_of_limit:g}")
    if expanded_relative_u is not None and not 0.0 <= expanded_relative_u < math.inf:
        raise ValueError(f"`expanded_relative_u` must be finite and not below 0; found {expanded_relative_u:g}")
    if averaging not in ("long term", "short term"):
        raise ValueError(f"`averaging` must be “long term” or “short term”; found “{averaging}”")
    source = "EN 482:2021, table of expanded uncertainty; ISO 20581"
    share = f"{significant(share_of_limit, 3)} of the limit"
    found = (
        f"expanded uncertainty not known at {share}"
        if expanded_relative_u is None
        else f"expanded uncertainty {percent(expanded_relative_u, 3)} at {share}"
    )
    allowed = _en482_allowance(share_of_limit, averaging)
    if allowed is None:
        lowest = "0.1" if averaging == "long term" else "0.5"
        return RequirementCheck(None, found, f"nothing asked outside {lowest} to 2 of the limit", source, "known")
    wanted = f"at most {percent(allowed, 2)} there, for a {averaging.replace(' ', '-')} limit"
    met = None if expanded_relative_u is None else expanded_relative_u <= allowed
    return RequirementCheck(met, found, wanted, source, "known")


def _en482_allowance(share: float, averaging: Averaging) -> float | None:
    if 0.5 <= share <= 2.0:
        return 0.30 if averaging == "long term" else 0.50
    return 0.50 if averaging == "long term" and 0.1 <= share < 0.5 else None


def us_accuracy_check(relative_u: float, concentration: float, rule: AccuracyRule) -> RequirementCheck:
    """
    Hold a measurement's uncertainty against the accuracy a US substance standard asks for.

    Parameters
    ----------
    relative_u : float
        Relative standard uncertainty (k = 1). [-]
    concentration : float
        In the unit of the rule.
    rule : AccuracyRule
        One of `US_ACCURACY` or an own one.

    Returns
    -------
    RequirementCheck
        `met` is None below the range the standard speaks of.

    Raises
    ------
    ValueError
        A number is negative or not finite.

    Notes
    -----
    Two-sided 95 %: 1.96·u against the stated ±, for an unbiased method with normal errors.
    """
    for name, value in (("relative_u", relative_u), ("concentration", concentration)):
        if not 0.0 <= value < math.inf:
            raise ValueError(f"`{name}` must be finite and not below 0; found {value:g}")
    spread = one_sided_factor(0.975) * relative_u
    found = f"±{percent(spread, 3)} at {significant(concentration, 3)} {rule.unit}"
    band = None
    for step in rule.bands:
        if concentration > step.at_least or (step.inclusive and concentration == step.at_least):
            band = step
    if band is None:
        lowest = significant(rule.bands[0].at_least, 3)
        return RequirementCheck(None, found, f"nothing asked below {lowest} {rule.unit}", rule.source, rule.certainty)
    wanted = f"±{percent(band.within, 2)} at 95 % confidence in this range"
    return RequirementCheck(spread <= band.within, found, wanted, rule.source, rule.certainty)


def niosh_accuracy_check(relative_u: float, *, bias: float = 0.0) -> RequirementCheck:
    """
    Hold a method's precision and bias against the NIOSH accuracy criterion.

    Parameters
    ----------
    relative_u : float
        Relative standard deviation of results, 0 or more. [-]
    bias : float
        Relative bias, above -1. [-]

    Returns
    -------
    RequirementCheck

    Raises
    ------
    ValueError
        A number is out of range.

    Notes
    -----
    Accuracy A: the symmetric range ±A around the true value that holds 95 % of results. Solved from
    Phi((A-B)/S) - Phi((-A-B)/S) = 0.95 with S = (1+B)·u; without bias A = 1.96·u, so that u up to 12.8 % passes.
    """
    if not 0.0 <= relative_u < math.inf:
        raise ValueError(f"`relative_u` must be finite and not below 0; found {relative_u:g}")
    if not -1.0 < bias < math.inf:
        raise ValueError(f"`bias` must be finite and above -1; found {bias:g}")
    accuracy = _accuracy(relative_u * (1.0 + bias), abs(bias))
    return RequirementCheck(
        accuracy <= NIOSH_ACCURACY,
        f"95 % of results within ±{percent(accuracy, 3)}",
        f"within ±{percent(NIOSH_ACCURACY, 2)}",
        "NIOSH Manual of Analytical Methods, accuracy criterion",
        "read",
    )


def _accuracy(spread: float, bias: float) -> float:
    """Half-width around the truth that holds 95 % of normal results with this bias and standard deviation."""
    if spread == 0.0:
        return bias
    low, high = 0.0, bias + 10.0 * spread
    for _ in range(200):
        middle = 0.5 * (low + high)
        held = 0.5 * (math.erf((middle - bias) / spread / math.sqrt(2)) - math.erf((-middle - bias) / spread / 2**0.5))
        low, high = (middle, high) if held < 0.95 else (low, middle)
    return high


def breakthrough_check(
    back_over_front: float | None, *, qualified_above: float = 0.10, loss_above: float = 0.25
) -> RequirementCheck:
    """
    Hold the back section of a sorbent tube against the front section.

    Parameters
    ----------
    back_over_front : float or None
        Mass on the back section over mass on the front section; None where it was not reported. [-]
    qualified_above : float
        Above it the result is qualified: 10 % of the front (NIOSH methods). [-]
    loss_above : float
        Above it loss is likely and the result an "at least": 25 % (OSHA practice, known, not re-read). [-]

    Returns
    -------
    RequirementCheck

    Raises
    ------
    ValueError
        The ratio is negative or not finite, or the thresholds are not in order.
    """
    if not 0.0 <= qualified_above <= loss_above:
        raise ValueError(
            f"`qualified_above` must not be above `loss_above`; found {qualified_above:g} and {loss_above:g}"
        )
    source = "NIOSH Manual of Analytical Methods (10 %); OSHA practice (25 %, clause not read)"
    wanted = f"at most {percent(qualified_above, 2)} of the front; above {percent(loss_above, 2)} loss is likely"
    if back_over_front is None:
        return RequirementCheck(None, "no back section reported", wanted, source, "known")
    if not 0.0 <= back_over_front < math.inf:
        raise ValueError(f"`back_over_front` must be finite and not below 0; found {back_over_front:g}")
    found = f"back section {percent(back_over_front, 3)} of the front"
    if back_over_front > loss_above:
        found += ", so that loss is likely and the result is at least what was found"
    return RequirementCheck(back_over_front <= qualified_above, found, wanted, source, "known")


def volume_check(
    volume_l: float, *, minimum_l: float | None = None, maximum_l: float | None = None, source: str = ""
) -> RequirementCheck:
    """
    Hold a sample volume against a method's window.

    Parameters
    ----------
    volume_l : float
        Above 0. [L]
    minimum_l, maximum_l : float, optional
        Window of the method; an end it does not state is left out. [L]
    source : str
        Method and section.

    Returns
    -------
    RequirementCheck
        `met` is None where the method states neither end.

    Raises
    ------
    ValueError
        A volume is not above 0 and finite, or the window is empty.
    """
    for name, value in (("volume_l", volume_l), ("minimum_l", minimum_l), ("maximum_l", maximum_l)):
        if value is not None and not 0.0 < value < math.inf:
            raise ValueError(f"`{name}` must be finite and above 0; found {value:g}")
    low = minimum_l if minimum_l is not None else 0.0
    high = maximum_l if maximum_l is not None else math.inf
    if low > high:
        raise ValueError(f"`minimum_l` must not be above `maximum_l`; found {low:g} and {high:g}")
    found = f"{significant(volume_l, 3)} L"
    if minimum_l is None and maximum_l is None:
        return RequirementCheck(None, found, "no volume stated by the method", source, "known")
    parts = [f"at least {significant(low, 3)} L"] if minimum_l is not None else []
    parts += [f"at most {significant(high, 3)} L"] if maximum_l is not None else []
    return RequirementCheck(low <= volume_l <= high, found, " and ".join(parts), source, "known")

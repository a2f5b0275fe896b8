"""Two exchanged samples are suspected from composition, companions and volumes; without one, hardly ever."""

import math
import re
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import norm

from lapel.assessment.swap_model import Spread, SwapSample
from lapel.assessment.swaps import FALSE_ALARMS, pair_ratios, suspected_swaps

PAGE = Path(__file__).parents[2] / "docs/science/exchanged-samples.md"
AGENTS = {
    "0": {"toluene": 1.0, "n-hexane": 0.0, "benzene": -3.0},
    "1": {"toluene": -1.0, "n-hexane": 1.5, "benzene": -2.0},
}
SPREAD = Spread(0.9, 0.5, 0.3, 0.15)


def survey(seed, *, shifts=5, agents=3, printed=False):
    """Two groups; a shift has two tubes in turn and one beside them."""
    rng = np.random.default_rng(seed)
    samples = []
    for group, levels in AGENTS.items():
        names = list(levels)[:agents]
        for number in range(shifts):
            of_shift = rng.normal(0, SPREAD.shift)
            blend = {agent: rng.normal(0, SPREAD.blend) for agent in names}
            times = [rng.normal(0, SPREAD.time) for _ in range(2)]
            both = math.log(0.5 * (math.exp(times[0]) + math.exp(times[1])))
            for port, start, stop, of_time in (
                ("A1", 0, 240, times[0]),
                ("A2", 240, 480, times[1]),
                ("C", 0, 480, both),
            ):
                volume = float((0.04 if port == "C" else 0.1) * (stop - start) * math.exp(rng.normal(0, 0.1)))
                masses = {
                    agent: volume
                    * math.exp(levels[agent] + of_shift + blend[agent] + of_time + rng.normal(0, SPREAD.error))
                    for agent in names
                }
                samples.append(
                    SwapSample(
                        code=f"{group}{number}{port}", shift=f"{group}{number}", group=group, start_min=start,
                        stop_min=stop, medium="charcoal", day=date(2026, 4, 1), masses_ug=masses, volume_l=volume,
                        port=port[0], laboratory_volume_l=volume if printed else None,
                    )
                )  # fmt: skip
    return samples


def exchange(samples, one, other):
    by_code = {sample.code: sample for sample in samples}
    taken = {one: by_code[other], other: by_code[one]}
    return [
        replace(s, masses_ug=taken[s.code].masses_ug, laboratory_volume_l=taken[s.code].laboratory_volume_l)
        if s.code in taken
        else s
        for s in samples
    ]


def brute_force_ratio(samples, one, other, spread):
    """The same likelihood written out: a multivariate normal a shift, with levels from the group's other shifts."""
    from scipy.stats import multivariate_normal

    changed = exchange(samples, one, other)
    by_code = {s.code: s for s in samples}
    shifts = list(dict.fromkeys((by_code[one].shift, by_code[other].shift)))
    total = 0.0
    for sign, these in ((1.0, changed), (-1.0, samples)):
        for shift in shifts:
            members = [s for s in these if s.shift == shift]
            rows = [(s, a, math.log(m / s.volume_l)) for s in members for a, m in s.masses_ug.items()]
            others = sorted({s.shift for s in samples if s.group == members[0].group and s.shift not in shifts})
            means = {}
            for agent in {a for _, a, _ in rows}:
                per_shift = [
                    np.mean([math.log(s.masses_ug[agent] / s.volume_l) for s in samples if s.shift == o])
                    for o in others
                ]
                means[agent] = float(np.mean(per_shift))
            n = len(others)
            level = 1 / (n / (spread.shift**2 + spread.time**2 / 2) + 1 / 2.5**2)
            blend = 1 / (n / (spread.blend**2 + spread.error**2) + 1 / 2.0**2)
            size = len(rows)
            cov = np.zeros((size, size))
            for i, (si, ai, _) in enumerate(rows):
                for j, (sj, aj, _) in enumerate(rows):
                    common = max(0.0, min(si.stop_min, sj.stop_min) - max(si.start_min, sj.start_min))
                    share = common / math.sqrt((si.stop_min - si.start_min) * (sj.stop_min - sj.start_min))
                    cov[i, j] = spread.shift**2 + level + spread.time**2 * share
                    cov[i, j] += (spread.blend**2 + blend) * (ai == aj) + spread.error**2 * (i == j)
            offsets = [v - means[a] for _, a, v in rows]
            total += sign * float(multivariate_normal(np.zeros(size), cov).logpdf(offsets))
    return total


@pytest.mark.parametrize(("one", "other"), [("00A1", "12A2"), ("00A1", "01A1"), ("00A1", "00A2"), ("00A1", "00C")])
def test_the_ratio_is_the_one_written_out_in_full(one, other):
    samples = survey(3)
    ratio = pair_ratios(samples, spreads=[SPREAD])[one, other]
    assert ratio == pytest.approx(brute_force_ratio(samples, one, other, SPREAD), abs=1e-6)


def test_an_exchange_between_groups_is_found_and_named_with_its_evidence():
    samples = exchange(survey(11), "00A1", "13A1")
    (suspicion,) = suspected_swaps(samples)
    assert {suspicion.one, suspicion.other} == {"00A1", "13A1"}
    assert suspicion.log_ratio > suspicion.threshold
    assert any("beside" in words for words in suspicion.evidence)
    assert "labels" in suspicion.question()


def test_changing_them_back_turns_the_sign():
    samples = survey(5)
    straight = pair_ratios(samples, spreads=[SPREAD])["00A1", "13A1"]
    turned = pair_ratios(exchange(samples, "00A1", "13A1"), spreads=[SPREAD])["00A1", "13A1"]
    assert straight == pytest.approx(-turned, abs=1e-9)


def test_printed_volumes_that_are_each_others_are_evidence():
    quiet = survey(2, agents=1, printed=True)
    swapped = exchange(quiet, "00A1", "00C")
    assert pair_ratios(swapped)["00A1", "00C"] > pair_ratios(survey(2, agents=1))["00A1", "00C"] + 5
    (suspicion,) = suspected_swaps(swapped)
    assert {suspicion.one, suspicion.other} == {"00A1", "00C"}
    assert any("printed" in words for words in suspicion.evidence)


def test_without_an_exchange_the_mean_likelihood_ratio_is_one():
    """What the threshold rests on: E[ratio] = 1 where nothing was exchanged and the spread is the true one."""
    ratios = []
    for seed in range(400):
        samples = survey(seed, shifts=3)
        ratios.append(math.exp(min(pair_ratios(samples, spreads=[SPREAD])["00A1", "00A2"], 50)))
    assert np.mean(ratios) < 1.5
    assert np.mean(np.array(ratios) > 20) <= 1 / 20 + 3 * math.sqrt(0.05 * 0.95 / 400)


def test_sixty_quiet_surveys_raise_no_question():
    """At most 1 % each: more than two of sixty has a chance below 0.003."""
    asked = sum(bool(suspected_swaps(survey(1000 + seed, shifts=4))) for seed in range(60))
    assert asked <= 2


def test_most_exchanges_between_workers_of_two_groups_are_found():
    found = 0
    for seed in range(30):
        suspicions = suspected_swaps(exchange(survey(2000 + seed), "01A1", "12A2"))
        found += any({s.one, s.other} == {"01A1", "12A2"} for s in suspicions)
    assert found >= 24


def test_other_media_and_samples_without_a_common_agent_are_no_pair():
    samples = survey(1, shifts=2)
    other = [replace(s, medium="silica") if s.code.endswith("C") else s for s in samples]
    assert all(("C" in one[-1]) == ("C" in two[-1]) for one, two in pair_ratios(other))
    assert pair_ratios([samples[0]]) == {}
    assert suspected_swaps([]) == ()


def test_the_threshold_grows_with_the_pairs():
    samples = exchange(survey(11), "00A1", "13A1")
    (suspicion,) = suspected_swaps(samples)
    pairs = len(pair_ratios(samples))
    assert suspicion.threshold == pytest.approx(math.log(pairs / FALSE_ALARMS) - 2.5, abs=0.001)


def alone(volumes, seed=3):
    """One group, one tube a shift and none beside it, each with its volume."""
    rng = np.random.default_rng(seed)
    samples = []
    for number, volume in enumerate(volumes):
        of_shift = rng.normal(0, SPREAD.shift)
        masses = {
            agent: volume * math.exp(level + of_shift + rng.normal(0, SPREAD.blend))
            for agent, level in AGENTS["0"].items()
        }
        samples.append(
            SwapSample(
                code=f"S{number}", shift=f"{number}", group="0", start_min=0, stop_min=480, medium="charcoal",
                day=date(2026, 4, 1), masses_ug=masses, volume_l=volume,
            )
        )  # fmt: skip
    return samples


def test_in_one_group_without_a_port_beside_equal_volumes_say_nothing_at_all():
    """Two shifts of one group are drawn from one distribution: which of them a mass belongs to, no number can tell."""
    ratios = pair_ratios(alone([48.0] * 8))
    assert len(ratios) == 28
    assert all(abs(ratio) < 1e-9 for ratio in ratios.values())
    assert max(abs(ratio) for ratio in pair_ratios(alone([48.0, 24.0] * 4)).values()) > 0.1


def test_the_best_test_there_is_finds_what_the_science_page_says():
    """ln LR = a(x1 - x2 - a)/s2 for places a apart; of 400,000 pairs, held against the closed form of the page."""
    rng, spread, apart = np.random.default_rng(11), math.log(2.5), math.log(2.0)
    one, other = rng.normal(0, spread, (2, 400_000))
    quiet = apart * (one - other - apart) / spread**2
    found = apart * ((other + apart) - (one - apart) - apart) / spread**2
    power = float(np.mean(found > np.quantile(quiet, 0.99)))
    assert power == pytest.approx(norm.cdf(math.sqrt(2.0) * apart / spread - norm.isf(0.01)), abs=0.004)
    printed = re.search(r"two volumes 1 to 2 apart are found in (\d+) of 100", PAGE.read_text("utf-8"))
    assert 100.0 * power == pytest.approx(float(printed[1]), abs=0.9)

"""What differs in numbers only is said once, with all the numbers; what differs in words is not."""

from dataclasses import replace

from lapel.documents.compose import VerdictRow
from lapel.documents.compose_findings import FindingRow
from lapel.documents.folding import folded_verdicts, grouped_findings

ROW = VerdictRow(
    worker="W-1",
    shift="S-1, 2026-03-10 06:00",
    agent="Toluene",
    about="TWA, 37 min without a sample counted as no exposure",
    average="≥ 34.6 ppm",
    limit="200 ppm (A TWA)",
    share="≥ 0.17",
    verdict="cannot tell",
    robust="no",
    reason="What was measured on G-107 is 0.17 of the limit.",
    settles="the 37 min; the limit is reached at 2100 ppm",
    drives="",
    others=(
        "like the sampled time: under (0.17 to 0.19 of the limit)",
        "the mean flow: cannot tell (0.17 of the limit)",
    ),
)


def other(**changed):
    return replace(ROW, **changed)


def test_verdicts_that_differ_in_numbers_only_are_one_with_all_of_them():
    second = other(
        limit="100 ppm (B TWA)",
        reason="What was measured on G-107 is 0.35 of the limit.",
        settles="the 37 min; the limit is reached at 850 ppm",
        others=("like the sampled time: under (0.35 to 0.37 of the limit)",),
    )
    (folded,) = folded_verdicts([ROW, second])
    assert folded.limits == ("Toluene, 200 ppm (A TWA) and 100 ppm (B TWA)",)
    assert folded.reason == "What was measured on G-107 is 0.17 and 0.35 of the limit."
    assert folded.settles == "the 37 min; the limit is reached at 2100 and 850 ppm"
    assert folded.turning == ("like the sampled time: under (0.17 to 0.19 and 0.35 to 0.37 of the limit)",)
    assert folded.about == "37 min without a sample counted as no exposure"


def test_another_worker_another_verdict_other_words_and_another_sampler_stay_apart():
    rows = [
        ROW,
        other(worker="W-2"),
        other(verdict="over"),
        other(reason="With 95 % confidence it is under."),
        other(reason="What was measured on G-108 is 0.17 of the limit."),
        other(about="TWA, 38 min without a sample counted as no exposure"),
    ]
    assert len(folded_verdicts(rows)) == len(rows)


def test_one_verdict_is_told_as_it_was_composed():
    (folded,) = folded_verdicts([ROW])
    assert (folded.reason, folded.about, folded.settles) == (ROW.reason, ROW.about, ROW.settles)


def test_findings_of_one_rule_and_effect_are_one_block_that_lists_the_samples():
    first = FindingRow("G-1", "Reporting limit", "96 %", "at most 10 %", "estimate", "Sample again.", "EN 482", "")
    second, graver = replace(first, samplers="G-2", found="112 %"), replace(first, samplers="G-3", effect="void")
    one, two = grouped_findings([first, second, graver])
    assert one.found == (("G-1", "96 %"), ("G-2", "112 %"))
    assert two.found == (("G-3", "96 %"),)

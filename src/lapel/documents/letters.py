"""
Letters to workers and the posted list of a group: what was measured, what it means, what happens next.

They are for people who never saw a laboratory report: short sentences, no term that is not explained, and never a
sentence that lets a single shift stand for other days or a mask for clean air.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from zoneinfo import ZoneInfo

from lapel.assessment.results import GRAVEST_FIRST, SurveyAssessment, Verdict
from lapel.documents.blocks.model import (
    Block,
    Bullets,
    Document,
    Facts,
    Heading,
    Paragraph,
    SignatureLines,
    Table,
    VerdictLine,
)
from lapel.documents.render import Picture
from lapel.documents.worded import worded_document
from lapel.documents.wording import Wording
from lapel.documents.worker_results import Everybody, ResultForWorker, everybody
from lapel.said import listed, said

WORD_OF: dict[Verdict, str] = {"over": "common.over", "cannot tell": "common.cannot_tell", "under": "common.under"}
MEANS: dict[Verdict, str] = {
    "over": "letter.means_over",
    "cannot tell": "letter.means_cannot_tell",
    "under": "letter.means_under",
}


@dataclass(frozen=True, slots=True)
class LetterFacts:
    """
    What a letter says beside the results; whatever is empty is left for a person to fill in or left away.

    Attributes
    ----------
    contact : str
        Whom to ask.
    actions : tuple of str
        What will be done, and by when, in the words of the lead hygienist.
    received_on, due_on, sent_on : date or None
        When the results came, by when workers must be told, and when this letter is given.
    """

    contact: str = ""
    actions: tuple[str, ...] = ()
    received_on: date | None = None
    due_on: date | None = None
    sent_on: date | None = None
    logo: Picture | None = None


def worker_letter(
    assessment: SurveyAssessment,
    worker: str,
    words: Wording,
    facts: LetterFacts,
    *,
    name: str = "",
    shared: Everybody | None = None,
) -> Document:
    """
    Compose the letter to one worker.

    Parameters
    ----------
    assessment : SurveyAssessment
        As assessed.
    worker : str
        Code of the worker.
    words : Wording
        In the worker's language.
    facts : LetterFacts
        What the assessment does not know.
    name : str
        The worker's name, where the letter is made by somebody who may know it; it is kept nowhere.
    shared : Everybody, optional
        From `everybody`, where many letters are made; read anew, if left out.

    Raises
    ------
    KeyError
        This worker has no result in this survey.
    """
    shared = shared or everybody(assessment)
    results = shared.results.get(worker)
    if not results:
        raise KeyError(f"worker {worker} has no result in this survey")
    days = words.days(sorted({result.day for result in results}))
    blocks: list[Block] = [
        Facts(tuple(_who(assessment, worker, results, words, name, shared.codes[worker]))),
        Heading(words.say("letter.about")),
        Paragraph(words.say("letter.measured", days=days)),
        Heading(words.say("letter.results")),
        _table(results, words),
        Heading(words.say("letter.meaning")),
        *_meanings(results, words),
        Paragraph(words.say("letter.outside"), "caution"),
        *_notes(results, words),
        Heading(words.say("letter.next")),
        *_next(results, words, facts),
        Heading(words.say("letter.rights")),
        Paragraph(words.say("letter.rights_words")),
        Paragraph(words.say("letter.contact", contact=facts.contact or words.say("common.to_be_filled")), "strong"),
        Facts(
            (
                (words.say("letter.received"), _day(words, facts.received_on)),
                (words.say("letter.due"), _day(words, facts.due_on)),
                (words.say("letter.sent"), _day(words, facts.sent_on)),
            )
        ),
        SignatureLines((words.say("letter.signed"), words.say("letter.handed"))),
    ]
    return worded_document(
        words, "letter", assessment.survey, blocks, days=days, dated=facts.sent_on, logo=facts.logo, is_dense=True
    )


def group_posting(
    assessment: SurveyAssessment,
    group: str,
    words: Wording,
    facts: LetterFacts,
    *,
    shared: Everybody | None = None,
) -> Document:
    """
    Compose the list of a group's results for the board: codes from the letters, no identities.

    `shared` is as for `worker_letter`.

    Raises
    ------
    KeyError
        There is no such group, or none of its workers has a result.
    """
    survey = assessment.survey
    named = survey.groups[group].name
    shared = shared or everybody(assessment)
    mine = {
        shared.codes[worker]: of_group
        for worker, results in shared.results.items()
        if (of_group := [result for result in results if survey.workers[worker].on(result.day).group == group])
    }
    if not mine:
        raise KeyError(f"no worker of group {group} has a result in this survey")
    ordered = sorted(mine.items())
    days = words.days(sorted({result.day for results in mine.values() for result in results}))
    rows = tuple(
        (code, result.agent, _result(result, words), result.limit or words.say("common.nothing"), _word(result, words))
        for code, results in ordered
        for result in results
    )
    head = tuple(
        words.say(place)
        for place in ("posting.code", "letter.substance", "posting.result", "letter.limit", "letter.compared")
    )
    blocks: list[Block] = [
        Paragraph(words.say("posting.intro", group=named)),
        Table(head, rows, (0.7, 1.25, 1.5, 2.15, 1.8)),
        Heading(words.say("posting.means")),
        *_posted_meanings(ordered, words, facts),
        Paragraph(words.say("letter.outside"), "caution"),
        *_marks([result for results in mine.values() for result in results], words),
        Paragraph(words.say("posting.ask", contact=facts.contact or words.say("common.to_be_filled")), "strong"),
        Facts(
            (
                (words.say("letter.received"), _day(words, facts.received_on)),
                (words.say("posting.posted"), _day(words, facts.sent_on)),
                (words.say("posting.until"), words.say("common.to_be_filled")),
            )
        ),
    ]
    return worded_document(
        words, "posting", survey, blocks, days=days, dated=facts.sent_on, logo=facts.logo, is_dense=True
    )


def _who(
    assessment: SurveyAssessment,
    worker: str,
    results: Sequence[ResultForWorker],
    words: Wording,
    name: str,
    slip_code: str,
) -> list[tuple[str, str]]:
    zone = ZoneInfo(assessment.survey.site.zone)
    shifts = list(dict.fromkeys(result.shift for result in results))
    times = "; ".join(
        f"{words.day(shift.start.astimezone(zone).date())}, {words.clock(shift.start.astimezone(zone))} – "
        f"{words.clock(shift.end.astimezone(zone))}"
        for shift in shifts
    )
    rows = [(words.say("letter.name"), name)] if name else []
    rows.append((words.say("letter.worker"), worker))
    jobs = dict.fromkeys(assessment.survey.workers[worker].on(result.day).job for result in results)
    if any(jobs):
        rows.append((words.say("letter.job"), ", ".join(filter(None, jobs))))
    return [*rows, (words.say("letter.times"), times), (words.say("letter.slip"), slip_code)]


def _table(results: Sequence[ResultForWorker], words: Wording) -> Table:
    head = tuple(words.say(f"letter.{key}") for key in ("substance", "result", "over_time", "limit", "compared"))
    rows = tuple(
        (
            result.agent,
            _result(result, words),
            words.say("letter.minutes", minutes=result.minutes) if result.minutes else words.say("common.nothing"),
            result.limit or words.say("common.nothing"),
            _word(result, words),
        )
        for result in results
    )
    return Table(head, rows, (1.1, 1.35, 0.95, 2.2, 1.85))


def _meanings(results: Sequence[ResultForWorker], words: Wording) -> list[Block]:
    """One line a verdict, with the agents it is the gravest of; the gravest first. An action level is below a limit."""
    worst: dict[str, Verdict] = {}
    for result in results:
        if result.verdict is not None and not result.is_action_level:
            worst[result.agent] = min(worst.get(result.agent, "under"), result.verdict, key=GRAVEST_FIRST.index)
    warned = _warned(results)
    lines: list[Block] = []
    for verdict in GRAVEST_FIRST:
        agents = [agent for agent, found in worst.items() if found == verdict]
        if agents:
            meaning = words.say(MEANS[verdict], agent=listed(", ", agents))
            lines.append(VerdictLine(verdict, words.say(WORD_OF[verdict]), meaning))
        if verdict == "over":
            lines += [
                VerdictLine("over", words.say("common.above_action"), words.say("letter.means_action", agent=agent))
                for agent in warned
                if worst.get(agent) != "over"
            ]
    lost = list(dict.fromkeys(result.agent for result in results if result.is_lost))
    if lost:
        meaning = words.say("letter.no_result", agent=listed(", ", lost))
        lines.append(VerdictLine("cannot tell", words.say("common.cannot_tell"), meaning))
    without = dict.fromkeys(r.agent for r in results if r.verdict is None and not r.is_lost and r.agent not in worst)
    if without:
        lines.append(Paragraph(words.say("letter.no_limit", agent=listed(", ", without))))
    return lines


def _warned(results: Sequence[ResultForWorker]) -> list[str]:
    """Agents above an action level."""
    return list(dict.fromkeys(r.agent for r in results if r.is_action_level and r.verdict == "over"))


def _notes(results: Sequence[ResultForWorker], words: Wording) -> list[Block]:
    blocks = _marks(results, words)
    qualified = list(dict.fromkeys(result.agent for result in results if result.qualified and not result.is_lost))
    if qualified:
        blocks.append(Paragraph(words.say("letter.qualified", agents=listed(", ", qualified)), "quiet"))
    return [Heading(words.say("letter.notes"), 2), *blocks] if blocks else []


def _marks(results: Sequence[ResultForWorker], words: Wording) -> list[Block]:
    """Explain the units, the marks beside numbers and the kinds of limit, where there are any."""
    cells = [_result(result, words) for result in results]
    limits = [words.told(result.limit) for result in results]
    between = words.told(said("{low} to {high}", low="", high=""))
    kinds = {kind: words.told(said(kind)) for kind in ("TWA", "STEL", "ceiling", "action level")}
    explained = [
        (any("ppm" in text for text in (*cells, *limits)), "letter.ppm"),
        (any("mg/m³" in text for text in (*cells, *limits)), "letter.mg_m3"),
        (any("±" in text for text in cells), "letter.plus_minus"),
        (any(text.startswith("<") for text in cells), "letter.at_most"),
        (any(text.startswith("≥") for text in cells), "letter.at_least"),
        (any(between in text for text in cells), "letter.range"),
        (any(kinds["TWA"] in text for text in limits), "letter.twa"),
        (any(kinds["STEL"] in text for text in limits), "letter.stel"),
        (any(kinds["ceiling"] in text for text in limits), "letter.ceiling"),
        (any(kinds["action level"] in text for text in limits), "letter.action_level"),
    ]
    said_here = [words.say(place) for there, place in explained if there]
    return [Paragraph(listed(" ", said_here), "quiet")] if said_here else []


def _next(results: Sequence[ResultForWorker], words: Wording, facts: LetterFacts) -> list[Block]:
    over = any(result.verdict == "over" and not result.is_action_level for result in results)
    if not facts.actions and not over:
        return [Paragraph(words.say("letter.nothing_stated"))]
    actions = facts.actions or (words.say("common.to_be_filled"),)
    return [Paragraph(words.say("letter.next_over" if over else "letter.next_other")), Bullets(actions)]


def _posted_meanings(
    ordered: Sequence[tuple[str, Sequence[ResultForWorker]]], words: Wording, facts: LetterFacts
) -> list[Block]:
    blocks: list[Block] = []
    for verdict in GRAVEST_FIRST:
        codes = _codes(ordered, verdict, action_level=False)
        if codes:
            said = words.say(MEANS[verdict].replace("letter.", "posting."), codes=codes)
            blocks.append(VerdictLine(verdict, words.say(WORD_OF[verdict]), said))
        warned = _codes(ordered, "over", action_level=True) if verdict == "over" else ""
        if warned:
            said = words.say("posting.means_action", codes=warned)
            blocks.append(VerdictLine("over", words.say("common.above_action"), said))
        if verdict == "over" and (codes or (warned and facts.actions)):
            blocks.append(Bullets(facts.actions or (words.say("common.to_be_filled"),)))
    return blocks


def _codes(ordered: Sequence[tuple[str, Sequence[ResultForWorker]]], verdict: Verdict, *, action_level: bool) -> str:
    """Name the codes with the substances it is about: “WFFA (Toluene, Benzene), ROK7 (Toluene)”."""
    named = []
    for code, results in ordered:
        agents = dict.fromkeys(
            result.agent for result in results if result.verdict == verdict and result.is_action_level == action_level
        )
        if agents:
            named.append(listed("", (code, " (", listed(", ", agents), ")")))
    return listed(", ", named)


def _result(result: ResultForWorker, words: Wording) -> str:
    return words.told(result.result) or words.say("common.nothing")


def _word(result: ResultForWorker, words: Wording) -> str:
    if result.is_action_level and result.verdict in ("over", "under"):
        return words.say("common.above_action" if result.verdict == "over" else "common.below_action")
    return words.say(WORD_OF[result.verdict]) if result.verdict else words.say("common.nothing")


def _day(words: Wording, day: date | None) -> str:
    return words.day(day) if day else words.say("common.to_be_filled")

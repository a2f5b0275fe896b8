"""Questions for the laboratory as a letter ready to send: plain text, by sample, nothing about workers in it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from lapel.assessment.reconcile_matters import Matter


def laboratory_letter(
    matters: Iterable[Matter], *, report: str, laboratory: str, sender: str = "", further: Sequence[str] = ()
) -> str:
    """
    Draft the questions to a laboratory.

    Parameters
    ----------
    matters : iterable of Matter
        Those with a question in them are asked; questions of one wording once.
    report, laboratory, sender : str
        The report's number, to whom, and from whom.
    further : sequence of str
        Questions of another origin, such as those about two samples that may have been exchanged.

    Returns
    -------
    str
        Empty where there is nothing to ask.
    """
    asked = [*dict.fromkeys(matter.asks for matter in matters if matter.asks), *further]
    if not asked:
        return ""
    plural = "a question" if len(asked) == 1 else f"{len(asked)} questions"
    lines = [f"To: {laboratory or 'the laboratory'}", f"About: report {report or '(no number)'}", ""]
    lines += [f"We have {plural} about this report before we can use it:", ""]
    lines += [f"{number}. {question}" for number, question in enumerate(asked, start=1)]
    lines += [
        "",
        "Where an answer changes the report, please issue an amended one that names what was changed.",
        "",
        sender,
    ]
    return "\n".join(lines).rstrip() + "\n"

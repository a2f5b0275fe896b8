"""Documents and judgements made apart from the page: how far they are is told, what fails is told, nothing is lost."""

import threading
import time

import pytest

from lapel.assessment.judged_groups import group_questions
from lapel.assessment.survey import assess
from lapel.exchange.survey_folder import read_survey
from lapel.office.judge import held
from lapel.office.judge.held import Asked, CannotJudge, all_judged, judged_so_far
from lapel.office.report import making
from lapel.office.report.making import CannotMake, asked_for, forget, key_of


@pytest.fixture(autouse=True)
def nothing_held():
    making._held.clear()


@pytest.fixture
def asked():
    assessment = assess(read_survey("examples/small"))
    return [Asked(one, (), f"{assessment.rule_book.key}") for one in group_questions(assessment)]


def until(is_so):
    limit = time.monotonic() + 30
    while not is_so():
        assert time.monotonic() < limit
        time.sleep(0.01)


def test_a_slow_document_tells_how_far_it_is_and_is_there_when_asked_again():
    go_on = threading.Event()

    def make(tell):
        tell("setting the pages", 3, 7)
        assert go_on.wait(30)
        return b"%PDF"

    key = key_of("slow")
    first = asked_for(key, make, wait_s=0.0)
    until(lambda: first.total)
    assert (first.words, first.done, first.total, first.is_over) == ("setting the pages", 3, 7, False)
    go_on.set()
    assert asked_for(key, make, wait_s=30.0).content == b"%PDF"
    forget(key)
    assert key not in making._held


def test_what_is_asked_for_twice_is_made_once():
    made = []

    def make(tell):
        made.append(1)
        return b"x"

    for _ in range(3):
        assert asked_for(key_of("once"), make, wait_s=30.0).content == b"x"
    assert made == [1]


def test_what_failed_is_told_in_words_and_tried_again_when_asked_again(caplog):
    tries = []

    def make(tell):
        tries.append(1)
        if len(tries) == 1:
            raise CannotMake("Worker W-9 has no result in this survey.")
        if len(tries) == 2:
            raise ZeroDivisionError("a secret of the machine")
        return b"made"

    key = key_of("fails")
    assert asked_for(key, make, wait_s=30.0).problem == "Worker W-9 has no result in this survey."
    second = asked_for(key, make, wait_s=30.0)
    assert "secret" not in second.problem
    assert "The server's log says why" in second.problem
    assert "a secret of the machine" in caplog.text
    assert asked_for(key, make, wait_s=30.0).content == b"made"


def test_documents_nobody_fetched_are_forgotten_before_memory_fills(monkeypatch):
    monkeypatch.setattr(making, "MOST_BYTES", 1000)
    for number in range(8):
        asked_for(key_of(number), lambda tell: b"x" * 400, wait_s=30.0)
    assert sum(len(one.content) for one in making._held.values()) <= 1000 + 400


def test_a_group_that_cannot_be_judged_is_told_once_and_tried_again(asked, monkeypatch, caplog):
    real, tries = held.judged_group, []
    one = Asked(asked[0].question, (), "a book of this test alone")

    def judged_group(question, **more):
        if more["rule_book"] == one.rule_book:  # what an earlier test asked for may still be made
            tries.append(question)
            if len(tries) == 1:
                raise ArithmeticError("the quadrature did not end")
        return real(question, **more)

    monkeypatch.setattr(held, "judged_group", judged_group)
    with pytest.raises(CannotJudge, match="The server's log says why"):
        judged_so_far([one], wait_s=60.0)
    assert "the quadrature did not end" in caplog.text
    (found,) = judged_so_far([one], wait_s=60.0)
    assert found.judgement.p95 == real(one.question, rule_book=one.rule_book).judgement.p95


def test_all_of_them_are_told_in_order_with_how_many_there_are(asked):
    said = []
    found = all_judged(asked, lambda words, done, total: said.append((done, total)))
    assert [one.question for one in found] == [one.question for one in asked]
    assert said[-1] == (len(asked), len(asked))

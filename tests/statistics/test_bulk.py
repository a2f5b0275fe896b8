import os
import signal
import subprocess
import sys
import time
import tracemalloc
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path

import numpy as np
import pytest

from lapel.statistics.bulk import BulkQuestion, bulk_posteriors
from lapel.statistics.chunks import Crew, map_chunks
from lapel.statistics.observed import observed
from lapel.statistics.posterior import posterior

QUESTION = BulkQuestion(quantiles={"p95": (0.3, 0.95)}, above={"p95": 1.0, "gsd": 3.0})


def invented(count, seed=1):
    rng = np.random.default_rng(seed)
    for k in range(count):
        x = rng.lognormal(-2, 0.8, size=6)
        cut = np.sort(x)[2] if k % 2 else 0.0
        yield observed(lower=np.where(x <= cut, 0, x), upper=np.maximum(x, cut)), 1.0 + k % 3


def double(chunk):
    return 2 * chunk


def wait_long_for_the_first(chunk):
    time.sleep(0.3 if chunk == 0 else 0)
    return chunk


def die_elsewhere(home):
    if os.getpid() != home:
        os.kill(os.getpid(), signal.SIGKILL)
    time.sleep(0.05)
    return home


def who_worked(chunk):
    time.sleep(0.02)
    return os.getpid()


def test_bulk_answers_are_those_of_the_groups_alone_and_in_order():
    answers = list(bulk_posteriors(invented(25), QUESTION, groups_a_chunk=10))
    assert [a.first for a in answers] == [0, 10, 20]
    assert [len(a) for a in answers] == [10, 10, 5]
    p95 = np.concatenate([a.quantiles["p95"] for a in answers])
    above = np.concatenate([a.above["p95"] for a in answers])
    bands = np.concatenate([a.bands for a in answers])
    for k, (rows, limit) in enumerate(invented(25)):
        one = posterior(rows, limit=limit)
        assert p95[k] == pytest.approx(one.quantiles("p95", [0.3, 0.95])[0], rel=1e-9)
        assert above[k] == pytest.approx(one.probability_above("p95", limit)[0], abs=1e-10)
        assert bands[k] == pytest.approx(one.band_probabilities()[0], abs=1e-10)


def test_two_processes_give_bit_for_bit_the_answers_of_one():
    one = list(bulk_posteriors(invented(40), QUESTION, groups_a_chunk=10))
    two = list(bulk_posteriors(invented(40), QUESTION, groups_a_chunk=10, workers=2))
    for a, b in zip(one, two, strict=True):
        assert a.first == b.first
        assert np.array_equal(a.quantiles["p95"], b.quantiles["p95"])
        assert np.array_equal(a.bands, b.bands)


def test_a_cluster_gives_bit_for_bit_the_answers_of_one():
    distributed = pytest.importorskip("distributed")
    with distributed.LocalCluster(
        n_workers=1, threads_per_worker=1, processes=False, dashboard_address=None
    ) as cluster:
        far = list(bulk_posteriors(invented(20), QUESTION, groups_a_chunk=10, scheduler=cluster.scheduler_address))
        with Crew(scheduler=cluster.scheduler_address) as crew:
            again = [list(bulk_posteriors(invented(20), QUESTION, groups_a_chunk=10, workers=crew)) for _ in range(2)]
    near = list(bulk_posteriors(invented(20), QUESTION, groups_a_chunk=10))
    for a, b, c, d in zip(near, far, *again, strict=True):
        assert np.array_equal(a.bands, c.bands)
        assert np.array_equal(a.bands, d.bands)
        assert np.array_equal(a.quantiles["p95"], b.quantiles["p95"])


def test_answers_keep_the_order_of_the_chunks_when_the_first_is_slow():
    assert list(map_chunks(wait_long_for_the_first, range(5), workers=2)) == [0, 1, 2, 3, 4]


def test_chunks_are_drawn_only_a_few_ahead_of_the_answers():
    drawn = []

    def source():
        for k in range(100):
            drawn.append(k)
            yield k

    with Crew(2) as crew:
        crew.wait_until_ready()
        answers = map_chunks(double, source(), workers=crew)
        for k in range(20):
            assert next(answers) == 2 * k
            assert len(drawn) <= k + 17
        answers.close()
        assert len(drawn) < 40


def test_a_crew_works_for_many_calls_and_this_process_works_with_it():
    with Crew(2) as crew:
        crew.wait_until_ready()
        first = set(map_chunks(who_worked, range(20), workers=crew))
        second = set(map_chunks(who_worked, range(20), workers=crew))
    assert first == second
    assert len(first) == 2
    assert os.getpid() in first


def test_the_work_begins_here_while_the_other_processes_start():
    assert next(map_chunks(who_worked, range(20), workers=2)) == os.getpid()


def test_a_call_that_is_broken_off_leaves_the_crew_for_the_next():
    with Crew(2) as crew:
        crew.wait_until_ready()
        answers = map_chunks(double, range(100), workers=crew)
        assert next(answers) == 0
        answers.close()
        assert list(map_chunks(double, range(5), workers=crew)) == [0, 2, 4, 6, 8]


def test_the_end_of_the_chunks_and_a_fault_in_them_are_told_apart():
    with Crew(2) as crew:
        crew.wait_until_ready()
        assert list(map_chunks(double, [], workers=crew)) == []
        with pytest.raises(TypeError, match="unsupported operand"):
            list(map_chunks(double, [1, 2, None, 4], workers=crew))


def test_memory_does_not_grow_with_the_number_of_groups():
    def peak(count):
        tracemalloc.start()
        try:
            for _ in bulk_posteriors(invented(count), QUESTION, groups_a_chunk=50):
                pass
            return tracemalloc.get_traced_memory()[1]
        finally:
            tracemalloc.stop()

    peak(50)
    assert peak(400) < 1.5 * peak(100)


def test_a_process_that_dies_is_an_error_at_once_and_not_a_silence():
    with pytest.raises(BrokenProcessPool):
        list(map_chunks(die_elsewhere, [os.getpid()] * 1000, workers=2))


def test_the_page_on_many_groups_runs_as_printed(tmp_path):
    page = (Path(__file__).parents[2] / "docs" / "how-to" / "judge-many-groups.md").read_text(encoding="utf-8")
    script = tmp_path / "many.py"
    script.write_text(page.split("```python\n")[1].split("```")[0], encoding="utf-8")
    done = subprocess.run([sys.executable, str(script)], capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stderr
    over, little = (int(line.split()[0]) for line in done.stdout.splitlines())
    assert 500 < over < 4500
    assert 0 < little < 500


def test_measurement_error_reaches_every_group():
    for cv in (0.25, (0.1, 0.4)):
        question = BulkQuestion(quantiles={"gsd": (0.5,)}, error_cv=cv)
        (answer,) = bulk_posteriors(invented(4), question)
        for k, (rows, limit) in enumerate(invented(4)):
            expected = posterior(rows, limit=limit, error_cv=cv).quantiles("gsd", [0.5])[0]
            assert answer.quantiles["gsd"][k] == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize(
    ("call", "match"),
    [
        (lambda: list(map_chunks(double, [1], workers=0)), "`workers` must be at least 1"),
        (
            lambda: list(map_chunks(double, [1], workers=Crew(1), scheduler="tcp://127.0.0.1:1")),
            "`scheduler` must be left out when `workers` is a crew",
        ),
        (lambda: list(bulk_posteriors([], QUESTION, groups_a_chunk=0)), "`groups_a_chunk` must be at least 1"),
        (lambda: list(bulk_posteriors([(observed([0.1]), 0.0)], QUESTION)), "`limit` must be finite and above 0"),
        (lambda: BulkQuestion(error_cv=-0.1), "`error_cv` must be finite and at least 0"),
    ],
)
def test_a_count_below_one_is_refused(call, match):
    with pytest.raises(ValueError, match=match):
        call()

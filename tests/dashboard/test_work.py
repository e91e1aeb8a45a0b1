"""Work aside: shared by key, cancelled when nobody waits, its errors handed on."""

import threading

from lensyard.dashboard.work import JobPool

WAIT_S = 30.0


def test_the_same_key_is_done_once():
    jobs, runs = JobPool(), []

    def make(_):
        runs.append(1)
        return 7

    first = jobs.job("plan", make, title="the plan", session="1")
    assert first.finished.wait(WAIT_S)
    second = jobs.job("plan", make, title="the plan", session="2")
    assert (second.result, len(runs)) == (7, 1)


def test_work_stops_at_its_next_step_once_nobody_waits():
    jobs, go_on, reached = JobPool(), threading.Event(), []

    def make(progress):
        go_on.wait(WAIT_S)
        progress("second step")
        reached.append("second step")
        return "done"

    job = jobs.job("plan", make, title="the plan", session="1")
    jobs.job("plan", make, title="the plan", session="2")
    jobs.cancel(job, session="1")
    assert not job.stop.is_set()  # somebody else waits
    jobs.cancel(job, session="2")
    go_on.set()
    assert job.finished.wait(WAIT_S)
    assert (job.result, reached) == (None, [])
    # Asked for again, it is begun again.
    again = jobs.job("plan", make, title="the plan", session="1")
    assert again.finished.wait(WAIT_S)
    assert again.result == "done"


def test_an_error_is_given_to_whoever_waits_and_only_then_is_the_job_tried_anew():
    jobs = JobPool()
    tries: list[int] = []

    def make(_):
        tries.append(1)
        raise ValueError("no luck")

    def ask():
        job = jobs.job("x", make, title="x", session="1")
        assert job.finished.wait(WAIT_S)
        return job

    job = ask()
    assert ask() is job  # a page that reruns because a job has ended does not begin it again
    assert (str(job.error), len(tries)) == ("no luck", 1)
    jobs.end(job, session="1")
    assert ask() is not job
    assert len(tries) == 2

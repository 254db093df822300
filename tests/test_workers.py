"""The worker pool: every job is answered, a bad one costs itself alone."""

from __future__ import annotations

import sys
import time

import pytest
import worker_jobs

from packet.workers import Done, Failed, Part, Workers


def answers(function, payloads, **options):
    with Workers(function, **{"jobs": 2, "time_limit_s": 20, **options}) as pool:
        return list(pool.run(payloads))


def test_every_job_is_answered_once():
    got = answers(worker_jobs.double, range(7))

    assert sorted(a.value for a in got if isinstance(a, Part)) == [0, 2, 4, 6, 8, 10, 12]
    assert sorted(a.job for a in got if isinstance(a, Done)) == list(range(7))


def test_no_jobs_no_answers():
    assert answers(worker_jobs.double, []) == []


def test_a_generator_gives_its_parts_in_order():
    got = answers(worker_jobs.count_up, [3], jobs=1)

    assert [a.value for a in got if isinstance(a, Part)] == [0, 1, 2]
    assert isinstance(got[-1], Done)


def test_a_bad_job_costs_itself_alone():
    wishes = ["good", "die", "refuse", "break", "fine"]
    got = answers(worker_jobs.misbehave, wishes)

    assert sorted(a.value for a in got if isinstance(a, Part)) == ["fine", "good"]
    failed = {wishes[a.job]: a for a in got if isinstance(a, Failed)}
    assert {wish: a.reason for wish, a in failed.items()} == {
        "die": "died",
        "refuse": "refused",
        "break": "refused",
    }
    assert failed["refuse"].error.code == "not-a-scan"
    assert "/a/path" not in str(failed["break"].error)


def test_time_limit_ends_one_job_and_the_pool_goes_on():
    began = time.monotonic()
    got = answers(worker_jobs.misbehave, ["sleep", "good", "fine"], time_limit_s=3)

    assert [a.reason for a in got if isinstance(a, Failed)] == ["timeout"]
    assert sorted(a.value for a in got if isinstance(a, Part)) == ["fine", "good"]
    assert time.monotonic() - began < 30


def test_parts_before_a_death_are_kept():
    got = answers(worker_jobs.stop_after_two, [None], jobs=1)

    assert [a.value for a in got if isinstance(a, Part)] == [0, 1]
    assert isinstance(got[-1], Failed)


@pytest.mark.skipif(sys.platform != "linux", reason="address-space limit is tested on Linux")
def test_memory_limit_refuses_instead_of_eating_the_machine():
    got = answers(worker_jobs.misbehave, ["eat", "good"], jobs=1)

    assert [a.reason for a in got if isinstance(a, Failed)] == ["refused"]
    assert [a.value for a in got if isinstance(a, Part)] == ["good"]


def test_password_of_the_environment_is_not_handed_on(monkeypatch):
    monkeypatch.setenv("PACKET_PASSWORD", "never")

    assert [a.value for a in answers(worker_jobs.secret, [1]) if isinstance(a, Part)] == [None]


def test_leaving_ends_every_worker():
    with Workers(worker_jobs.misbehave, jobs=2, time_limit_s=60) as pool:
        running = pool.run(["good", "sleep"])
        next(running)
        processes = [worker.process for worker in pool._workers]

    assert processes
    assert not any(process.is_alive() for process in processes)

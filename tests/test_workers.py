"""The worker pool: every job is answered, a bad one costs itself alone."""

from __future__ import annotations

import os
import subprocess
import sys
import time

import pytest
import worker_jobs

from packet import workers
from packet.workers import Done, Failed, Part, Workers

linux = pytest.mark.skipif(sys.platform != "linux", reason="looked at in /proc, on Linux")


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
    wishes = ["good", "die", "refuse", "break", "fine", "end-of-file"]
    got = answers(worker_jobs.misbehave, wishes)

    assert sorted(a.value for a in got if isinstance(a, Part)) == ["fine", "good"]
    failed = {wishes[a.job]: a for a in got if isinstance(a, Failed)}
    assert {wish: a.reason for wish, a in failed.items()} == {
        "die": "died",
        "refuse": "refused",
        "break": "refused",
        "end-of-file": "refused",
    }
    assert failed["refuse"].error.code == "not-a-scan"
    assert "/a/path" not in str(failed["break"].error)


@pytest.mark.skipif(sys.platform == "win32", reason="multiprocessing unpacks there")
def test_an_answer_that_holds_code_is_not_run(tmp_path):
    made = tmp_path / "made"
    got = answers(worker_jobs.answer_with_code, [str(made), ""], jobs=1)

    assert [a.reason for a in got if isinstance(a, Failed)] == ["died"]
    assert [a.value for a in got if isinstance(a, Part)] == ["good"]
    assert not made.exists()


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


@linux
def test_memory_limit_refuses_instead_of_eating_the_machine():
    got = answers(worker_jobs.misbehave, ["eat", "good"], jobs=1)

    assert [a.reason for a in got if isinstance(a, Failed)] == ["refused"]
    assert [a.value for a in got if isinstance(a, Part)] == ["good"]


@linux
def test_the_watch_ends_a_worker_where_the_system_sets_no_limit():
    """As on systems that ignore RLIMIT_AS: the parent looks at the resident size."""
    wishes = ["nibble", "good"]
    with Workers(worker_jobs.misbehave, jobs=1, time_limit_s=60, limit_address_space=False) as pool:
        got = list(pool.run(wishes))

    assert [a.reason for a in got if isinstance(a, Failed)] == ["memory"]
    assert [a.value for a in got if isinstance(a, Part)] == ["good"]


def test_a_step_beyond_its_allowance_ends_with_its_own_refusal():
    """It is ended within a native call, the worker is replaced, and the pool goes on."""
    wishes = ["time", "after", "memory", "widened"]
    began = time.monotonic()
    got = answers(worker_jobs.overdo, wishes, jobs=1)

    failed = {wishes[a.job]: a for a in got if isinstance(a, Failed)}
    assert {wish: a.reason for wish, a in failed.items()} == dict.fromkeys(
        ("time", "memory"), "refused"
    )
    assert {a.error.what for a in failed.values()} == {"takes too much."}
    assert {a.error.code for a in failed.values()} == {"not-a-scan"}
    assert [a.value for a in got if isinstance(a, Part)] == ["after", "widened"]
    assert time.monotonic() - began < 60


def test_a_job_of_many_values_has_a_limit_too(monkeypatch):
    monkeypatch.setattr(workers, "JOB_TIMES", 3)
    got = answers(worker_jobs.drip, [0.2], jobs=1, time_limit_s=0.5)

    assert [a.reason for a in got if isinstance(a, Failed)] == ["timeout"]
    assert 3 <= sum(isinstance(a, Part) for a in got) <= 8


def test_nothing_secret_of_the_environment_is_handed_on(monkeypatch):
    monkeypatch.setenv("PACKET_PASSWORD", "never")
    monkeypatch.setenv("CLOUD_ACCESS_KEY", "never")
    (seen,) = (a.value for a in answers(worker_jobs.environment, [1]) if isinstance(a, Part))

    assert "never" not in seen.values()
    assert not {"HOME", "USER", "LOGNAME", "CLOUD_ACCESS_KEY"} & seen.keys()
    assert os.environ["CLOUD_ACCESS_KEY"] == "never"


@linux
def test_no_open_file_is_handed_on(tmp_path):
    secret = tmp_path / "secret"
    secret.write_text("never")
    with secret.open() as held:
        os.set_inheritable(held.fileno(), True)
        (seen,) = (a.value for a in answers(worker_jobs.open_files, [1]) if isinstance(a, Part))

    assert not any("secret" in target for target in seen.values())
    assert [seen[number] for number in (0, 1, 2)] == ["/dev/null"] * 3
    assert len([t for t in seen.values() if t not in ("/dev/null", "gone")]) <= 2  # pipe, listing


@linux
@pytest.mark.parametrize("deed", ["write", "process", "shell", "network", "name"])
def test_a_worker_writes_nothing_starts_nothing_and_calls_nobody(deed, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (end,) = answers(worker_jobs.forbidden, [deed], jobs=1)

    assert isinstance(end, Failed)
    assert ("OSError" if deed == "write" else "PermissionError") in str(end.error)
    assert all(path.stat().st_size == 0 for path in tmp_path.iterdir())


@linux
def test_a_worker_in_a_long_decode_ends_with_its_parent():
    code = (
        "import sys, worker_jobs\n"
        "from packet.workers import Workers\n"
        "if __name__ == '__main__':\n"
        "    with Workers(worker_jobs.own_id, jobs=1, time_limit_s=60) as pool:\n"
        "        for answer in pool.run([1]):\n"
        "            print(answer.value, flush=True)\n"
    )
    paths = os.pathsep.join([os.path.dirname(worker_jobs.__file__), *filter(None, sys.path)])
    with subprocess.Popen(
        [sys.executable, "-c", code],
        stdout=subprocess.PIPE,
        env={**os.environ, "PYTHONPATH": paths},
    ) as parent:
        worker = int(parent.stdout.readline())
        parent.kill()
        parent.wait()
    for _ in range(100):
        if not alive(worker):
            break
        time.sleep(0.1)

    assert not alive(worker)


def alive(process_id):
    try:
        with open(f"/proc/{process_id}/stat") as status:
            return status.read().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


def test_leaving_ends_every_worker():
    with Workers(worker_jobs.misbehave, jobs=2, time_limit_s=60) as pool:
        running = pool.run(["good", "sleep"])
        next(running)
        processes = [worker.process for worker in pool._workers]

    assert processes
    assert not any(process.is_alive() for process in processes)

"""Tasks come out the same whoever does them, and nothing that is finished is lost or done twice."""

import json
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from raytrace.spreading import Crew, Hands, SpreadError, TaskRecord

TASKS = [{"number": k} for k in range(7)]


def square(task):
    return {"square": task["number"] ** 2}


def square_and_tell(task):
    with Path(task["told"]).open("a", encoding="utf-8") as file:
        file.write(f"{task['number']} {os.getpid()}\n")
    time.sleep(task.get("long", 0.0))
    return {"square": task["number"] ** 2}


def die_once(task):
    """Kill the process that does a task, the first time it comes up."""
    if task["number"] == 3 and not Path(task["died"]).exists():
        Path(task["died"]).touch()
        os._exit(1)
    return {"square": task["number"] ** 2}


def die(_task):
    os._exit(1)


def squares(crew, tasks, work=square, **options):
    return [found["square"] for found in crew.spread(work, tasks, **options)]


def test_one_process_finds_what_the_work_does():
    with Crew(Hands(1)) as crew:
        assert squares(crew, TASKS) == [0, 1, 4, 9, 16, 25, 36]


def test_what_a_record_holds_is_not_done_again(tmp_path):
    path, told = tmp_path / "record.jsonl", tmp_path / "told"
    tasks = [{"number": k, "told": str(told)} for k in range(4)]
    with Crew(Hands(1)) as crew:
        squares(crew, tasks[:2], square_and_tell, record=TaskRecord(path))
        assert squares(crew, tasks, square_and_tell, record=TaskRecord(path)) == [0, 1, 4, 9]
    assert [line.split()[0] for line in told.read_text().splitlines()] == ["0", "1", "2", "3"]


def test_a_line_that_was_cut_off_is_no_finished_task_and_spoils_no_other(tmp_path):
    path = tmp_path / "record.jsonl"
    with Crew(Hands(1)) as crew:
        squares(crew, TASKS, record=TaskRecord(path))
        whole = path.read_text().splitlines(keepends=True)
        path.write_text("".join(whole[:3]) + whole[3][:40])
        assert len(TaskRecord(path)) == 3
        assert squares(crew, TASKS, record=TaskRecord(path)) == [0, 1, 4, 9, 16, 25, 36]
    assert len(TaskRecord(path)) == len(TASKS)


def test_a_record_of_other_work_is_no_use(tmp_path):
    path = tmp_path / "record.jsonl"
    path.write_text(json.dumps({"task": "of another program", "found": {"square": -1}}) + "\nno JSON\n")
    with Crew(Hands(1)) as crew:
        assert squares(crew, TASKS, record=TaskRecord(path)) == [0, 1, 4, 9, 16, 25, 36]


def test_a_line_that_is_nested_too_deep_to_read_is_no_finished_task(tmp_path):
    path = tmp_path / "record.jsonl"
    path.write_text('{"task": ' + "[" * 100_000 + "\n", encoding="utf-8")
    assert len(TaskRecord(path)) == 0


@pytest.mark.parametrize("text", ["mine", '{"title": 1}\n', "\n", "[" * 100_000])
def test_a_file_of_something_else_is_no_record_and_stays(tmp_path, text):
    path = tmp_path / "notes.txt"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(SpreadError, match="holds something else"):
        TaskRecord(path)
    assert path.read_text(encoding="utf-8") == text


def test_processes_find_the_same_and_a_dead_one_loses_nothing(tmp_path):
    tasks = [{"number": k, "died": str(tmp_path / "died")} for k in range(7)]
    with Crew(Hands(2)) as crew:
        assert squares(crew, tasks, die_once) == [0, 1, 4, 9, 16, 25, 36]
    assert (tmp_path / "died").exists()


def test_work_that_kills_every_process_ends_with_a_message():
    with Crew(Hands(2)) as crew, pytest.raises(SpreadError, match="0 of 7 are finished"):
        crew.spread(die, TASKS)


@pytest.mark.skipif(os.name == "nt", reason="signals of POSIX")
def test_processes_end_with_whoever_started_them_even_one_that_is_killed(tmp_path):
    told = tmp_path / "told"
    script = tmp_path / "parent.py"
    script.write_text(
        "from tests.raytrace.spreading.test_spreading import Crew, Hands, square_and_tell\n"
        "if __name__ == '__main__':\n"
        f"    tasks = [{{'number': k, 'told': {str(told)!r}, 'long': 30.0}} for k in range(2)]\n"
        "    with Crew(Hands(2)) as crew:\n"
        "        crew.spread(square_and_tell, tasks)\n",
        encoding="utf-8",
    )
    root = str(Path(__file__).parents[3])
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join([root, *sys.path])}
    parent = subprocess.Popen(
        [sys.executable, str(script)], env=environment, cwd=tmp_path, stderr=subprocess.PIPE, text=True
    )
    workers = _pids_once_told(told, 2)
    parent.kill()
    _, words = parent.communicate()
    assert "leaked" not in words  # who cleans up after it does so without a word
    until = time.monotonic() + 20.0  # a busy machine takes some seconds; the tasks would take 30
    while any(_is_alive(pid) for pid in workers) and time.monotonic() < until:
        time.sleep(0.1)
    assert not any(_is_alive(pid) for pid in workers)


def _pids_once_told(told, count):
    until = time.monotonic() + 120.0  # two processes that import numpy on a busy machine
    while time.monotonic() < until:
        lines = told.read_text().splitlines() if told.exists() else []
        if len(lines) == count:
            return [int(line.split()[1]) for line in lines]
        time.sleep(0.1)
    raise AssertionError("the processes did not begin")


def _is_alive(pid):
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    status = Path(f"/proc/{pid}/stat")
    # What nobody has waited for yet is no process any more.
    return not (status.exists() and status.read_text().rpartition(")")[2].split()[0] == "Z")


def test_no_scheduler_is_one_clear_message():
    pytest.importorskip("distributed", reason="the cluster extra is not installed")
    with (
        Crew(Hands(1, "tcp://127.0.0.1:9")) as crew,
        pytest.raises(SpreadError, match="no scheduler answers"),
    ):
        crew.spread(square, TASKS)


def test_a_cluster_finds_the_same_though_one_of_its_workers_is_killed(tmp_path):
    """Two workers of their own, as somebody starts them; the one that has begun first is killed."""
    pytest.importorskip("distributed", reason="the cluster extra is not installed")
    told = tmp_path / "told"
    tasks = [{"number": k, "told": str(told), "long": 0.4} for k in range(10)]
    with _cluster(tmp_path) as (address, workers):
        record = TaskRecord(tmp_path / "record.jsonl")

        def kill_one(_text, share):
            if share > 0.2 and len(workers) == 2:
                workers.pop().kill()

        with Crew(Hands(1, address)) as crew:
            found = squares(crew, tasks, square_and_tell, record=record, progress=kill_one)
    assert len(workers) == 1, "one of them was killed in the middle"
    assert found == [k**2 for k in range(10)]
    assert len(record) == 10
    done_by = {line.split()[1] for line in told.read_text().splitlines()}
    assert len(done_by) == 2, "both had their part in it"


class _cluster:
    """A scheduler and two workers in processes of their own."""

    def __init__(self, folder):
        self.folder, self.started = folder, []

    def _start(self, *command):
        root = str(Path(__file__).parents[3])
        own = {"PYTHONPATH": os.pathsep.join([root, *sys.path]), "DASK_DISTRIBUTED__WORKER__DAEMON": "False"}
        self.started.append(
            subprocess.Popen(
                [sys.executable, "-m", "distributed.cli." + command[0], *command[1:]],
                cwd=self.folder,
                env={**os.environ, **own},
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
            )
        )
        return self.started[-1]

    def __enter__(self):
        file = self.folder / "scheduler.json"
        self._start("dask_scheduler", "--port", "0", "--no-dashboard", "--scheduler-file", str(file))
        address = self._address(file)
        alone = ("--nthreads", "1", "--no-nanny", "--no-dashboard")
        return address, [self._start("dask_worker", address, *alone) for _ in range(2)]

    def _address(self, file):
        until = time.monotonic() + 60.0  # a busy machine starts a process in some seconds
        while time.monotonic() < until:
            if file.exists() and (text := file.read_text()).rstrip().endswith("}"):
                return json.loads(text)["address"]
            time.sleep(0.1)
        raise AssertionError("the scheduler did not start")

    def __exit__(self, *_problem):
        for process in reversed(self.started):
            process.kill()
            process.wait()

"""Many independent tasks on all cores or on a cluster, each finished one kept so that a run can go on."""

import hashlib
import json
import multiprocessing
import os
import signal
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import CancelledError, Executor, Future, ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, field
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from threading import Thread
from types import TracebackType
from typing import Any, Self

Task = dict[str, Any]
Found = dict[str, Any]
Work = Callable[[Task], Found]
Progress = Callable[[str, float], None]

_MOST_BREAKS = 3  # without a task finished in between: then it is the task that kills
_PATIENCE_S = 30.0  # for the first worker of a cluster
_BEGINNING = b'{"task": '  # of every line of a record
_LARGEST_BYTES = 256_000_000  # a million places of a seat
_LOST_RETRIES = 3  # of a task whose worker of a cluster was lost


class SpreadError(Exception):
    """Tasks that could not be finished; those that were are in the record."""


@dataclass(frozen=True)
class Hands:
    """Who does the tasks.

    Attributes
    ----------
    processes : int
        On this machine; with 1 the tasks are done one after the other in this one.
    scheduler : str or None
        Address of a Dask cluster that does them instead, "tcp://10.0.0.5:8786".
    """

    processes: int = 1
    scheduler: str | None = None


def all_cores() -> Hands:
    """As many processes as this one may use cores."""
    allowed = getattr(os, "sched_getaffinity", None)
    return Hands(len(allowed(0)) if allowed else os.cpu_count() or 1)


class TaskRecord:
    """Finished tasks, in a file with one line each or, without one, in memory.

    A line that was cut off, by a full disk or a kill, is no finished task.

    Parameters
    ----------
    path : Path, optional

    Raises
    ------
    SpreadError
        If something else is there: a file that does not begin as a record does stays as it is.
    """

    def __init__(self, path: Path | None = None) -> None:
        self.path = path
        self._found: dict[str, Found] = {}
        self._ends_clean = True
        if path is not None and path.exists():
            text = _record_text(path)
            self._ends_clean = not text or text.endswith("\n")
            for line in text.splitlines():
                self._read(line)

    def _read(self, line: str) -> None:
        try:
            entry = json.loads(line)
        except (ValueError, RecursionError):
            return
        if isinstance(entry, dict) and isinstance(entry.get("found"), dict):
            self._found[str(entry.get("task"))] = entry["found"]

    def __len__(self) -> int:
        """How many are finished."""
        return len(self._found)

    def get(self, key: str) -> Found | None:
        """What was found for a task, by its key."""
        return self._found.get(key)

    def add(self, key: str, found: Found) -> None:
        """Keep what was found, on disk before anything else happens."""
        self._found[key] = found
        if self.path is None:
            return
        with self.path.open("a", encoding="utf-8") as file:
            file.write(("" if self._ends_clean else "\n") + json.dumps({"task": key, "found": found}) + "\n")
            file.flush()
            os.fsync(file.fileno())
        self._ends_clean = True


def _record_text(path: Path) -> str:
    """What stands in a record, which may be cut off after its first letters."""
    if not path.is_file():
        raise SpreadError("it is no file but a folder, pipe or device")
    with path.open("rb") as file:
        if not _BEGINNING.startswith(file.read(len(_BEGINNING))):
            raise SpreadError("it holds something else, and stays as it is")
        file.seek(0)
        raw = file.read(_LARGEST_BYTES + 1)
    if len(raw) > _LARGEST_BYTES:
        raise SpreadError(f"it is larger than {_LARGEST_BYTES / 1e6:.0f} MB")
    return raw.decode("utf-8", errors="replace")


def key_of(work: Work, task: Task) -> str:
    """What a task is known by in a record: the same work on the same data by the same program."""
    whole = json.dumps([work.__module__, work.__qualname__, own_version(), task], sort_keys=True)
    return hashlib.sha256(whole.encode()).hexdigest()


def own_version() -> str:
    """Of this program."""
    try:
        return version("hitspot")
    except PackageNotFoundError:  # run from its sources
        return "sources"


@dataclass
class _Run:
    """One run over tasks: what is left, and how far it is."""

    work: Work
    tasks: Sequence[Task]
    record: TaskRecord
    progress: Progress
    told: str
    keys: list[str] = field(init=False)

    def __post_init__(self) -> None:
        self.keys = [key_of(self.work, task) for task in self.tasks]

    @property
    def left(self) -> list[int]:
        return [k for k, key in enumerate(self.keys) if self.record.get(key) is None]

    def finish(self, k: int, found: Found) -> None:
        self.record.add(self.keys[k], found)
        self.tell()

    def tell(self) -> None:
        done = len(self.tasks) - len(self.left)
        self.progress(f"{self.told}: {done} of {len(self.tasks)}", done / max(len(self.tasks), 1))

    @property
    def told_done(self) -> str:
        return f"{len(self.tasks) - len(self.left)} of {len(self.tasks)} are finished"

    def found(self) -> list[Found]:
        found = [self.record.get(key) for key in self.keys]
        assert all(one is not None for one in found), "whoever did the tasks did all of them"
        return [one for one in found if one is not None]


class Crew:
    """Whoever does tasks, for as long as a block lasts: processes are started once, with the first tasks.

    Parameters
    ----------
    hands : Hands
    """

    def __init__(self, hands: Hands) -> None:
        self._hands = hands
        self._pool: Executor | None = None
        self._client: Any = None
        self._others = set(multiprocessing.active_children())

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, _problem: BaseException | None, _trace: TracebackType | None
    ) -> None:
        """Let go of all: at once where the block is left by an interrupt or an error."""
        self._let_go(at_once=kind is not None)
        if self._client is not None:
            self._client.close()

    def spread(
        self,
        work: Work,
        tasks: Sequence[Task],
        *,
        record: TaskRecord | None = None,
        progress: Progress = lambda _text, _share: None,
        told: str = "finished",
    ) -> list[Found]:
        """What some work finds for each of some tasks, in their order, whoever does them.

        Parameters
        ----------
        work : callable
            Takes a task and gives what was found, both plain data (as JSON has them); a function of a module.
        tasks : sequence of dict
        record : TaskRecord, optional
            What it holds is not done again; what is finished is added to it at once.
        progress, told : callable, str
            Told after each task, with these words before the count.

        Returns
        -------
        list of dict

        Raises
        ------
        SpreadError
            If workers die again and again, or the connection to a cluster breaks; what was finished is in
            the record, so that the same call goes on from there.
        """
        run = _Run(work, tasks, TaskRecord() if record is None else record, progress, told)
        run.tell()
        if self._hands.scheduler is not None:
            self._on_cluster(run, self._hands.scheduler)
        elif self._hands.processes > 1 and len(run.left) > 1:
            self._on_processes(run)
        else:
            for k in run.left:
                run.finish(k, work(tasks[k]))
        return run.found()

    def _on_processes(self, run: _Run) -> None:
        """Processes of this machine; where one of them dies, new ones go on with what is left."""
        breaks = 0
        while run.left:
            before = len(run.left)
            if self._pool is None:
                _hush_tracker()
                context = multiprocessing.get_context("spawn")  # compiled code does not survive a fork
                self._pool = ProcessPoolExecutor(
                    self._hands.processes, mp_context=context, initializer=_begin
                )
            try:
                _collect(run, self._pool)
            except BrokenProcessPool:
                self._let_go(at_once=True)
                breaks = breaks + 1 if len(run.left) == before else 1
                if breaks >= _MOST_BREAKS:
                    raise SpreadError(
                        "the processes that do the work end before they finish, memory may be too small; "
                        f"{run.told_done}"
                    ) from None

    def _on_cluster(self, run: _Run, address: str) -> None:
        """Workers of a cluster that is there already: its scheduler gives what a lost one had to another."""
        if self._pool is None:
            self._client = _client_of(address)
            self._pool = self._client.get_executor(pure=False, retries=_LOST_RETRIES)
        try:
            theirs = self._pool.submit(own_version).result()
            if theirs != own_version():
                raise SpreadError(f"the workers run version {theirs} of hitspot, this is {own_version()}")
            _collect(run, self._pool)
        except ImportError as problem:
            raise SpreadError(f"the workers at {address} cannot load hitspot: {problem}") from None
        except (CancelledError, OSError) as problem:
            raise SpreadError(
                f"the connection to {address} broke ({type(problem).__name__}); {run.told_done}"
            ) from None

    def _let_go(self, *, at_once: bool) -> None:
        if self._pool is None:
            return
        if at_once:
            self._pool.shutdown(wait=False, cancel_futures=True)
            for own in set(multiprocessing.active_children()) - self._others:
                own.terminate()
        else:
            self._pool.shutdown()
        self._pool = None


def _hush_tracker() -> None:
    """Start the process that cleans up after killed ones so that it does so without a word of it."""
    if os.name != "posix":  # there is none elsewhere
        return
    from multiprocessing import resource_tracker

    before = os.environ.get("PYTHONWARNINGS")
    os.environ["PYTHONWARNINGS"] = "ignore:resource_tracker"
    try:
        resource_tracker.ensure_running()
    finally:
        del os.environ["PYTHONWARNINGS"]
        if before is not None:
            os.environ["PYTHONWARNINGS"] = before


def _begin() -> None:
    """A worker dies quietly of Ctrl-C, and with whoever started it, even one that was killed."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def _collect(run: _Run, pool: Executor) -> None:
    """Hand out all that is left, and keep each result as it comes."""
    broken: BrokenProcessPool | None = None
    for future, k in _handed_out(run, pool):
        try:
            run.finish(k, future.result())
        except BrokenProcessPool as problem:
            broken = problem  # others may have finished before it broke
    if broken is not None:
        raise broken


def _handed_out(run: _Run, pool: Executor) -> Iterator[tuple[Future[Found], int]]:
    """Each task that was left, as it is finished."""
    waiting = {pool.submit(run.work, run.tasks[k]): k for k in run.left}
    for future in as_completed(waiting):
        yield future, waiting[future]


def _client_of(address: str) -> Any:
    """A connection to a scheduler."""
    try:
        from distributed import Client
    except ImportError:
        raise SpreadError(
            'a cluster needs the package "distributed", which is not installed here: pip install '
            '"hitspot[cluster]"'
        ) from None
    try:
        client = Client(address, timeout="10s", set_as_default=False)
    except (OSError, TimeoutError, ValueError) as problem:
        raise SpreadError(f"no scheduler answers at {address}: {problem}") from None
    try:
        client.wait_for_workers(1, timeout=_PATIENCE_S)
    except TimeoutError:
        client.close()
        raise SpreadError(f"the scheduler at {address} has no workers; start some, and try again") from None
    return client

"""The scheduler's library, by a stub: greetings, a lost task, a lost scheduler."""

from __future__ import annotations

import importlib
import sys
from types import SimpleNamespace
from typing import Any

import pytest

from genex.errors import ClusterError, GenexError
from genex.publishing import scheduler
from genex.publishing.cluster_worker import Unfit, facts, greeting
from genex.publishing.scheduler import Dask


class Client:
    """A client of the library; ``answers`` are the workers', ``silent`` those that keep it waiting."""

    def __init__(self, address: str, timeout: float) -> None:
        if "other" in address:
            raise MemoryError("3 EiB")
        if "nobody" in address:
            raise OSError("timed out")
        self.status = "running"
        self.silent: set[str] = set()
        self.broken: set[str] = set()
        self.older: set[str] = set()

    def run(self, what: Any, *words: Any, workers: list[str], on_error: str) -> dict[str, Any]:
        if self.silent & set(workers):
            raise TimeoutError
        answers = {}
        for one in workers:
            if one in self.broken and what is importlib.import_module:
                answers[one] = ImportError("no genex")
            elif what is greeting:
                older = {"numpy": "1.0"} if one in self.older else {}
                answers[one] = "attic", facts() | older
        return answers

    def close(self, timeout: float) -> None:
        self.status = "closed"


@pytest.fixture
def dask(monkeypatch: pytest.MonkeyPatch) -> Dask:
    library = SimpleNamespace(Client=Client, wait=lambda *words, **more: None)
    monkeypatch.setitem(sys.modules, "distributed", library)
    monkeypatch.setattr(scheduler, "threads_begin", lambda: None)
    return Dask("tcp://there:8786")


def task(status: str = "pending", **result: Any) -> Any:
    def value(timeout: float) -> Any:
        if "error" in result:
            raise result["error"]
        return result["value"]

    done = status in ("finished", "error")
    return SimpleNamespace(status=status, done=lambda: done, result=value, release=lambda: None)


def test_workers_are_greeted_all_together_or_each(dask):
    client = dask._client
    client.broken, client.older = {"b"}, {"c"}
    other = Unfit(f"numpy 1.0 in place of {facts()['numpy']}")
    found = dask.greet(["a", "b", "c"])
    assert found == {"a": None, "b": Unfit("genex cannot be loaded there: no genex"), "c": other}
    client.silent = {"a"}
    assert dask.greet(["a", "c"]) == {"a": Unfit("it does not answer"), "c": other}
    assert dask.greet([]) == {}


def test_a_lost_result_is_waited_for_and_a_lost_scheduler_is_told(dask):
    finished = task("finished")
    assert dask.done([task("lost"), finished, task()]) == [finished]
    with pytest.raises(ClusterError, match="the scheduler is gone"):
        dask.done([task("cancelled")])
    dask._client.status = "connecting"
    with pytest.raises(ClusterError, match="the scheduler is gone"):
        dask.done([finished])


def test_the_library_giving_all_up_is_a_lost_scheduler_too(dask, monkeypatch):
    def given_up(*words: Any, **more: Any) -> None:
        raise RuntimeError("3 futures cancelled")

    monkeypatch.setattr(dask._library, "wait", given_up)
    with pytest.raises(ClusterError, match="the scheduler is gone"):
        dask.done([task()])


def test_what_came_of_a_task(dask):
    killed = type("KilledWorker", (Exception,), {})
    assert dask.outcome(task(value=[])) == []
    assert isinstance(dask.outcome(task(error=GenexError("no"))), GenexError)
    assert "ended each time" in str(dask.outcome(task(error=killed())))
    assert dask.outcome(task(error=OSError("torn"))) == Unfit("OSError: torn")
    dask.close()
    with pytest.raises(ClusterError, match="the scheduler is gone"):
        dask.outcome(task(error=OSError("torn")))


@pytest.mark.parametrize(("address", "said"), [("nobody", "timed out"), ("other", "something else")])
def test_an_address_at_which_no_scheduler_is(dask, address, said):
    with pytest.raises(ClusterError, match=said):
        Dask(f"tcp://{address}:1")

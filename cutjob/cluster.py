"""Connects to a Dask cluster, so that a large job is worked out on many computers: an address goes in, an executor
comes out (extra `cluster`).

Only a scheduler that is already running is used; nothing is started. A cluster runs whatever it is sent, with the
rights of whoever started it, so it belongs in a network where everyone is trusted.

Dask repeats the tasks of a worker that ends. A cluster that is lost, or whose workers are all gone, ends the run with
an error. This is looked at every second, since Dask itself would wait for workers without end.
"""

from __future__ import annotations

import asyncio
import importlib
import logging
import re
import threading
import time
import warnings
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Any

from cutjob.errors import InputError, Problem
from cutjob.workers import Sender, other_versions, versions

_ADDRESS = re.compile(r"(?:tcp|tls)://(?:[A-Za-z0-9_.-]+|\[[0-9A-Fa-f:.]+\]):([0-9]{1,5})")
_FIND = 5.0  # seconds in which a cluster must answer, and after that
_WORKERS = 4.0  # seconds in which it must have a worker
_LOOK = 1.0  # seconds between two looks at the cluster
_GONE = 5.0  # seconds without a scheduler after which the cluster is lost
_NONE_LEFT = 20.0  # seconds without a worker; one that is started again takes some
_LARGE = "1 GiB"  # of a task: boards of many hundred parts are no mistake
_WITHOUT = "leave out --cluster to use this computer alone"


@contextmanager
def cluster(address: str | None) -> Iterator[Sender | None]:
    """Give an executor on the cluster whose scheduler has this address, such as tcp://192.168.1.20:8786; None without
    one.

    Raises InputError where the address is none, nothing answers there, there is no worker, or a worker has other
    versions of cutjob or its libraries; and through a task's future once the cluster is lost.
    """
    if address is None:
        yield None
        return
    place = f"--cluster {address}"
    found = _ADDRESS.fullmatch(address)
    if found is None or not 0 < int(found[1]) < 65536:
        advice = "give the one that the scheduler shows when it starts, such as tcp://192.168.1.20:8786"
        raise InputError(Problem(place=place, message="this is not an address", advice=advice))
    try:
        dask, distributed = (importlib.import_module(name) for name in ("dask", "distributed"))
    except ImportError:
        message = "Dask is not installed here, which the work on a cluster needs"
        raise InputError(
            Problem(place=place, message=message, advice='install cutjob with it: pip install "cutjob[cluster]"')
        ) from None
    with _quiet(), dask.config.set(_settings()):
        client = _client(distributed, place, address)
        ended = threading.Event()
        try:
            _check_workers(client, place)

            def lost(error: BaseException) -> BaseException:
                return _lost(error, place)

            sender = Sender(client.get_executor(pure=False), lost=lost)
            threading.Thread(target=_look_after, args=(client, sender, place, ended), daemon=True).start()
            yield sender
        finally:
            # Whatever the cluster still does is of no use any more. Nobody waits for it.
            ended.set()
            with suppress(Exception):
                client.close(timeout=1.0)


def _settings() -> dict[str, object]:
    return {
        "distributed.comm.timeouts.connect": f"{_GONE}s",
        "distributed.admin.large-graph-warning-threshold": _LARGE,
    }


@contextmanager
def _quiet() -> Iterator[None]:
    """What Dask would print of lost connections is said in our own words."""
    logs = [logging.getLogger(name) for name in logging.root.manager.loggerDict if name.startswith("distributed")]
    before = [log.disabled for log in logs]
    for log in logs:
        log.disabled = True
    try:
        yield
    finally:
        for log, disabled in zip(logs, before, strict=True):
            log.disabled = disabled


def _client(distributed: Any, place: str, address: str) -> Any:
    """A client of the cluster. Raises InputError where none answers, or something else does."""
    try:
        asyncio.run(_greeted(address))
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # versions are compared below
            return distributed.Client(address, timeout=_FIND, set_as_default=False)
    except (Exception, MemoryError):  # what another kind of server answers is read as anything
        advice = f"start its scheduler, or check the address and the network; or {_WITHOUT}"
        raise InputError(Problem(place=place, message="no cluster answers at this address", advice=advice)) from None


async def _greeted(address: str) -> None:
    """Return once a scheduler has answered. A client would wait for another kind of server without end."""
    core, security = (importlib.import_module(f"distributed.{name}") for name in ("comm.core", "security"))
    options = security.Security().get_connection_args("client")
    comm = await asyncio.wait_for(core.connect(address, timeout=_FIND, **options), _FIND)
    comm.abort()


def _check_workers(client: Any, place: str) -> None:
    """Raise InputError for no worker, and for one whose versions differ from those of this computer."""
    try:
        client.wait_for_workers(1, timeout=_WORKERS)
    except TimeoutError:
        raise InputError(_no_workers(place)) from None
    problems = []
    for worker, theirs in sorted(client.run(versions, on_error="return").items()):
        where = f"{place}: {worker}"
        if isinstance(theirs, dict):
            problem = other_versions(where, theirs)
        else:
            message = "cutjob can't be loaded there, or is another version"
            problem = Problem(place=where, message=message, advice="install the same version on every computer")
        problems += [] if problem is None else [problem]
    if problems:
        raise InputError(problems)


def _no_workers(place: str) -> Problem:
    return Problem(
        place=place, message="the cluster has no workers", advice=f"start some, and make the job again; or {_WITHOUT}"
    )


def _lost(error: BaseException, place: str) -> BaseException:
    """The error to raise for a task: its own, or that the cluster is lost."""
    name = type(error).__name__
    if name == "KilledWorker":
        message = "several workers ended while they did the same piece of work; most likely their memory was too small"
        advice = f"give the workers more memory; or {_WITHOUT}"
        return InputError(Problem(place=place, message=message, advice=advice))
    if "Cancelled" in name or isinstance(error, OSError):
        return InputError(_broken(place))
    return error


def _broken(place: str) -> Problem:
    return Problem(
        place=place,
        message="the connection to the cluster was lost; nothing is written",
        advice=f"start the cluster again, and make the job again; or {_WITHOUT}",
    )


def _look_after(client: Any, sender: Sender, place: str, ended: threading.Event) -> None:
    """Let all tasks end once the scheduler, or every worker, is gone for too long."""
    seen = staffed = time.monotonic()
    while not ended.wait(_LOOK):
        now = time.monotonic()
        with suppress(Exception):
            known = client.scheduler_info(n_workers=-1)["workers"] if client.status == "running" else None
            if known is not None:
                seen = now
                staffed = now if known else staffed
        if now - seen > _GONE:
            sender.fail(InputError(_broken(place)))
            return
        if now - staffed > _NONE_LEFT:
            sender.fail(InputError(_no_workers(place)))
            return

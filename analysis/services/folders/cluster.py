"""Photos of a folder measured on a Dask cluster, by its address."""

from __future__ import annotations

import asyncio
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from analysis.errors import InputError
from analysis.services.folders.hands import Hands
from analysis.services.folders.work import begin_task, versions

if TYPE_CHECKING:
    from collections.abc import Iterator

    from distributed import Client

SENDS = ("auto", "path", "content")
_PER_WORKER = 2
_CONNECT_S = 15.0


@contextmanager
def cluster(address: str, folder: Path, *, send: str = "auto") -> Iterator[Hands]:
    """Give the workers of a cluster as hands.

    Parameters
    ----------
    address : str
        Of its scheduler, such as ``tcp://host:8786``.
    folder : Path
        That is to be measured.
    send : str
        ``"path"`` where all workers see the folder under the same path, ``"content"``
        where they do not; ``"auto"`` asks them.

    Yields
    ------
    Hands

    Raises
    ------
    InputError
        Dask is not installed here, no cluster answers, it has no workers, or they run
        another version of what measures.
    """
    try:
        # Asked for only where a cluster is used: it is not needed otherwise.
        from distributed import Client  # noqa: PLC0415
    except ImportError:
        msg = (
            "Measuring on a cluster needs Dask, which is not installed here: install "
            "the optional requirements with pip install '.[cluster]'."
        )
        raise InputError(msg) from None
    try:
        # Before a client is there: one that was half begun is waited for at the end.
        asyncio.run(_answer(address))
        client = Client(address, timeout=_CONNECT_S, set_as_default=False)
    except Exception as error:  # noqa: BLE001  of address, network and certificates
        msg = (
            f"No cluster answers at {address} ({type(error).__name__}): start its "
            "scheduler, or correct the address, such as tcp://host:8786."
        )
        raise InputError(msg) from None
    with client:
        count = _workers(client, address)
        client.run(begin_task)  # a task of Dask is of one core
        by_path = send == "path" or (send == "auto" and _all_see(client, folder))
        yield Hands(
            # A pure call may be answered from an earlier one alike: a photo given again
            # is to be measured again.
            begin=lambda: client.get_executor(pure=False, retries=2),
            end=lambda executor: executor.shutdown(wait=False),
            count=_PER_WORKER * count,
            by_content=not by_path,
        )


async def _answer(address: str) -> None:
    """Shake hands with whoever listens at an address."""
    from distributed.comm.core import connect  # noqa: PLC0415  as above

    comm = await connect(address, timeout=_CONNECT_S)
    comm.abort()


def _workers(client: Client, address: str) -> int:
    """Return how many photos the workers can measure at a time."""
    threads = sum(client.nthreads().values())
    if not threads:
        msg = f"The cluster at {address} has no workers: start one."
        raise InputError(msg)
    wanted = versions()
    try:
        told = client.run(versions)
    except Exception as error:  # noqa: BLE001  whatever a worker without the program brings up
        msg = (
            f"The workers cannot load the program ({type(error).__name__}: {error}): "
            "install it where they run."
        )
        raise InputError(msg) from None
    for worker, its in told.items():
        if its != wanted:
            other = min(set(its.items()) ^ set(wanted.items()))[0]
            msg = (
                f"The worker {worker} has {other} {its.get(other)}, this machine "
                f"{wanted.get(other)}: readings would differ; install the same."
            )
            raise InputError(msg)
    return int(threads)


def _all_see(client: Client, folder: Path) -> bool:
    """Tell whether every worker sees the same files in the folder."""
    mine = seen_in(str(folder))
    return all(its == mine for its in client.run(seen_in, str(folder)).values())


def seen_in(folder: str) -> tuple[tuple[str, int], ...] | None:
    """Return names and sizes of what lies in a folder, None where it is not seen.

    Examples
    --------
    >>> seen_in("/no/such/folder") is None
    True
    """
    try:
        found = [(one.name, one.stat().st_size) for one in Path(folder).iterdir()]
    except OSError:
        return None
    return tuple(sorted(found))

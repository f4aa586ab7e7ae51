"""Throughput of a works: workers, a cluster, cost and memory over many photos, start.

    python tests/benchmarks/throughput.py [--photos 510] [--jobs 12] [--cluster]

Ratios within one run. Workers and cluster measure the same small photos in turns, round
about, once they are warm. On cores that others share the clock tells of the others: so
the time that each worker's busiest thread waited for a core (Linux tells it in
/proc/PID/task/TID/schedstat) is taken off, which leaves its work and its idleness, that
at the end of a round too. Cost and memory are those of `measure-folder` in one process,
the cost in processor time, which other work on the machine hardly moves: the last
hundred photos against the first hundred (after ten to warm up). The start is that of
the server until its first page is whole, against a page that says one line.
"""

from __future__ import annotations

import argparse
import asyncio
import os
import subprocess
import sys
import tempfile
import time
from contextlib import ExitStack, contextmanager
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from analysis.model.folder import AskedOfPhoto, FolderFile
from analysis.services.folders.cluster import cluster
from analysis.services.folders.hands import Job, _handed, processes
from analysis.services.folders.run import measure_folder
from analysis.services.log import digest
from tests.benchmarks.real_summary import met, table
from tests.support import live, yard
from tests.support.folder_photos import (
    folder_of,
    in_this_process,
    log_for,
    small_photo,
    wish,
)
from tests.support.phone import Phone, signed_in

ROOT = Path(__file__).resolve().parents[2]
LEAST_RATIO, MOST_OVERHEAD, FLAT, MOST_GROWTH_MB = 1.8, 0.10, 1.10, 60.0
HELLO = ROOT / "tests/ui/apps/hello.py"


def jobs_of(folder, count, side):
    """Return jobs of photos by path."""
    made = []
    for number in range(count):
        path = Path(folder) / f"{number}.png"
        data = small_photo(number, (side, side))
        path.write_bytes(data)
        file = FolderFile(path=path.name, byte_count=len(data), changed_ns=0)
        made.append(
            Job(
                file=file,
                where=str(path),
                name=path.name,
                sha256=digest(data),
                megapixels=side * side / 1e6,
                asked=AskedOfPhoto(piece="1", mm_per_px=0.2),
            )
        )
    return made


def seconds_for(executor, jobs, workers=()):
    """Return the clock's seconds, those without the wait for a core, the processor's.

    The last two are means over the workers, and their sum, given by process id.
    """
    before, began = threads_of(workers), time.perf_counter()
    for future in [_handed(executor, job) for job in jobs]:
        problem = future.result().problem
        if problem:
            raise RuntimeError(problem)
    took, after = time.perf_counter() - began, threads_of(workers)
    spent = {key: after[key] - before.get(key, 0.0) for key in after}
    own, cpu = [], 0.0
    for worker in workers:
        its = [each for (pid, _), each in spent.items() if pid == worker]
        own.append(took - max(its, key=lambda each: each[0])[1])
        cpu += sum(each[0] for each in its)
    return np.array([took, np.mean(own) if own else np.nan, cpu])


def threads_of(workers):
    """Return each thread's seconds on a core and in wait for one."""
    found = {}
    for pid in workers:
        for place in Path(f"/proc/{pid}/task").iterdir():
            told = (place / "schedstat").read_text(encoding="ascii").split()
            found[pid, place.name] = np.array(told[:2], dtype=float) / 1e9
    return found


@contextmanager
def cluster_of_two(folder):
    """Start a scheduler and two workers on this machine; give its address."""
    port = live._free_port()
    address = f"tcp://{live.HOST}:{port}"
    base = [sys.executable, "-m", "distributed.cli.dask_scheduler"]
    scheduler = [*base, "--host", live.HOST, "--port", str(port), "--no-dashboard"]
    scheduler += ["--no-show"]
    worker = [sys.executable, "-m", "distributed.cli.dask_worker", address]
    worker += ["--nthreads", "1", "--no-nanny", "--no-dashboard", "--host", live.HOST]
    worker += ["--local-directory", str(folder)]
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL, "cwd": ROOT}
    surroundings = os.environ | {"PYTHONPATH": str(ROOT), "OMP_NUM_THREADS": "1"}
    started = [
        subprocess.Popen(command, env=surroundings, **quiet)
        for command in (scheduler, worker, worker)
    ]
    try:
        yield address, [one.pid for one in started[1:]]
    finally:
        for one in started:
            one.kill()
            one.wait()


def _with_workers(address, folder):
    end = time.monotonic() + 90
    while True:
        try:
            with cluster(address, Path(folder)) as hands:
                if hands.count >= 4:
                    return
        except Exception:
            if time.monotonic() > end:
                raise
        time.sleep(1.0)


def worker_rows(count, side, *, with_cluster, rounds):
    """Photos per second with one process, two, and two workers of a cluster."""
    with tempfile.TemporaryDirectory() as folder, ExitStack() as stack:
        jobs = jobs_of(folder, count, side)
        hands = {"one": processes(1), "two": processes(2)}
        if with_cluster:
            address, dask_workers = stack.enter_context(cluster_of_two(folder))
            _with_workers(address, folder)
            dask = cluster(address, Path(folder), send="path")
            hands["cluster"] = stack.enter_context(dask)
        executors = {name: each.begin() for name, each in hands.items()}
        spent = {name: [] for name in hands}
        for name, executor in executors.items():
            _tell("warm", name, seconds_for(executor, jobs[:4]))
        workers = {
            name: dask_workers if name == "cluster" else list(executor._processes)
            for name, executor in executors.items()
        }
        for _ in range(rounds):
            for name, executor in executors.items():
                spent[name].append(seconds_for(executor, jobs, workers[name]))
                _tell(f"{count} photos", name, spent[name][-1])
        for name, executor in executors.items():
            hands[name].end(executor)
    seconds = {name: min(each[0] for each in its) for name, its in spent.items()}
    own, cpu = (
        {name: sum(each[at] for each in its) for name, its in spent.items()}
        for at in (1, 2)
    )
    ratio, settled = seconds["one"] / seconds["two"], own["one"] / own["two"]
    photos = rounds * count
    yield "photos per second, 1 process", f"{count / seconds['one']:.2f}", "", ""
    yield "photos per second, 2 processes", f"{count / seconds['two']:.2f}", "", ""
    wanted = f"at least {LEAST_RATIO}"
    yield "2 processes over 1, by the clock", f"{ratio:.2f}", "", ""
    yield (
        "2 processes over 1, without the wait for a core",
        f"{settled:.2f}",
        wanted,
        met(settled >= LEAST_RATIO),
    )
    for name, said in (("one", "1 process"), ("two", "2 processes")):
        told = f"{cpu[name] / photos:.2f}"
        yield f"processor seconds a photo, {said}", told, "", ""
    if with_cluster:
        yield (
            "processor seconds a photo, the cluster's workers",
            f"{cpu['cluster'] / photos:.2f}",
            "",
            "",
        )
        overhead = own["cluster"] / own["two"] - 1
        yield (
            "a cluster's time over that of 2 processes, by the clock",
            f"{seconds['cluster'] / seconds['two'] - 1:+.1%}",
            "",
            "",
        )
        yield (
            "the same, without the wait for a core",
            f"{overhead:+.1%}",
            f"at most {MOST_OVERHEAD:.0%}",
            met(overhead <= MOST_OVERHEAD),
        )


def flat_rows(count):
    """Cost and memory of one process over many photos."""
    cost, memory = [], []

    def tell(_progress, outcome):
        if outcome is not None:
            cost.append(time.process_time())
            memory.append(_memory_mb())

    with tempfile.TemporaryDirectory() as name:
        folder = folder_of(Path(name) / "photos", count)
        log = log_for(Path(name) / "log", 1)
        lines = [f"{n:03}/face.png,000" for n in range(count)]
        asked = wish("\n".join(["photo,piece", *lines]))
        measure_folder(log, str(folder), asked, hands=in_this_process(), tell=tell)
    each = np.diff(cost)
    first, last = each[10:110].mean(), each[-100:].mean()
    grown = memory[-1] - memory[109]
    return [
        ("photos in one run", str(len(cost)), "5,000", met(len(cost) >= 5000)),
        ("processor time a photo, the last hundred over the first",
         f"{1000 * last:.0f} / {1000 * first:.0f} ms = {last / first:.2f}",
         f"at most {FLAT:g}", met(last / first <= FLAT)),
        (f"memory at photo 110 and {len(memory)}, MB",
         f"{memory[109]:.0f}, {memory[-1]:.0f}", f"at most {MOST_GROWTH_MB:g} more",
         met(grown <= MOST_GROWTH_MB)),
    ]  # fmt: skip


def _memory_mb():
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


def start_rows():
    """The server from nothing to its first whole page, over a page of one line."""
    spent = {}
    with tempfile.TemporaryDirectory() as name:
        began = time.perf_counter()
        with live.served(HELLO, data=Path(name)) as address:
            asyncio.run(_opened(address.rstrip("/"), ""))
            spent["hello"] = time.perf_counter() - began
    for run in ("app", "again"):
        with tempfile.TemporaryDirectory() as name:
            began = time.perf_counter()
            with yard.served(Path(name), 1) as (address, _):
                cookies = signed_in(address, yard.PASSPHRASE)
                asyncio.run(_opened(address, cookies))
                spent[run] = time.perf_counter() - began
    app = min(spent["app"], spent["again"])
    return [
        ("a page of one line, from nothing, s", f"{spent['hello']:.1f}", "", ""),
        ("the app's first page, from nothing, s", f"{app:.1f}", "", ""),
        ("the app over the one line", f"{app / spent['hello']:.2f}", "", ""),
    ]


async def _opened(address, cookies):
    async with Phone(address, cookies):
        pass


def main():
    """Print a table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--photos", type=int, default=510)
    parser.add_argument("--jobs", type=int, default=12)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--pixels", type=int, default=500)
    parser.add_argument("--cluster", action="store_true", help="Dask's overhead too")
    asked = parser.parse_args()
    began, load = time.monotonic(), os.getloadavg()[0]
    side = asked.pixels
    _say(
        f"{asked.jobs} photos of {side} x {side} px for the workers, {asked.photos} of "
        f"120 x 90 px for cost and memory; {os.cpu_count()} cores, load {load:.1f} at "
        "the start.\n"
    )
    # As they come: each part stands by itself.
    for number, rows in enumerate(
        (
            lambda: worker_rows(
                asked.jobs, side, with_cluster=asked.cluster, rounds=asked.rounds
            ),
            start_rows,
            lambda: flat_rows(asked.photos),
        )
    ):
        lines = [*table(("what", "figure", "wanted", "met"), rows())]
        _say("\n".join(lines if not number else lines[2:]))
    seconds = time.monotonic() - began
    _say(f"\nLoad {os.getloadavg()[0]:.1f} at the end, {seconds:.0f} s.")


def _tell(what, name, seconds):
    """Tell each round as it ends: a run that is cut off leaves what it measured."""
    load = os.getloadavg()[0]
    told = " / ".join(f"{each:.2f}" for each in seconds)
    sys.stderr.write(
        f"{what}, {name}: clock / without waiting / processor {told} s, "
        f"load {load:.1f}\n"
    )


def _say(text):
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()


if __name__ == "__main__":
    main()

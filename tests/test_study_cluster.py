"""Studies on a Dask cluster of real processes: a worker that is killed costs time and nothing else."""

from __future__ import annotations

import json
import os
import re
import shutil
import signal
import subprocess
import sys
import time
import warnings
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import distributed
import numpy as np
import pytest

import topend as te
from topend.study import cluster as study_cluster
from topend.study import folder as study_folder
from topend.study.compiled import CHUNK, Compiled

# distributed leaves sockets and loops to the collector when workers die under it; what topend does is judged by its results
pytestmark = [
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
    pytest.mark.filterwarnings("ignore::DeprecationWarning:(distributed|tornado|dask).*"),
]
ROOT = Path(__file__).resolve().parent.parent
NAMES = ["squish_min", "squish_velocity_peak", "compression_ratio"]
FILE_ROWS = 20_000


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[distributed.Client]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        with (
            distributed.LocalCluster(
                n_workers=2,
                threads_per_worker=1,
                processes=True,
                dashboard_address=None,
                local_directory=str(tmp_path_factory.mktemp("workers")),
                silence_logs=50,
            ) as cluster,
            distributed.Client(cluster) as one,
        ):
            yield one


@pytest.fixture
def study(sample: Any) -> te.Study:
    top = sample(deck=te.DeckReading(clearance="1.65 mm ± 0.03 mm", base_thickness="0.50 mm"))
    axis = te.Study(top).vary("head.recess_offset", "-1.9:-0.5:0.05 mm").vary("running.crank_speed", "8000:12000:100 rpm")
    return axis.sample(400, seed=11)


def test_a_killed_worker_costs_time_only(client: distributed.Client, study: te.Study, tmp_path: Path) -> None:
    """Every row once: none lost, none twice, and each as it is without a cluster."""
    rows = len(study)
    assert rows == 29 * 41 * 400
    killed: list[int] = []
    before = set(client.run(os.getpid).values())
    assert os.getpid() not in before

    def kill(done: int, _: int) -> None:
        # one in the middle of the run, in the middle of a file of its own
        if done > rows // 4 and not killed:
            killed.append(min(before))
            os.kill(killed[0], signal.SIGKILL)

    folder = study.run(NAMES, client=client, to=tmp_path / "out", file_rows=FILE_ROWS, progress=kill)
    assert len(killed) == 1
    client.wait_for_workers(2, timeout=30)
    assert killed[0] not in client.run(os.getpid).values()
    assert (folder.rows, folder.kept, folder.files) == (rows, rows, -(-rows // FILE_ROWS))
    read = folder.dataset().to_table()
    assert read.num_rows == rows
    assert np.array_equal(np.sort(read["row"].to_numpy()), np.arange(rows))
    table = study.run(NAMES, threads=2)
    order = np.argsort(read["row"].to_numpy())
    for name, values in table.columns.items():
        assert np.array_equal(read[name].to_numpy()[order], values, equal_nan=True), name
    assert np.array_equal(read["status"].to_numpy()[order], table.status)
    assert folder.reasons == table.reasons()
    assert set(folder.reasons) == {"ok", "contact"}
    # nothing half-written is left, and the end is marked
    names = sorted(path.name for path in (tmp_path / "out").iterdir())
    assert names[:2] == ["_finished.json", "_study.json"]
    assert all(name.startswith("rows-") and name.endswith(".parquet") for name in names[2:])
    assert json.loads((tmp_path / "out" / "_finished.json").read_text())["reasons"] == folder.reasons
    again = study.run(NAMES, client=client, to=tmp_path / "out", file_rows=FILE_ROWS)
    assert (again.written, again.kept) == (0, rows)


def test_a_summary_from_the_workers_is_that_of_this_process(
    client: distributed.Client, study: te.Study, monkeypatch: pytest.MonkeyPatch
) -> None:
    """To the bit, though a task on a worker holds several chunks and there are several tasks."""
    monkeypatch.setattr("topend.study.studies.FILE_ROWS", 2 * CHUNK)
    assert len(study) > 3 * CHUNK
    limited = study.where(squish_min=("0.6 mm", None))
    here = limited.summarise(NAMES, best="squish_velocity_peak", n=5, largest=True)
    there = limited.summarise(NAMES, best="squish_velocity_peak", n=5, largest=True, client=client)
    assert there.outputs == here.outputs
    assert (there.rows, there.kept, there.reasons) == (here.rows, here.kept, here.reasons)
    assert there.best is not None
    assert here.best is not None
    assert all(np.array_equal(there.best.columns[name], values) for name, values in here.best.columns.items())


def test_few_tasks_are_under_way_however_many_there_are(
    client: distributed.Client, study: te.Study, monkeypatch: pytest.MonkeyPatch
) -> None:
    # 10^11 rows are 10^5 ranges; here 400 of no work, and the most that were given out and not taken back
    monkeypatch.setattr(study_cluster, "_part", _nothing)
    compiled = Compiled(study, NAMES)
    given: list[int] = []
    submit = client.submit

    def counted(*arguments: Any, **options: Any) -> Any:
        given.append(1)
        return submit(*arguments, **options)

    monkeypatch.setattr(client, "submit", counted)
    most = taken = 0
    for place, made in enumerate(study_cluster.over(client, compiled, _nothing, (), [(start, start + 1) for start in range(400)])):
        assert made == place
        taken += 1
        most = max(most, len(given) - 1 - taken)
    assert taken == 400
    assert most <= study_cluster.AHEAD * 2
    # nothing of it stays with the scheduler
    for _ in range(50):
        if not client.run_on_scheduler(_tasks):
            break
        time.sleep(0.1)
    assert client.run_on_scheduler(_tasks) == 0


def _nothing(work: Any, compiled: Any, arguments: Any, start: int, stop: int) -> int:
    del work, compiled, arguments, stop
    return start


def _tasks(dask_scheduler: Any) -> int:
    return len(dask_scheduler.tasks)


def test_what_goes_wrong_on_a_worker_is_told_here(client: distributed.Client, study: te.Study, tmp_path: Path) -> None:
    study_folder._claim(Compiled(study, NAMES), tmp_path / "out", FILE_ROWS)
    # a folder by the name of the first file: no rename can put a file there
    other = tmp_path / "out" / "rows-000000000000000-000000000020000.parquet"
    other.mkdir()
    (other / "x").touch()
    with pytest.raises(OSError, match=r"rows-0+-0+20000\.parquet"):
        study.run(NAMES, client=client, to=tmp_path / "out", file_rows=FILE_ROWS)
    assert not (tmp_path / "out" / "_finished.json").exists()
    # what is mended goes on
    (other / "x").unlink()
    other.rmdir()
    assert study.run(NAMES, client=client, to=tmp_path / "out", file_rows=FILE_ROWS).kept == len(study)


def test_workers_with_another_topend_are_refused(study: te.Study) -> None:
    compiled = Compiled(study, NAMES)
    with pytest.raises(te.StudyError, match=rf"a worker has topend {te.__version__}, this process has 99\.0; they must be the same"):
        study_cluster._received(compiled, "99.0")


def test_the_cluster_of_the_page_runs(tmp_path: Path) -> None:
    page = (ROOT / "docs" / "studies.md").read_text(encoding="utf-8")
    (block,) = re.findall(r"^```py\n(.*?)^```$", page, flags=re.MULTILINE | re.DOTALL)
    (tmp_path / "page.py").write_text(block, encoding="utf-8")
    shutil.copytree(ROOT / "docs", tmp_path / "docs")
    # a script, as a reader would run it: workers import it anew
    done = subprocess.run(
        [sys.executable, "page.py"],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )
    assert done.returncode == 0, done.stderr
    assert re.search(r"^60701 rows: 60701 in order, 60701 kept$", done.stdout, flags=re.MULTILINE)
    assert "StudyFolder(" in done.stdout
    assert (tmp_path / "study.parquet" / "_finished.json").exists()

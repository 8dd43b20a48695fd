"""Locks between processes: one holder at a time, free again when the holder ends."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from server.files.lock import WORKER_LOCK, sole_worker

HOLD = (
    "import sys, time\nfrom pathlib import Path\nfrom server.files.lock import sole_worker\n"
    "with sole_worker(Path(sys.argv[1])) as alone:\n"
    "    print(alone, flush=True)\n    time.sleep(3600.0)\n"
)


def test_one_at_a_time(tmp_path: Path) -> None:
    with sole_worker(tmp_path / "new") as first, sole_worker(tmp_path / "new") as second:
        assert (first, second) == (True, False)
    with sole_worker(tmp_path / "new") as again, sole_worker(tmp_path / "other") as elsewhere:
        assert (again, elsewhere) == (True, True)
    assert (tmp_path / "new" / WORKER_LOCK).is_file()


def test_a_killed_holder_lets_go(tmp_path: Path) -> None:
    words = [sys.executable, "-c", HOLD, str(tmp_path)]
    with subprocess.Popen(words, stdout=subprocess.PIPE, text=True) as holder:
        assert holder.stdout is not None
        assert holder.stdout.readline() == "True\n"
        with sole_worker(tmp_path) as alone:
            assert not alone
        holder.kill()
        holder.wait()
        with sole_worker(tmp_path) as alone:
            assert alone

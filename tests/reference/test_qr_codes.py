"""The page's QR codes, module by module, against segno's, version by version."""

from __future__ import annotations

import json
import os
import random
import shutil
import subprocess

import pytest
from places import ROOT
from segno import consts, encoder

HEAD = "PRESOLDER1."
DIGITS = (4, 17, 71, 91, 140, 200, 260, 331, 400, 481, 560, 640, 721, 800, 901, 1000, 1100, 1250, 1400, 1550,
          1640, 1750, 1900, 2050, 2200)  # fmt: skip
"""Of a code of each version from 1 to 25. Where the end mark fills its word, segno adds an empty one."""


def draw(said: list[dict[str, str]]) -> list[dict[str, object] | None]:
    """Return the page's codes."""
    if shutil.which("node") is None:
        if os.environ.get("CI") == "true":
            pytest.fail("node is missing; CI must install it")
        pytest.skip("node is missing")
    done = subprocess.run(
        ["node", "tests/web/draw_qr_codes.mjs"], cwd=ROOT, input="\n".join(map(json.dumps, said)).encode(),
        capture_output=True, check=False, timeout=120,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr.decode()[-2000:]
    return [json.loads(line) for line in done.stdout.decode().strip().split("\n")]


def test_every_module_of_25_versions_is_segnos() -> None:
    rng = random.Random(14)
    said = [{"head": HEAD, "digits": "".join(rng.choices("0123456789", k=count))} for count in DIGITS]
    codes = draw([*said, {"head": HEAD, "digits": "1" * 3000}])
    assert codes.pop() is None, "too long for a phone's camera"
    for version, (one, code) in enumerate(zip(said, codes, strict=True), 1):
        parts = [(one["head"], consts.MODE_ALPHANUMERIC), (one["digits"], consts.MODE_NUMERIC)]
        assert code is not None
        theirs = encoder.encode(parts, error="m", boost_error=False, micro=False, mask=code["mask"])
        assert code["version"] == theirs.version == version
        assert code["rows"] == [[bool(module) for module in row] for row in theirs.matrix], (
            f"version {version}"
        )

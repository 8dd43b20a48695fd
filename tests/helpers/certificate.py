"""A certificate for tests of TLS: for 127.0.0.1, it stands for itself."""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path

import pytest


def make_certificate(folder: Path) -> tuple[Path, Path]:
    """Return a new certificate and its key; without openssl the test skips, in CI it fails."""
    if shutil.which("openssl") is None:
        if os.environ.get("CI") == "true":
            pytest.fail("openssl is missing; CI must install it")
        pytest.skip("openssl makes the certificate")
    cert, key = folder / "cert.pem", folder / "key.pem"
    words = ["openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes"]
    words += ["-days", "1", "-subj", "/CN=localhost", "-addext", "subjectAltName=IP:127.0.0.1"]
    subprocess.run([*words, "-out", str(cert), "-keyout", str(key)], check=True, capture_output=True)
    return cert, key

"""A real nginx for tests: Debian's, on loopback, without root, with the site that the command prints."""

from __future__ import annotations

import os
import re
import shutil
import socket
import subprocess
import time
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from certificate import make_certificate
from click.testing import CliRunner

from server.cli import main

MAIN = """\
daemon off;
{user}
worker_processes 2;
pid {folder}/nginx.pid;
error_log {folder}/error.log info;
events {{ worker_connections 768; }}
http {{
    include /etc/nginx/mime.types;
    access_log {folder}/access.log;
    client_body_temp_path {folder}/body;
    proxy_temp_path {folder}/proxy;
    fastcgi_temp_path {folder}/fastcgi;
    uwsgi_temp_path {folder}/uwsgi;
    scgi_temp_path {folder}/scgi;
    include {folder}/site.conf;
}}
"""
"""As Debian's own: workers, connections and logs; in a folder of the test."""
READY_S = 20.0


def nginx_program() -> str:
    """Return nginx's path. Where it is missing the test skips; in CI it fails."""
    found = shutil.which("nginx", path=f"{os.environ['PATH']}:/usr/sbin")
    if found is None:
        needed = "nginx is missing"
        if os.environ.get("CI") == "true":
            pytest.fail(f"{needed}; CI must install it")
        pytest.skip(needed)
    return found


def free_port() -> int:
    """Return a port of loopback that is free now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@dataclass
class Nginx:
    """An nginx that runs, or did."""

    folder: Path
    public_url: str
    upstream_port: int
    ports: dict[str, int] = field(default_factory=dict)
    """Free ports in place of 80 and 443, which a test may not take."""
    process: subprocess.Popen[bytes] | None = None

    cert: Path = Path()

    def start(self) -> Nginx:
        """Write certificate and configuration, start, and wait until it listens."""
        program = nginx_program()
        self.cert, key = make_certificate(self.folder)
        asked = ["nginx", "--public-url", self.public_url, "--public-port", str(self.upstream_port)]
        asked += ["--cert", str(self.cert), "--cert-key", str(key), "--listen", "127.0.0.1"]
        site = CliRunner().invoke(main, asked, catch_exceptions=False)
        assert site.exit_code == 0, site.output
        (self.folder / "site.conf").write_text(self._moved(site.stdout))
        user = "user root;" if os.geteuid() == 0 else ""
        config = self.folder / "nginx.conf"
        config.write_text(MAIN.format(folder=self.folder, user=user))
        self.process = subprocess.Popen([program, "-p", str(self.folder), "-c", str(config), "-e", "stderr"])
        until = time.monotonic() + READY_S
        while True:
            try:
                socket.create_connection(("127.0.0.1", self.port), timeout=1).close()
                return self
            except OSError:
                assert self.process.poll() is None, (self.folder / "error.log").read_text()
                assert time.monotonic() < until, "nginx does not listen"
                time.sleep(0.05)

    @property
    def port(self) -> int:
        """Return where it speaks TLS."""
        return self.ports.get("443") or int(self.public_url.rpartition(":")[2])

    def _moved(self, site: str) -> str:
        """Return the site with other ports; nothing else of it is changed."""
        for usual, port in self.ports.items():
            site, times = re.subn(rf"(listen 127\.0\.0\.1:){usual}\b", rf"\g<1>{port}", site)
            assert times == 1, f"the site does not listen on port {usual}"
        return site

    def stop(self) -> None:
        """Stop it, and no other."""
        if self.process is not None:
            self.process.terminate()
            self.process.wait(20)

    def logged(self) -> str:
        """Return all that it has written into its logs."""
        return "".join(path.read_text(errors="replace") for path in self.folder.glob("*.log"))

"""`presolder demo` and `presolder serve` as a person starts them."""

from __future__ import annotations

import re
import shutil
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx2
import pytest
from certificate import make_certificate
from click.testing import CliRunner
from server_process import ROOT, Running, started

from server.cli import main
from server.settings import data_folder

DEMO = ROOT / "demo_audio"
READY_S = 5.0
"""The bar from the command to a usable page, here in processor time, which does not depend on
what else the machine does."""
MARK = {"X-Presolder": "1"}
CAP = {"path": ["parts", "tone_cap", "capacitance"], "value": "33 nF"}
PATIENCE_S = 60.0
"""A busy machine answers late; only one that hangs needs this long."""


@pytest.fixture
def serving(tmp_path: Path) -> Iterator[Any]:
    """Start servers, and stop them at the end."""
    servers: list[Running] = []

    def serve(*words: str, **environment: str) -> Running:
        servers.append(started(tmp_path, *words, **environment))
        return servers[-1]

    yield serve
    for server in servers:
        server.stop()
        print(server.printed())


def get(server: Running, path: str) -> Any:
    answer = httpx2.get(f"{server.url}/api/{path}", timeout=PATIENCE_S)
    assert answer.status_code == 200, answer.text
    return answer.json()


def only_wiring(server: Running) -> dict[str, Any]:
    """Return the one wiring of the one commission."""
    (commission,) = get(server, "commissions")
    (wiring,) = get(server, f"commissions/{commission['id']}")["wirings"]
    found: dict[str, Any] = wiring
    return found


def save(server: Running, wiring: dict[str, Any], base: str | None = None) -> Any:
    body = {"base": base or wiring["versions"][-1]["id"], "edits": [CAP]}
    url = f"{server.url}/api/wirings/{wiring['id']}/versions"
    return httpx2.post(url, json=body, headers=MARK, timeout=PATIENCE_S)


# --- The demo


def test_the_demo_is_ready_in_time_with_its_three_commissions(running_server: Running) -> None:
    found = get(running_server, "commissions")
    assert [one["title"] for one in found] == [
        "Baritone, 686 mm",
        "Twelve-string with toggles",
        "Tenor guitar with a blade",
    ]
    assert [len(one["wirings"]) for one in found] == [2, 1, 1]
    processor_s, all_s = running_server.processor_s, running_server.seconds_to_start
    print(f"start: {processor_s:.2f} s of processor, {all_s:.2f} s in all")
    assert running_server.processor_s < READY_S
    assert running_server.printed() == f"Presolder is at {running_server.url}/\n"


def test_the_address_is_on_one_line_and_on_this_machine_alone(running_server: Running) -> None:
    assert re.fullmatch(r"http://127\.0\.0\.1:\d+", running_server.url)
    assert (running_server.data / "presolder.sqlite").is_file()


def test_the_demo_comes_once_and_changes_to_it_stay(running_server: Running) -> None:
    commission = get(running_server, "commissions")[0]["id"]
    url = f"{running_server.url}/api/commissions/{commission}"
    httpx2.patch(url, json={"title": "Mine now"}, headers=MARK)
    before = running_server.url
    assert running_server.stop() == 0
    running_server.start()
    assert running_server.url == before
    assert sorted(one["title"] for one in get(running_server, "commissions")) == [
        "Mine now",
        "Tenor guitar with a blade",
        "Twelve-string with toggles",
    ]


@pytest.mark.parametrize("with_signal", [signal.SIGINT, signal.SIGTERM])
def test_it_stops_on_a_signal_without_a_traceback(running_server: Running, with_signal: int) -> None:
    running_server.stop(with_signal)
    assert "Traceback" not in running_server.printed()


def test_a_port_in_use_is_reported(running_server: Running, tmp_path: Path) -> None:
    words = ["demo", "--no-browser", "--data", str(tmp_path / "other"), "--port", str(running_server.port)]
    done = CliRunner().invoke(main, words)
    assert done.exit_code == 1
    assert "port that is free" in done.stderr
    assert "Traceback" not in done.output


def test_two_servers_may_share_a_data_folder(running_server: Running, tmp_path: Path) -> None:
    second = Running(running_server.data, tmp_path / "second.log").start()
    try:
        assert get(second, "commissions") == get(running_server, "commissions")
    finally:
        second.stop()


def test_requests_are_logged_when_asked_for_and_tokens_never_are(serving: Any) -> None:
    server = serving("demo", "--verbose")
    token = "Zk3vQx0123456789abcdefghijklmnop"
    for path in (f"/p/{token}", f"/api/p/{token}", f"/api/p/{token}/clips/x.flac", "/api/takes"):
        httpx2.get(server.url + path, timeout=PATIENCE_S)
    httpx2.post(f"{server.url}/api/p/{token}/signoff", headers=MARK, timeout=PATIENCE_S)
    assert "/api/takes" in server.printed()
    assert server.printed().count("/p/…") >= 4
    assert token not in server.printed()


def test_the_browser_is_opened_where_there_is_one(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Run the real program with a stand-in for the browser: a script that notes its arguments."""
    opened = tmp_path / "opened"
    script = tmp_path / "browser"
    script.write_text(f'#!/bin/sh\necho "$1" > {opened}\n')
    script.chmod(0o755)
    code = "from server.cli import main; main()"
    environment = {
        "PYTHONPATH": str(ROOT),
        "PATH": "/usr/bin:/bin",
        "BROWSER": f"{script} %s",
        "HOME": str(tmp_path),
    }
    words = [sys.executable, "-c", code, "demo", "--no-warm", "--data", str(tmp_path / "data")]
    process = subprocess.Popen(words, env=environment, stdout=subprocess.PIPE, text=True, cwd=tmp_path)
    try:
        assert process.stdout is not None
        address = process.stdout.readline().split()[-1]
        for _ in range(100):
            if opened.exists() and opened.read_text():
                break
            signal.sigtimedwait([], 0.05)
        assert opened.read_text().strip() == address
    finally:
        process.terminate()
        process.communicate(timeout=PATIENCE_S)


@pytest.mark.parametrize(
    ("environment", "there"),
    [
        ({}, False),
        ({"DISPLAY": ":0"}, True),
        ({"WAYLAND_DISPLAY": "wayland-0"}, True),
        ({"DISPLAY": ""}, False),
    ],
)
def test_a_browser_that_would_take_over_the_terminal_is_not_used(
    monkeypatch: pytest.MonkeyPatch, environment: dict[str, str], there: bool
) -> None:
    from server.commands import serving

    monkeypatch.setattr(serving.sys, "platform", "linux")
    for name in ("DISPLAY", "WAYLAND_DISPLAY", "BROWSER"):
        monkeypatch.delenv(name, raising=False)
    for name, value in environment.items():
        monkeypatch.setenv(name, value)
    assert serving._has_browser() is there


def test_the_data_folder_is_the_platforms_own(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """XDG Base Directory Specification, version 0.8: data lies in $XDG_DATA_HOME."""
    if sys.platform != "linux":
        pytest.skip("the specification is of free desktops")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert data_folder() == tmp_path / "presolder"


# --- Beyond loopback


def test_beyond_loopback_a_key_is_made_up_and_asked_for(serving: Any) -> None:
    server = serving("demo", "--host", "0.0.0.0")
    key = re.search(r"The bench's key is (\S{24})\n", server.printed())
    assert key
    assert "Warning: without TLS" in server.printed()
    with httpx2.Client(
        base_url=f"http://127.0.0.1:{server.port}", headers=MARK, timeout=PATIENCE_S
    ) as client:
        assert client.get("/api/commissions").status_code == 401
        assert client.post("/api/access", json={"key": key[1]}).json()["signed_in"]
        assert len(client.get("/api/commissions").json()) == 3


@pytest.mark.parametrize("by", ["option", "environment"])
def test_a_key_of_ones_own_is_not_printed(serving: Any, by: str) -> None:
    key = "one of my own choosing"
    words = ("demo", "--host", "0.0.0.0")
    server = serving(*words, "--key", key) if by == "option" else serving(*words, PRESOLDER_KEY=key)
    assert key not in server.printed()
    url = f"http://127.0.0.1:{server.port}/api/access"
    assert httpx2.post(url, json={"key": key}, headers=MARK, timeout=PATIENCE_S).status_code == 200


def test_with_a_certificate_it_speaks_tls(serving: Any, tmp_path: Path) -> None:
    cert, cert_key = make_certificate(tmp_path)
    server = serving("demo", "--host", "0.0.0.0", "--cert", str(cert), "--cert-key", str(cert_key))
    assert server.url.startswith("https://")
    assert "Warning" not in server.printed()
    import ssl

    context = ssl.create_default_context(cafile=str(cert))
    url = f"https://127.0.0.1:{server.port}/api/access"
    assert httpx2.get(url, verify=context, timeout=PATIENCE_S).json() == {
        "needs_key": True,
        "signed_in": False,
        "tls": True,
    }


def test_customers_have_a_listener_of_their_own(serving: Any) -> None:
    """The same host and port would be the bench's for a proxy that is set up wrongly."""
    server = serving("demo", "--public-url", "https://sounds.example.com", "--public-port", "0")
    found = re.search(r"Customers come to (\S+), which is to lead to (\S+)\n", server.printed())
    assert found
    assert found[1] == "https://sounds.example.com"
    seen = {"Host": "sounds.example.com"}
    for path, status in (("/p/x", 200), ("/api/p/x", 404), ("/", 404), ("/api/commissions", 404)):
        assert httpx2.get(found[2] + path, headers=seen, timeout=PATIENCE_S).status_code == status
        assert httpx2.get(found[2] + path, timeout=PATIENCE_S).status_code == 403
    upgrade = {**seen, "Connection": "Upgrade", "Upgrade": "websocket", "Sec-WebSocket-Version": "13",
               "Sec-WebSocket-Key": "dGhlIHNhbXBsZSBub25jZQ=="}  # fmt: skip
    assert httpx2.get(f"{found[2]}/api/live", headers=upgrade, timeout=PATIENCE_S).status_code == 404
    assert len(get(server, "commissions")) == 3
    assert server.stop() == 0
    assert "Traceback" not in server.printed()
    assert "upgrade" not in server.printed()


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("--public-url", "sounds.example.com"), "https://sounds.example.com"),
        (("--public-url", "https://a.example", "--public-host", "198.51.100.7"), "--cert and --cert-key"),
        (("--public-url", "http://a.example", "--public-host", "198.51.100.7"), "an address of this machine"),
        (("--key", "short"), "at least 12"),
        (("--cert", "README.md"), "both, or none"),
        (("--host", "198.51.100.7", "--key", "long enough a key"), "an address of this machine"),
    ],
)
def test_what_cannot_be_served_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...], message: str
) -> None:
    monkeypatch.chdir(ROOT)
    done = CliRunner().invoke(main, ["demo", "--no-browser", "--data", str(tmp_path / "data"), *words])
    assert done.exit_code == 1
    assert message in done.stderr


# --- One's own wirings


def test_a_file_is_served_and_saving_writes_it(serving: Any, tmp_path: Path) -> None:
    file = tmp_path / "mine.yaml"
    shutil.copy(DEMO / "baritone.yaml", file)
    server = serving("serve", str(file))
    wiring = only_wiring(server)
    assert wiring["file"] == str(file)
    answer = save(server, wiring).json()
    assert (answer["number"], answer["file"]) == (2, str(file))
    saved = file.read_text()
    assert "tone_cap: {kind: capacitor, capacitance: 33 nF}" in saved
    assert "# the coil nearer the neck" in saved
    assert get(server, f"versions/{answer['id']}")["text"] == saved


def test_a_folder_is_one_commission_and_its_takes_are_listed(serving: Any, tmp_path: Path) -> None:
    folder = tmp_path / "Job of the week"
    folder.mkdir()
    for name in ("baritone.yaml", "twelve.yaml", "e_slide.yaml", "e_slide.flac"):
        shutil.copy(DEMO / name, folder)
    (folder / "notes.txt").write_text("not a wiring")
    (folder / "broken.yaml").write_text("format: 1\nparts:\n  neck: {kind: coyl}\n")
    server = serving("serve", str(folder))
    (commission,) = get(server, "commissions")
    assert commission["title"] == "Job of the week"
    assert [one["name"].split(",")[0] for one in commission["wirings"]] == ["Baritone", "Twelve-string"]
    assert "file:e_slide" in [one["id"] for one in get(server, "takes")]
    left_out = [line for line in server.printed().splitlines() if line.startswith("left out: ")]
    assert left_out
    assert all("broken.yaml" in line for line in left_out)
    assert "coyl" in server.printed()
    assert "notes.txt" not in server.printed()


def test_without_files_the_bench_is_as_it_was_left(serving: Any) -> None:
    server = serving("serve")
    assert get(server, "commissions") == []
    httpx2.post(f"{server.url}/api/commissions", json={"title": "x"}, headers=MARK, timeout=PATIENCE_S)
    server.stop()
    assert len(get(server.start(), "commissions")) == 1


def test_the_port_given_is_the_port_used(serving: Any) -> None:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    assert serving("demo", "--port", str(port)).port == port

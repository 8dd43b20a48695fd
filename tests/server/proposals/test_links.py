"""Where a link opens: its addresses, who can open each, its QR code."""

from __future__ import annotations

import ipaddress
import re
import socket
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import zxingcpp
from proposal_case import Made, again, made
from public_case import URL
from server_client import KEY

from server.proposals.links import Site, code_of, sites_of
from server.settings import Public, Settings
from server.web import addresses

LAN, SECOND = "192.0.2.20", "192.0.2.21"


@pytest.fixture
def lan(monkeypatch: pytest.MonkeyPatch) -> None:
    """Have a machine with two addresses on networks."""
    monkeypatch.setattr("server.proposals.links.network_addresses", lambda: [LAN, SECOND])


def test_a_public_address_is_the_only_one(tmp_path: Path, lan: None) -> None:
    settings = Settings(tmp_path, "0.0.0.0", key=KEY, public=Public(URL))
    assert sites_of(settings, "127.0.0.1:8400", 8400) == [Site(URL, "anywhere")]
    tried = Settings(tmp_path, public=Public("https://localhost:8443"))
    assert sites_of(tried, "127.0.0.1:8400", 8400) == [Site("https://localhost:8443", "machine")]


def test_on_loopback_a_link_opens_here_alone(tmp_path: Path, lan: None) -> None:
    found = sites_of(Settings(tmp_path), "localhost:8400", 8400)
    assert found == [Site("http://localhost:8400", "machine")]


def test_a_bench_opened_on_this_machine_offers_the_addresses_of_the_network_first(
    tmp_path: Path, lan: None
) -> None:
    settings = Settings(tmp_path, "0.0.0.0", key=KEY)
    assert sites_of(settings, "127.0.0.1:8400", 8400) == [
        Site(f"http://{LAN}:8400", "network"),
        Site(f"http://{SECOND}:8400", "network"),
        Site("http://127.0.0.1:8400", "machine"),
    ]


def test_the_name_by_which_the_bench_was_opened_comes_first(tmp_path: Path, lan: None) -> None:
    cert = {"cert": Path("c.pem"), "cert_key": Path("k.pem")}
    settings = Settings(tmp_path, "0.0.0.0", key=KEY, **cert)  # type: ignore[arg-type]
    found = sites_of(settings, "workshop.example:8400", 8400)
    assert [one.url for one in found][:2] == ["https://workshop.example:8400", f"https://{LAN}:8400"]
    assert len(sites_of(settings, f"{LAN}:8400", 8400)) == 2  # no address twice


def test_one_address_to_listen_on_is_the_one_offered(tmp_path: Path, lan: None) -> None:
    settings = Settings(tmp_path, "2001:db8::7", key=KEY)
    found = sites_of(settings, "[::1]:8400", 8400)
    assert found[0] == Site("http://[2001:db8::7]:8400", "network")
    assert found[1].reach == "machine"


def test_the_answer_has_the_link_whole_and_tells_the_network_where_it_is_needed(
    tmp_path: Path, lan: None
) -> None:
    proposal = made(tmp_path)
    answer = renewed(proposal)
    (only,) = answer["links"]
    assert only["url"] == f"http://127.0.0.1{answer['link']}"
    assert answer["nearby"] == [LAN, SECOND]
    away = again(proposal, public=Public(URL))
    answer = away.post(f"/api/proposals/{proposal.id}/link", json={}).json()
    assert [one["url"] for one in answer["links"]] == [URL + answer["link"]]
    assert answer["nearby"] == []
    assert only["code"].startswith("<svg ")


def renewed(proposal: Made) -> Any:
    return proposal.client.post(f"/api/proposals/{proposal.id}/link", json={}).json()


def test_this_machines_addresses_are_its_own_and_for_others() -> None:
    for address in addresses.network_addresses():
        found = ipaddress.ip_address(address)
        assert not found.is_loopback
        with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as own:
            own.bind((address, 0))  # the system refuses an address of another machine


def test_without_a_network_there_is_none(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*given: object) -> None:
        raise OSError(101, "Network is unreachable")

    monkeypatch.setattr(addresses.socket.socket, "connect", refuse)
    assert addresses.network_addresses() == []
    assert addresses.outside_host("0.0.0.0") == socket.gethostname()


def test_the_code_is_read_by_another_program(tmp_path: Path) -> None:
    """A reader of bar codes reads the very link from the picture that the page shows."""
    link = f"{URL}/p/{'aZ09-_' * 5}xy"
    svg = code_of(link)
    size = int(re.findall(r'viewBox="0 0 (\d+) \d+"', svg)[0])
    picture = np.full((size, size), 255, np.uint8)
    x = y = 0.0
    for sign, first, second in re.findall(r"([MmHh])(-?[\d.]+)(?: ?(-?[\d.]+))?", dark_path(svg)):
        if sign in "Mm":
            x, y = (float(first), float(second)) if sign == "M" else (x + float(first), y + float(second))
        else:
            picture[int(y), int(x) : int(x + float(first))] = 0
            x += float(first)
    (found,) = zxingcpp.read_barcodes(np.kron(picture, np.ones((6, 6), np.uint8)))
    assert found.text == link
    assert found.format == zxingcpp.BarcodeFormat.QRCode


def dark_path(svg: str) -> str:
    """Return the path of the dark modules, rows of strokes one module high."""
    (path,) = re.findall(r'stroke="#000" d="([^"]+)"', svg)
    return str(path)

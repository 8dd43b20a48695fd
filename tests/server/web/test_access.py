"""Access: no key on loopback, a key beyond it; keys, cookies, rate limits."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from server_client import KEY, MARK, client_of

from dsp.errors import InputError
from server.app import create_app
from server.refusals import TooOften
from server.settings import Settings, is_loopback
from server.web import sessions
from server.web.access import COOKIE, LONG_KEY
from server.web.rates import MOST_REMEMBERED, Rates, network_of

AWAY = "192.0.2.7"
BENCH = ("/api/commissions", "/api/commissions/x", "/api/starters", "/api/versions/x", "/api/takes")


@pytest.fixture
def away(tmp_path: Path) -> TestClient:
    """Make a bench that listens beyond loopback."""
    return client_of(tmp_path / "data", host=AWAY, key=KEY)


def sign_in(client: TestClient, key: str = KEY) -> Any:
    return client.post("/api/access", json={"key": key})


def test_loopback_needs_no_key(tmp_path: Path) -> None:
    client = client_of(tmp_path)
    assert client.get("/api/access").json() == {"needs_key": False, "signed_in": True, "tls": False}
    assert client.get("/api/commissions").status_code == 200
    assert sign_in(client, "anything").json()["signed_in"]
    assert not client.cookies


@pytest.mark.parametrize("path", BENCH)
def test_beyond_loopback_the_bench_is_shut_without_the_key(away: TestClient, path: str) -> None:
    answer = away.get(path)
    assert answer.status_code == 401
    assert answer.json()["problems"][0]["where"] == "the bench"
    assert sign_in(away).status_code == 200
    assert away.get(path).status_code in (200, 404)


def test_every_route_of_the_bench_needs_the_key(away: TestClient) -> None:
    """This covers later routes too, except those meant for everybody."""
    schema = away.get("/api/openapi.json").json()
    tried = 0
    for path, methods in schema["paths"].items():
        if path.startswith(("/api/p/", "/api/access")):
            continue
        for method in methods:
            url = path.replace("{", "").replace("}", "")
            if path.startswith("/listings/pages/"):  # a page without cookies: its address holds a token
                assert away.request(method, url).status_code == 404
                continue
            assert away.request(method, url).status_code == 401, f"{method} {path}"
            tried += 1
    assert tried >= 14


def test_the_cookie_is_kept_from_scripts_and_other_sites(away: TestClient) -> None:
    set_cookie = sign_in(away).headers["set-cookie"].lower()
    assert "httponly" in set_cookie
    assert "samesite=strict" in set_cookie
    assert "secure" not in set_cookie
    assert KEY.replace(" ", "") not in set_cookie


def test_under_tls_the_cookie_stays_there(tmp_path: Path) -> None:
    settings = Settings(tmp_path, AWAY, key=KEY, cert=Path("c.pem"), cert_key=Path("k.pem"))
    client = TestClient(create_app(settings), base_url=f"https://{AWAY}", headers={"X-Presolder": "1"})
    assert "secure" in sign_in(client).headers["set-cookie"].lower()
    assert client.get("/api/access").json() == {"needs_key": True, "signed_in": True, "tls": True}


@pytest.mark.parametrize("key", ["", "wrong", KEY + " ", KEY[:-1], KEY.upper(), "é" * 12, "\x00"])
def test_a_wrong_key_opens_nothing(away: TestClient, key: str) -> None:
    answer = sign_in(away, key)
    assert answer.status_code == 401
    assert "set-cookie" not in answer.headers
    assert away.get("/api/commissions").status_code == 401


@pytest.mark.parametrize("cookie", ["", "x", KEY, "a" * 5000, "%00", '"'])
def test_a_made_up_cookie_opens_nothing(away: TestClient, cookie: str) -> None:
    headers = {"Cookie": f"{COOKIE}={cookie}"}
    assert away.get("/api/commissions", headers=headers).status_code == 401


def test_guessing_is_slowed_down_even_for_the_right_key(away: TestClient) -> None:
    assert [sign_in(away, f"guess {n}").status_code for n in range(6)] == [401] * 5 + [429]
    answer = sign_in(away)
    assert answer.status_code == 429
    assert answer.headers["retry-after"] == "60"
    assert answer.json()["problems"][0]["allowed"].startswith("wait")


@pytest.mark.parametrize(("key", "status"), [(KEY, 429), ("x" * LONG_KEY, 200)])
def test_many_addresses_with_wrong_keys_lock_nobody_out_of_a_long_key(
    tmp_path: Path, key: str, status: int
) -> None:
    """Twelve addresses can use up all tries at a short key; a long one needs no such limit."""
    assert len(KEY) < LONG_KEY
    app = create_app(Settings(tmp_path, AWAY, key=key))
    for n in range(12):
        guesser = TestClient(app, f"http://{AWAY}", headers=MARK, client=(f"198.51.100.{n}", 5))
        assert [sign_in(guesser, "wrong").status_code for _ in range(5)] == [401] * 5
    owner = TestClient(app, f"http://{AWAY}", headers=MARK, client=("192.0.2.1", 5))
    assert sign_in(owner, key).status_code == status


def test_others_cannot_shut_out_a_signed_in_user(away: TestClient) -> None:
    sign_in(away)
    stranger = TestClient(away.app, f"http://{AWAY}", headers=MARK)
    assert [sign_in(stranger, "wrong").status_code for _ in range(6)][-1] == 429
    assert sign_in(away).json()["signed_in"]
    assert away.get("/api/commissions").status_code == 200


def test_signing_in_does_not_count_as_a_guess(away: TestClient) -> None:
    assert [sign_in(away).status_code for _ in range(8)] == [200] * 8


def test_a_session_outlives_the_server_but_not_its_key(tmp_path: Path) -> None:
    first = client_of(tmp_path, host=AWAY, key=KEY)
    sign_in(first)
    again, other = client_of(tmp_path, host=AWAY, key=KEY), client_of(tmp_path, host=AWAY, key=KEY + "2")
    for client, status in ((again, 200), (other, 401)):
        client.cookies = first.cookies
        assert client.get("/api/commissions").status_code == status


def test_a_session_expires_after_its_days(away: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    sign_in(away)
    signed_in = datetime.datetime.now(datetime.UTC)
    for days, status in ((sessions.DAYS - 1, 200), (sessions.DAYS + 1, 401)):
        moment = (signed_in + datetime.timedelta(days=days)).strftime("%Y-%m-%dT%H:%M:%S.000Z")
        monkeypatch.setattr(sessions, "now", lambda moment=moment: moment)
        assert away.get("/api/commissions").status_code == status
        assert away.get("/api/access").json()["signed_in"] is (status == 200)


def test_signing_out_ends_the_session_for_every_copy_of_its_cookie(away: TestClient) -> None:
    sign_in(away)
    stolen = {"Cookie": f"{COOKIE}={away.cookies[COOKIE]}"}
    assert away.delete("/api/access").json()["signed_in"] is False
    assert not away.cookies
    assert away.get("/api/commissions", headers=stolen).status_code == 401


def test_neither_key_nor_cookie_is_in_the_database(away: TestClient) -> None:
    sign_in(away)
    folder = away.app.state.store.folder
    held = b"".join(path.read_bytes() for path in folder.iterdir() if path.is_file())
    assert b"sessions" in held
    assert KEY.encode() not in held
    assert away.cookies[COOKIE].encode() not in held


def test_a_key_given_on_loopback_is_needed_too(tmp_path: Path) -> None:
    client = client_of(tmp_path, key=KEY)
    assert client.get("/api/commissions").status_code == 401
    sign_in(client)
    assert client.get("/api/commissions").status_code == 200


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"host": AWAY}, "another address with a key"),
        ({"host": "0.0.0.0"}, "another address with a key"),
        ({"key": "short"}, "at least 12"),
        ({"cert": Path("c.pem")}, "both, or none"),
        ({"cert_key": Path("k.pem")}, "both, or none"),
    ],
)
def test_unsafe_settings_are_refused(tmp_path: Path, more: dict[str, Any], words: str) -> None:
    with pytest.raises(InputError, match=words):
        Settings(tmp_path, **more)


@pytest.mark.parametrize(
    ("host", "is_own"),
    [
        ("127.0.0.1", True),
        ("127.8.9.1", True),
        ("localhost", True),
        ("LOCALHOST", True),
        ("::1", True),
        ("[::1]", True),
        ("0.0.0.0", False),
        ("::", False),
        ("192.168.1.2", False),
        ("localhost.evil.example", False),
        ("127.0.0.1.evil.example", False),
        ("", False),
        ("2130706433", False),
    ],
)
def test_which_addresses_are_this_machines_own(host: str, is_own: bool) -> None:
    assert is_loopback(host) is is_own


# --- Counting


def test_rates_count_each_address_and_forget_with_time() -> None:
    moment = [0.0]
    rates = Rates(2, 60.0, lambda: moment[0])
    for _ in range(2):
        rates.take("192.0.2.1")
    with pytest.raises(TooOften):
        rates.take("192.0.2.1")
    rates.take("192.0.2.2")
    moment[0] = 60.0
    rates.take("192.0.2.1")


def test_rates_remember_a_bounded_number_of_addresses() -> None:
    rates = Rates(1, 60.0, lambda: 0.0)
    for n in range(MOST_REMEMBERED + 10):
        rates.take(f"sender {n}")
    assert len(rates._seen) == MOST_REMEMBERED
    with pytest.raises(TooOften):
        rates.take(f"sender {MOST_REMEMBERED + 9}")


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("2001:db8::1", "2001:db8::2:3:4:5", True),
        ("2001:db8::1", "2001:db8:0:1::1", False),
        ("::ffff:192.0.2.1", "192.0.2.1", True),
        ("192.0.2.1", "192.0.2.2", False),
        ("fe80::1%eth0", "fe80::2%eth1", True),
        ("unknown", "unknown", True),
    ],
)
def test_one_sender_is_one_network(one: str, other: str, same: bool) -> None:
    """One subscriber has a whole /64 (RFC 6177): each of its addresses would be a fresh try."""
    assert (network_of(one) == network_of(other)) is same

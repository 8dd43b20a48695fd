"""What a version changed of the one before: drawn, and the same in words."""

from __future__ import annotations

from pathlib import Path

from places import DEMO
from server_client import client_of

TWELVE = (DEMO / "twelve.yaml").read_text(encoding="utf-8")
WAS, IS = "bypass_resistor.b, output.tip]", "bypass_resistor.b, output.tip, drain.a]"


def test_wires_and_parts_that_came_and_went_are_told_and_marked(tmp_path: Path) -> None:
    """Signs, thickness and dashes mark a change, never colour alone."""
    assert WAS in TWELVE
    capacitor = "kind: capacitor, capacitance: "
    value = TWELVE.partition(capacitor)[2].partition("}")[0].partition(",")[0]
    after = TWELVE.replace(WAS, IS).replace(capacitor + value, capacitor + "68 nF", 1)
    after = after.replace("parts:\n", "parts:\n  drain: {kind: resistor, resistance: 1 MΩ}\n", 1)
    with client_of(tmp_path / "data") as client:
        made = client.post("/api/commissions", json={"title": "Two", "wiring_text": TWELVE}).json()
        (wiring,) = client.get(f"/api/commissions/{made['id']}").json()["wirings"]
        first = wiring["versions"][0]["id"]
        body = {"base": first, "text": after}
        second = client.post(f"/api/wirings/{wiring['id']}/versions", json=body).json()["id"]
        body = {"base": second, "text": TWELVE}
        third = client.post(f"/api/wirings/{wiring['id']}/versions", json=body).json()["id"]
        came = client.get(f"/api/versions/{second}/difference").json()
        went = client.get(f"/api/versions/{third}/difference").json()
        assert client.get(f"/api/versions/{first}/difference").status_code == 404
    assert came["added"] == went["removed"] == ["drain"]
    assert came["removed"] == came["unsolder"] == went["solder"] == []
    assert [wire for wire in came["solder"] if "drain a" in wire] == came["solder"] != []
    assert [wire for wire in went["unsolder"] if "drain a" in wire] == went["unsolder"] != []
    ((was, now),) = came["changed"].values()
    assert value in was
    assert "68 nF" in now
    assert 'class="part-change came"' in came["svg"]
    assert ">+ new<" in came["svg"]
    assert " came" in came["svg"].partition('class="wires"')[2]
    assert 'class="part-change went"' in went["svg"]
    assert ">\N{MINUS SIGN}<" in went["svg"]
    assert "stroke-dasharray: 3 5" in went["svg"]

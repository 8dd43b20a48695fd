"""The workshop's record: instruments by serial number, their earlier states, the table and the report."""

from __future__ import annotations

import contextlib
import csv
import io
import json
import sqlite3
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from fastapi.testclient import TestClient
from finished_guitar import Guitar
from server_client import client_of

from server.built.table import record_csv
from server.cli import main
from server.database.store import FILE, Store
from server.documents.built_report import LONGEST_NOTES, MOST_LINES, MOST_ROWS, report_pdf, report_record
from server.measurements.rig import CAUTIONS

PLACE = "/api/built/instruments"
DAY = "2026-03-12"
TABLE = b"freq,|z|,phase\n100,6200,10\n1000,6200,10\n9000,6200,10\n"


def keep(guitar: Guitar, serial: str, meter: dict[str, str] | None = None, **more: Any) -> Any:
    """Type a guitar's readings, and ask to keep it."""
    expected = guitar.plan["settings"][0]["points"][0]["expected"]
    fields = {
        "version": guitar.version, "serial": serial, "day": DAY, "meter": meter or {"1": expected}, **more
    }  # fmt: skip
    assert guitar.put(fields).status_code == 200
    return guitar.client.post(PLACE, params={"wiring": guitar.wiring})


def listed(client: TestClient, **params: Any) -> list[str]:
    return [one["serial"] for one in client.get(PLACE, params=params).json()]


def one_line(answer: Any) -> str:
    (found,) = answer.json()["problems"]
    return f"{found['where']}: {found['got']}; {found['allowed']}; {found['hint']}"


def test_an_instrument_is_kept_with_version_readings_and_verdict(guitar: Guitar) -> None:
    answer = keep(guitar, " 26-014 ", {"1": "9 kΩ", "1 volume=0": "0"}, notes="Nut slot 3 recut.")
    assert answer.status_code == 201
    one = answer.json()
    assert (one["serial"], one["day"], one["number"], one["version_number"]) == ("26-014", DAY, 1, 1)
    assert one["verdict"]["text"] == "one reading outside, 2 of 5 read, by the meter alone"
    assert [(each["setting"], each["side"]) for each in one["readings"]] == [
        ("1", "too high"),
        ("1 volume=0", "within"),
    ]
    assert one["commission_id"] == guitar.commission
    assert one["notes"] == "Nut slot 3 recut."
    assert guitar.state()["fields"]["meter"] == {}, "the next guitar can come"
    assert guitar.state()["fields"]["serial"] == ""


@pytest.mark.parametrize("twin", ["26-015", "26-015 ", "２６－０１５", "26 -015"])
def test_a_serial_number_is_given_once(guitar: Guitar, twin: str) -> None:
    if "26-015" not in listed(guitar.client):
        assert keep(guitar, "26-015").status_code == 201
    answer = keep(guitar, twin)
    assert answer.status_code == 409
    assert "which an instrument has already (26-015, " in one_line(answer)
    assert guitar.state()["fields"]["serial"] == twin, "nothing that was typed is lost"


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"serial": "  "}, "serial number: nothing"),
        ({"day": "12.3.2026"}, "date: 12.3.2026"),
        ({"day": "2999-01-01"}, "no later than today"),
        ({"meter": {"1": ""}}, "one reading at least"),
        ({"meter": {"1": "8 kV"}}, "values that can be read"),
        ({"version": ""}, "version: none"),
    ],
)
def test_what_makes_no_entry_is_named(guitar: Guitar, fields: dict[str, Any], words: str) -> None:
    answer = keep(guitar, **{"serial": "26-900", **fields})
    assert answer.status_code == 422
    assert words in one_line(answer)
    assert "26-900" not in listed(guitar.client)


def test_recordings_that_say_nothing_yet_are_not_lost_by_keeping(guitar: Guitar) -> None:
    guitar.bring("guitar", b"guitar", setting="1")
    answer = keep(guitar, "26-901")
    assert answer.status_code == 422
    assert "throw them away" in one_line(answer)
    guitar.drop("all")


def test_reading_again_keeps_what_stood_before(guitar: Guitar) -> None:
    guitar.bring("guitar", TABLE, name="jack.csv", setting="1 tone=5")
    first = keep(guitar, "26-016", {"1": "9 kΩ"}).json()
    again = guitar.client.post(f"{PLACE}/{first['id']}/open").json()
    assert again == {"commission": guitar.commission, "wiring": guitar.wiring}
    state = guitar.state()
    assert state["fields"]["meter"] == {"1": "9 kΩ"}
    assert state["recordings"]["1 tone=5"]["name"] == "jack.csv"
    assert len(state["judged"]["readings"]) == 5
    assert state["fields"]["day"] == "", "it is read again on another day"
    guitar.put({**state["fields"], "serial": "26-016b", "day": DAY, "meter": {"1": "7.1 kΩ"}})
    second = guitar.client.post(PLACE, params={"wiring": guitar.wiring}).json()
    assert (second["id"], second["number"], second["serial"]) == (first["id"], 2, "26-016b")
    assert second["readings"][0]["side"] == "within"
    (before,) = second["history"]
    assert before["readings"] == first["readings"]
    assert before["serial"] == "26-016"
    assert keep(guitar, "26-016").status_code == 201, "the number that it no longer has is free"
    guitar.put({**state["fields"], "serial": "26-016c"})
    late = guitar.client.post(PLACE, params={"wiring": guitar.wiring})
    assert late.status_code == 409
    assert "entry 2, which is newer" in one_line(late)
    guitar.drop("all")


def test_kept_impedance_can_be_thrown_away_while_it_is_read_again(guitar: Guitar) -> None:
    guitar.bring("guitar", TABLE, name="jack.csv", setting="1")
    one = keep(guitar, "26-017").json()
    guitar.client.post(f"{PLACE}/{one['id']}/open")
    assert list(guitar.state()["recordings"]) == ["1"]
    assert guitar.drop("guitar", "1")["recordings"] == {}
    guitar.drop("all")


def test_the_record_is_searched_and_archived_with_a_way_back(guitar: Guitar) -> None:
    client = guitar.client
    one = keep(guitar, "Z-7 Prototype").json()
    assert listed(client, search="proto z-7") == ["Z-7 Prototype"]
    assert listed(client, search="built", wiring=guitar.wiring)
    assert listed(client, search="nothing like it") == []
    client.put(f"{PLACE}/{one['id']}/archived", json={"archived": True})
    assert listed(client, search="proto") == []
    assert listed(client, search="proto", archived=True) == ["Z-7 Prototype"]
    answer = keep(guitar, "z-7prototype")
    assert answer.status_code == 409
    assert "archived" in one_line(answer)
    client.put(f"{PLACE}/{one['id']}/archived", json={"archived": False})
    assert listed(client, search="proto") == ["Z-7 Prototype"]
    assert client.get(f"{PLACE}/none").status_code == 404


def test_entries_never_change_and_survive_a_restart(tmp_path_factory: pytest.TempPathFactory) -> None:
    folder = tmp_path_factory.mktemp("again")
    with client_of(folder) as client:
        keep(Guitar(client), "26-1")
    with client_of(folder) as client:
        assert listed(client) == ["26-1"]
        store: Store = client.app.state.store  # type: ignore[attr-defined]
        for deed in (
            "UPDATE built_entries SET notes = 'x'",
            "DELETE FROM built_entries",
            "DELETE FROM built",
        ):
            with pytest.raises(sqlite3.IntegrityError, match="built instrument"), store.write() as db:
                db.execute(deed)


def instrument(**more: Any) -> dict[str, Any]:
    reading = {
        "setting": "1 tone=5", "what": "meter", "value": "8,1k", "source": "", "expected": "8.2 kΩ",
        "band": "7.6 kΩ to 8.8 kΩ", "side": "within", "read": "8.1 kΩ", "ohm": 8100.5, "words": "",
    }  # fmt: skip
    verdict = {"text": "within what the parts allow", "outside": 0}
    plain = {"serial": "26-014", "day": DAY, "title": "Built", "client": "", "wiring": "One coil"}
    whole = {**plain, "version_number": 2, "signed": "", "notes": "", "archived": None, "verdict": verdict}
    return {**whole, "readings": [reading], **more}


@pytest.mark.parametrize(
    ("text", "cell"),
    [*((one, f"'{one}") for one in ("=1+1", "+1", "-1", "@x")), ("\t=1", "'\t'=1"), ("\r=1", "'\r'=1")],
)
def test_no_cell_of_the_table_is_a_formula(text: str, cell: str) -> None:
    rows = list(
        csv.reader(io.StringIO(record_csv([instrument(notes=text, serial=text)], decimal_comma=False)))
    )
    assert rows[1][0] == cell
    assert not any(cell.startswith(("=", "+", "-", "@", "\t", "\r")) for row in rows for cell in row)


@pytest.mark.parametrize("comma", [False, True])
@pytest.mark.parametrize(
    "text", ["a;=1+1;", "a,=1+1,", 'a";"=1+1', "a\n=1+1;", "a\r=1+1,", "a; +1", ";=;=1;"]
)
def test_no_cell_is_a_formula_where_the_other_separator_parts_them(text: str, *, comma: bool) -> None:
    made = record_csv([instrument(notes=text, serial=text)], decimal_comma=comma)
    for mark in ",;\t":
        rows = [*csv.reader(io.StringIO(made, newline=""), delimiter=mark)]
        # a spreadsheet may parse ends of lines within quotes either way
        rows += [line.split(mark) for line in made.splitlines()]
        cells = [cell.strip(' "') for row in rows for cell in row]
        assert not [cell for cell in cells if cell.startswith(("=", "+", "-", "@"))]


@pytest.mark.parametrize(("comma", "number", "mark"), [(False, "8100.5", ","), (True, "8100,5", ";")])
def test_the_tables_decimal_separator_is_said_and_kept(*, comma: bool, number: str, mark: str) -> None:
    text = record_csv([instrument()], decimal_comma=comma)
    assert text.startswith("\ufeff")
    head, row = csv.reader(io.StringIO(text.removeprefix("\ufeff")), delimiter=mark)
    found = dict(zip(head, row, strict=True))
    assert found[f"ohm, decimal {'comma' if comma else 'point'}"] == number
    assert found["expected"] == ("8,2 kΩ" if comma else "8.2 kΩ")
    assert found["as typed"] == "8,1k"


def test_the_table_is_served_with_archived_instruments(guitar: Guitar) -> None:
    answer = guitar.client.get("/api/built/record.csv", params={"decimal": "comma"})
    assert answer.headers["content-disposition"].startswith("attachment")
    assert "26-014" in answer.text
    assert answer.headers["content-type"].startswith("text/csv")


def test_the_report_says_what_its_reader_needs() -> None:
    said = report_record(
        instrument(signed="2026-03-01", notes="x" * 900),
        {"name": "The shop", "contact": "by the river"},
        CAUTIONS,
    )
    assert said["workshop"]["name"] == "The shop"
    texts = [one["text"] for one in said["facts"]]
    assert texts == ["26-014", DAY, "One coil, version 2, signed for on 2026-03-01", "Built"]
    assert said["tables"] == [[("1 tone=5, meter", "7.6 kΩ to 8.8 kΩ", "8.1 kΩ", "within")]]
    assert said["cautions"] == list(CAUTIONS)
    assert len(said["notes"]) == LONGEST_NOTES + 1


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("count", [1, 260])
def test_the_report_has_one_page(paper: str, count: int) -> None:
    (reading,) = instrument()["readings"]
    outside = {**reading, "side": "too high", "setting": "last"}
    many = instrument(readings=[reading] * count + [outside], notes="long " * 200)
    pdf = report_pdf(many, {"name": "The shop", "contact": "by the river"}, CAUTIONS, paper)
    assert pdf.startswith(b"%PDF")
    assert pdf.count(b"/MediaBox") == 1
    said = report_record(many, {"name": "", "contact": ""}, CAUTIONS)
    rows = [row for table in said["tables"] for row in table]
    assert ("last, meter", *rows[0][1:3], "too high") in rows
    assert said["more"] == (
        f"{count + 1 - MOST_ROWS} more readings are in the workshop's record." if count > 1 else ""
    )


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_report_has_one_page_whatever_was_typed(paper: str) -> None:
    (reading,) = instrument()["readings"]
    setting = "2 " + " ".join(f"bridge_volume_of_the_player_{k}=5" for k in range(4))
    readings = [{**reading, "setting": setting} for _ in range(60)]
    names = dict.fromkeys(("wiring", "title", "client"), "W" * 200)
    long = instrument(readings=readings, notes="a\n" * 500, serial="W" * 60, **names)
    said = report_record(long, {}, CAUTIONS)
    assert said["notes"] == "a\n" * (MOST_LINES - 1) + "a…"
    pdf = report_pdf(long, {"name": "W" * 100, "contact": "W" * 200}, CAUTIONS, paper)
    assert pdf.count(b"/MediaBox") == 1


def test_the_date_of_the_signature_is_kept_with_the_guitar(tmp_path: Path) -> None:
    with client_of(tmp_path) as client:
        guitar = Guitar(client)
        values = {"proposal_id": "p", "number": 1, "version_id": guitar.version, "date": "2026-02-01"}
        texts = dict.fromkeys(("version_sha256", "name", "signed", "previous", "record", "sha256"), "")
        row = values | texts
        with contextlib.closing(sqlite3.connect(tmp_path / FILE)) as db:  # no proposal: foreign keys are off
            places = ", ".join("?" * len(row))
            db.execute(f"INSERT INTO signoffs ({', '.join(row)}) VALUES ({places})", [*row.values()])
            db.commit()
        one = keep(guitar, "26-1").json()
        assert guitar.state()["signed"] == {guitar.version: "2026-02-01"}
        assert (one["signed"], one["version_id"]) == ("2026-02-01", guitar.version)


def test_the_command_lists_and_writes_the_record(tmp_path: Path) -> None:
    data, out = tmp_path / "data", tmp_path / "built.csv"

    def call(*words: str) -> str:
        done = CliRunner().invoke(main, ["built", *words, "--data", str(data)])
        assert done.exit_code == 0, done.output
        return done.output

    with client_of(data) as client:
        keep(Guitar(client), "26-014")
        keep(Guitar(client), "26-015")
    assert "No guitar has these words" in call("27")
    (line,) = call("26-015").splitlines()
    assert line.startswith("26-015 ")
    assert "not signed for: within what the parts allow" in line
    assert [one["serial"] for one in json.loads(call("--json"))["instruments"]] == ["26-015", "26-014"]
    call("--csv", str(out), "--decimal", "comma")
    assert out.read_text(encoding="utf-8-sig").splitlines()[1].startswith("26-015;")

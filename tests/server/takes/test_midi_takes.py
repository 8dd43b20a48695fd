"""MIDI files as takes: loaded, played on an instrument, told where they cannot be."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result
from midi_bytes import FORMAT_1, chord, melody, midi, off, on, track
from places import DEMO

from dsp.errors import InputError
from dsp.takes.model import COIL_PLACES_PLAYED
from dsp.takes.played_midi import PlayedMidi
from server.cli import main
from server.clips.keys import take_key
from server.takes.load import demo_listener, load_take

TAKE = "format: 1\nname: Riff\nkind: midi\nmidi: riff.mid\n"
TOO_LOW = midi(track(*chord([35, 42, 47]), *chord([33]), *chord([47, 54, 59])))


@pytest.fixture
def riff(tmp_path: Path) -> Path:
    path = tmp_path / "riff.mid"
    path.write_bytes(TOO_LOW)
    return path


def take_of(folder: Path, more: str = "", data: bytes = TOO_LOW) -> Path:
    (folder / "riff.mid").write_bytes(data)
    path = folder / "take.yaml"
    path.write_text(TAKE + more, encoding="utf-8")
    return path


def run(*words: object) -> Result:
    return CliRunner().invoke(main, [str(word) for word in words], catch_exceptions=False)


def test_a_midi_file_stands_in_place_of_a_take_file(tmp_path: Path) -> None:
    path = tmp_path / "bar.mid"
    path.write_bytes(FORMAT_1)
    performance = load_take(path)
    assert (performance.take.kind, performance.seconds) == ("midi", 4.0)
    assert performance.coil_places(demo_listener()) == COIL_PLACES_PLAYED


def test_its_pitches_are_heard(tmp_path: Path) -> None:
    """The strongest line of each note's spectrum lies on a partial of the key's equal-tempered pitch."""
    keys = (47, 54, 59, 52)
    data = midi(melody(keys, ticks=960))
    exact = "timing: 0 ms\ntuning: 0\nnoises: off\ncurvature: off\n"
    performance = load_take(take_of(tmp_path, exact, data))
    rate = 8000
    heard = np.concatenate(list(performance.stems(demo_listener(), rate)), axis=1)[0]
    for place, key in enumerate(keys):
        part = heard[round((place + 0.1) * rate) : round((place + 0.9) * rate)]
        spectrum = np.abs(np.fft.rfft(part * np.hanning(len(part)), 1 << 16))
        strongest_hz = float(np.argmax(spectrum)) * rate / (1 << 16)
        ratio = strongest_hz / (440.0 * 2.0 ** ((key - 69) / 12.0))
        assert abs(1200.0 * np.log2(ratio / round(ratio))) < 12.0


def test_what_the_instrument_cannot_play_stops_it(riff: Path) -> None:
    performance = load_take(riff)
    with pytest.raises(InputError, match=r"riff: bar 1, beat 2 \(0\.5 s\): got A1; allowed: B1 and above"):
        list(performance.stems(demo_listener(), 8000))


def test_the_rest_is_played_where_the_take_allows_it(tmp_path: Path) -> None:
    performance = load_take(take_of(tmp_path, "unplayable: leave out\n"))
    assert isinstance(performance, PlayedMidi)
    stems = np.concatenate(list(performance.stems(demo_listener(), 8000)), axis=1)
    assert stems.shape == (4, round(8000 * performance.seconds))
    (note,) = performance.notes(demo_listener())
    assert note.startswith("left out: Riff: bar 1, beat 2 (0.5 s): A1")
    assert len(performance.arrangement(demo_listener()).score.events) == 6


def test_the_commands_say_it(riff: Path, tmp_path: Path) -> None:
    assert run("takes", riff).exit_code == 0
    refused = run("takes", riff, "--on", DEMO / "baritone.yaml")
    assert refused.exit_code == 1
    assert "bar 1, beat 2 (0.5 s): got A1" in refused.output
    rendered = run("render", DEMO / "baritone.yaml", "--take", riff, "-p", 1, "--out", tmp_path / "clips")
    assert rendered.exit_code == 1
    assert "got A1" in rendered.output
    take = take_of(tmp_path, "unplayable: leave out\n")
    said = run("takes", take, "--on", DEMO / "baritone.yaml", "--json")
    assert json.loads(said.stdout)["takes"][0]["notes"][0].startswith("left out: Riff: bar 1, beat 2")


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ("strings: feet\n", "strings: got 'feet'; allowed: hand or channels or tracks"),
        ("order: [1, 2]\n", "order: got a list of 2; allowed: only with strings: channels or tracks"),
        ("channels: [17]\n", "got '17'; allowed: whole numbers from 1 to 16"),
        ("tracks: []\n", "got 0; allowed: a list of 1 to 999 numbers"),
        ("channels: [1, 1]\n", "a number twice"),
        ("transpose: 1.5\n", "whole semitones"),
        ("tempo: 120\n", "'tempo'"),
        ("defaults: {force: 1}\n", "'force'; allowed: pluck_at, mute, hand"),
        ("channels: [9]\n", "7 notes, none of them played; allowed: a note"),
        ("unplayable: skip\n", "refuse or leave out"),
    ],
)
def test_mistakes_in_its_take_file_are_said(tmp_path: Path, more: str, says: str) -> None:
    with pytest.raises(InputError) as caught:
        load_take(take_of(tmp_path, more))
    assert says in str(caught.value)


def test_files_without_notes_with_too_many_or_too_long_are_refused(tmp_path: Path) -> None:
    for data, says in (
        (midi(track()), "no note"),
        (
            midi(melody([60] * 5001)),
            "5001 notes; allowed: up to 5000: choose with tracks or channels: track 1",
        ),
        (midi(track((0, on(60)), (480 * 4000, off(60)))), "2002 s"),
    ):
        with pytest.raises(InputError) as caught:
            load_take(take_of(tmp_path, "", data))
        assert says in str(caught.value)
    (tmp_path / "riff.mid").unlink()
    with pytest.raises(InputError, match=r"take.yaml:4: midi: got no such file"):
        load_take(tmp_path / "take.yaml")


def test_a_listings_clips_are_made_again_when_the_file_or_its_fields_change(tmp_path: Path) -> None:
    first = take_key(load_take(take_of(tmp_path)))
    assert take_key(load_take(take_of(tmp_path))) == first
    assert take_key(load_take(take_of(tmp_path, "reach: 120 mm\n"))) != first
    assert take_key(load_take(take_of(tmp_path, "", midi(melody([47]))))) != first

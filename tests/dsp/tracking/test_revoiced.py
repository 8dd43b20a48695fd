"""Recordings filtered into every coil, with samples and results in memory: no file is opened."""

from __future__ import annotations

import pickle
from dataclasses import replace

import numpy as np
import pytest
from memory_recording import HeldRecording, HeldResults
from plucked_line import LINE, Pluck, heard, third_octaves_db
from small_wirings import wiring_of
from tolerances import STRINGS_DB

from dsp.errors import InputError
from dsp.parts.instrument import GuitarString, Instrument
from dsp.takes.model import COIL_PLACES_LEFT_OUT, COIL_PLACES_ONE_LINE, COIL_PLACES_TRACKED, Take
from dsp.tracking import revoiced
from dsp.tracking.remarks import places_left_out
from dsp.tracking.revoiced import TrackedTake
from dsp.tracking.sensor import TYPICAL_PARTIALS
from dsp.tracking.source import SourceWiring
from dsp.tracking.together import SEVERAL, Passage
from dsp.wiring.model import Wiring

RATE_HZ = 48_000
BARITONE = Instrument(
    0.686,
    tuple(
        GuitarString(hz, inch * 0.0254, wound)
        for hz, inch, wound in (
            (61.735, 0.062, True),
            (82.407, 0.045, True),
            (110.0, 0.034, True),
            (146.832, 0.024, True),
            (184.997, 0.018, False),
            (246.942, 0.014, False),
        )
    ),
)
"""Tuned so that each note of `plucked_line.LINE` lies lowest on its intended string."""
AT_M = {"neck": 0.158, "bridge": 0.04}
PARTS = """
neck: {COIL, at: 158 mm, sensitivity: 0.05}
bridge: {COIL, at: 40 mm, winding: reverse, sensitivity: 0.05}
output: {kind: jack}
"""
JOINTS = """
neck.finish, bridge.start
bridge.finish, output.tip
neck.start, output.sleeve
"""
TWO_STRINGS = Take("Two strings", "two.yaml", "strings", "two.wav", channels=("3", "4"))
ONE_STRING = Take("One string", "one.yaml", "strings", "one.wav", channels=("4",))
SINGLE = Take("Line", "line.yaml", "mono", "line.wav", line="single")


@pytest.fixture
def wiring() -> Wiring:
    """Two coils of opposite sign in series."""
    return replace(wiring_of(PARTS, JOINTS), instrument=BARITONE)


def tracked(take: Take, samples: np.ndarray, source: SourceWiring | None = None) -> TrackedTake:
    """Return a take of samples of shape (channels, n)."""
    return TrackedTake(take, HeldRecording(samples, RATE_HZ), HeldResults(), source, name="test")


def stems(performance: TrackedTake, wiring: Wiring) -> np.ndarray:
    return np.concatenate(list(performance.stems(wiring, RATE_HZ)), axis=1)


def alike(got: np.ndarray, wanted: np.ndarray) -> float:
    """Return the correlation with its sign."""
    return float(got @ wanted / np.sqrt((got @ got) * (wanted @ wanted)))


def test_every_string_reaches_every_coil_at_its_place(wiring: Wiring) -> None:
    """Slopes at the bridge become velocities at each coil, with signs and weights."""
    high = [Pluck(0.3, 0.7, 146.832, 2), Pluck(1.0, 1.2, 146.832, 4)]
    low = [Pluck(0.2, 0.6, 110.0), Pluck(0.8, 0.6, 110.0, 2), Pluck(1.4, 0.8, 110.0, 5)]
    strings = [heard(line, [0.0, *AT_M.values()], RATE_HZ) for line in (high, low)]
    n = min(one.shape[1] for one in strings)
    performance = tracked(TWO_STRINGS, np.stack([one[0, :n] for one in strings]))
    got = stems(performance, wiring)
    assert performance.coil_places(wiring) == COIL_PLACES_TRACKED
    for k, coil in enumerate(wiring.coils.values()):
        velocity = sum(
            string_signal(inch) * one[k + 1, :n] for inch, one in zip((0.024, 0.034), strings, strict=True)
        )
        wanted = coil.string_sign * coil.sensitivity * velocity
        assert alike(got[k], wanted) > 0.95
        differences, _ = third_octaves_db(got[k], wanted, RATE_HZ, 90.0)
        assert np.max(np.abs(differences)) <= STRINGS_DB


def string_signal(inch: float) -> float:
    """Return the signal re the mean of the set, by hand: core whole, a tenth of the round wire."""
    sections = {}
    for gauge_m, wound in ((string.gauge_m, string.wound) for string in BARITONE.strings):
        core_m2 = np.pi / 4.0 * (0.29e-3 + 0.12 * gauge_m if wound else gauge_m) ** 2
        wire_m2 = np.pi / 4.0 * (np.pi / 4.0 * gauge_m**2 - core_m2) * wound
        sections[round(gauge_m / 0.0254, 3)] = core_m2 + 0.1 * wire_m2
    return float(sections[inch] / np.mean(list(sections.values())))


def test_coils_of_opposite_sign_are_opposed(wiring: Wiring) -> None:
    """A reversed winding negates its stem and changes nothing else."""
    samples = heard(LINE[1:2], [0.0], RATE_HZ)
    turned = replace(wiring_of(PARTS.replace("winding: reverse, ", ""), JOINTS), instrument=BARITONE)
    one, other = (stems(tracked(ONE_STRING, samples), each) for each in (wiring, turned))
    np.testing.assert_allclose(one[0], other[0], atol=1e-9)
    np.testing.assert_allclose(one[1], -other[1], atol=1e-9)


def test_a_recording_comes_back_through_its_own_wiring(wiring: Wiring) -> None:
    """The stems through the source's own circuit give the recording."""
    source = SourceWiring(wiring, wiring.setting(wiring.positions[0], {}, {}))
    samples = heard(LINE[1:3], [0.05], RATE_HZ)
    take = replace(SINGLE, line="chords")
    got = stems(tracked(take, samples, source), wiring)
    freqs_hz = np.maximum(np.fft.rfftfreq(got.shape[1], 1.0 / RATE_HZ), 0.01)
    responses = source.sensor(freqs_hz).responses
    assert responses is not None
    back = np.fft.irfft(np.sum(responses * np.fft.rfft(got), axis=0), got.shape[1])
    differences, _ = third_octaves_db(back, samples[0], RATE_HZ, 90.0)
    assert np.max(np.abs(differences)) <= STRINGS_DB


def test_noise_has_no_places_and_says_so(wiring: Wiring) -> None:
    noise = np.diff(np.random.default_rng(3).standard_normal((1, RATE_HZ)), 6)  # hiss
    performance = tracked(SINGLE, noise)
    assert performance.coil_places(wiring) == COIL_PLACES_LEFT_OUT
    assert any("pitch clear in 0 %" in text for text in performance.notes(wiring))
    got = stems(performance, wiring)
    assert np.any(got)
    np.testing.assert_allclose(np.abs(got[0]).max() / np.abs(got[1]).max(), ratio_of_places(), rtol=0.02)


def ratio_of_places() -> float:
    """Return the mean strength at the neck re the bridge, for partials that fall by 6 dB per octave."""
    n = np.arange(1, TYPICAL_PARTIALS + 1)
    shares = [np.sum((np.sin(np.pi * n * at_m / (0.8 * 0.686)) / n) ** 2) for at_m in AT_M.values()]
    return float(np.sqrt(shares[0] / shares[1]))


def test_kept_results_are_neither_tracked_nor_filtered_again(
    wiring: Wiring, monkeypatch: pytest.MonkeyPatch
) -> None:
    performance = tracked(SINGLE, heard(LINE[1:2], [0.05], RATE_HZ))
    first = stems(performance, wiring)
    assert {kind for kind, _ in performance.keeper.found} == {"pitch", "stems"}  # type: ignore[attr-defined]

    def refuse(*_: object, **__: object) -> None:
        raise AssertionError("made twice")

    monkeypatch.setattr(revoiced, "track_pitch", refuse)
    monkeypatch.setattr(revoiced, "run_pieces", refuse)
    again = replace(performance, name="again")
    np.testing.assert_array_equal(stems(again, wiring), first)


@pytest.mark.parametrize(
    ("change", "kinds"),
    [
        ({"strings": (3,)}, {"pitch", "stems"}),  # another range of pitch
        ({"name": "Other", "file": "other.yaml"}, set()),
        ({"kind": "strings", "channels": ("4",)}, {"pitch", "stems"}),
    ],
    ids=["strings", "name", "kind"],
)
def test_a_key_holds_what_the_result_depends_on(
    wiring: Wiring, change: dict[str, object], kinds: set[str]
) -> None:
    """And nothing else: the name of a take or of its file changes no sample."""
    samples = heard(LINE[1:2], [0.05], RATE_HZ)[:, : RATE_HZ // 2]
    keys = []
    for take in (SINGLE, replace(SINGLE, **change)):  # type: ignore[arg-type]
        performance = tracked(take, samples)
        stems(performance, wiring)
        keys.append(set(performance.keeper.found))  # type: ignore[attr-defined]
    assert {kind for kind, _ in keys[0] ^ keys[1]} == kinds


def test_a_performance_travels_to_another_process(wiring: Wiring) -> None:
    """Helper processes and clusters receive it pickled, with its recording and its keeper."""
    performance = tracked(SINGLE, heard(LINE[1:2], [0.05], RATE_HZ))
    again = pickle.loads(pickle.dumps(performance))
    np.testing.assert_array_equal(stems(again, wiring), stems(performance, wiring))


def test_progress_covers_all_strings(wiring: Wiring) -> None:
    samples = np.repeat(heard(LINE[1:2], [0.05], RATE_HZ), 2, axis=0)
    performance = tracked(replace(ONE_STRING, channels=("4", "3")), samples)
    shares: list[float] = []
    performance.prepare(wiring, RATE_HZ, progress=shares.append)
    assert shares == sorted(shares)
    assert shares[-1] == 1.0
    assert any(0.4 < share < 0.6 for share in shares)


def test_one_line_says_where_it_was_clear(wiring: Wiring) -> None:
    performance = tracked(SINGLE, heard(LINE[:2], [0.05], RATE_HZ))
    assert performance.coil_places(wiring) == COIL_PLACES_ONE_LINE
    clear, guessed = performance.notes(wiring)
    assert clear.startswith("the line: pitch clear in ")
    assert "lies lowest on the neck" in guessed
    known = tracked(replace(SINGLE, strings=(4,)), heard([Pluck(0.1, 0.5, 110.0)], [0.05], RATE_HZ))
    assert len(known.notes(wiring)) == 1, "the take states the string: no guess"


def fifth(seconds: float) -> np.ndarray:
    """Return two strings that ring together, shape (1, n)."""
    both = [heard([Pluck(0.1, seconds, 110.0, fret)], [0.05], RATE_HZ) for fret in (0, 7)]
    n = min(one.shape[1] for one in both)
    return both[0][:, :n] + both[1][:, :n]


def test_notes_that_ring_together_have_no_places_and_every_label_says_so(wiring: Wiring) -> None:
    performance = tracked(SINGLE, fifth(1.2))
    assert performance.coil_places(wiring) == f"{COIL_PLACES_LEFT_OUT} (several notes ring together)"
    (remark,) = performance.notes(wiring)
    assert "several notes ring together" in remark
    assert "line: chords" in remark
    got = stems(performance, wiring)
    np.testing.assert_allclose(np.abs(got[0]).max() / np.abs(got[1]).max(), ratio_of_places(), rtol=0.02)


def test_a_passage_that_rings_together_is_named_and_the_rest_keeps_its_places(wiring: Wiring) -> None:
    alone = heard(LINE[:4], [0.05], RATE_HZ)[:, : 2 * RATE_HZ]
    performance = tracked(SINGLE, np.concatenate([alone, fifth(1.0)], axis=1))
    label = performance.coil_places(wiring)
    assert label.startswith(f"{COIL_PLACES_ONE_LINE}; not modelled from 1.8 to ")
    assert label.endswith(" s (several notes ring together)")
    remarks = performance.notes(wiring)
    assert remarks[0].startswith("the line: pitch clear in ")
    assert any(" s several notes ring together" in text for text in remarks)
    got, of_line = stems(performance, wiring), stems(tracked(SINGLE, alone), wiring)
    upto = round(1.6 * RATE_HZ)
    np.testing.assert_allclose(got[:, :upto], of_line[:, :upto], atol=1e-3 * np.abs(of_line).max())


def test_the_strings_of_a_take_with_a_channel_each_are_not_judged_together(wiring: Wiring) -> None:
    performance = tracked(ONE_STRING, fifth(0.6))
    assert performance.coil_places(wiring) == COIL_PLACES_TRACKED


def test_a_label_names_three_passages_and_counts_the_rest() -> None:
    passages = [Passage(float(i), i + 0.5, SEVERAL) for i in range(5)]
    label = places_left_out("computed", passages, 9.0)
    assert label.count("from ") == 3
    assert label.endswith(" and in 2 more passages")


def test_a_wiring_must_state_strings_and_places(wiring: Wiring) -> None:
    performance = tracked(SINGLE, np.ones((1, 480)))
    bare = replace(wiring_of(PARTS.replace("at: 158 mm, ", ""), JOINTS), instrument=None)
    with pytest.raises(InputError) as caught:
        stems(performance, bare)
    assert [problem.got for problem in caught.value.problems] == ["no place (at)", "no instrument"]
    assert caught.value.problems[0].where == "small.yaml:3: neck"

"""How often simulated guitars are judged rightly by sound: a table for tests/README.md.

It measures no speed and takes about ten minutes. Seeds are from 100 up; the rule was set below.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable

import numpy as np
import pytest
from places import DEMO
from strummed import (
    Bench,
    measured,
    settings_of,
    with_coil_shorted,
    with_leads_turned,
    without_terminal,
)

from dsp.checking.yields import share_interval
from dsp.verifying.verdict import AS_PROPOSED, NOT_AS_PROPOSED, Hands, Prediction, predict, verify
from dsp.wiring.model import Wiring
from server.wirings.text import load_wiring

pytestmark = pytest.mark.benchmark

MOST_WRONG, LEAST_SEEN = 0.05, 0.90
GUITARS = 24
SEED = 100
PLAYERS = ("pick", "finger", "thin pick", "thumb")
NO_HANDS = Hands(common_db=0.01, level_db=0.01, tilt_db=0.01, played=0.0, ripple_db=0.01)


@pytest.mark.timeout(3600)
@pytest.mark.parametrize("name", ["twelve", "baritone"])
def test_guitars_are_judged_rightly(name: str) -> None:
    wiring = load_wiring(DEMO / f"{name}.yaml")
    settings = settings_of(wiring)
    benches = [
        Bench(wiring, settings, len(settings) + 2, SEED + k, hand=hand) for k, hand in enumerate(PLAYERS)
    ]
    predictions: dict[float, Prediction] = {}
    counts: dict[str, list[tuple[str, bool]]] = defaultdict(list)

    def judge(kind: str, seed: int, built: Wiring, told: Callable[[str], bool], order: object = None) -> None:
        bench = benches[seed % len(benches)]
        strums, window_s = measured(bench.record_all(built, seed, order))  # type: ignore[arg-type]
        if window_s not in predictions:
            predictions[window_s] = predict(wiring, settings, window_s=window_s)
        names = [str(one) for one in range(len(settings))]
        found = verify(predictions[window_s], strums, names)
        first = found.causes[0].texts if found.causes else ()
        counts[kind].append((found.word, any(map(told, first))))
        if kind == "sound":
            twin = verify(predictions[window_s], strums, names, NO_HANDS)
            counts["sound, hands not divided out"].append((twin.word, False))

    coils = list(wiring.coils)
    for seed in range(SEED, SEED + GUITARS):
        chance = np.random.default_rng([seed, 77])
        coil, other = (coils[chance.integers(len(coils))] for _ in range(2))
        judge("sound", seed, wiring, lambda _: False)
        i, j = sorted(chance.permutation(len(settings) - 1)[:2])
        order = list(range(len(settings)))
        order[i], order[j] = j, i
        judge("positions exchanged", seed, wiring, lambda text: text.endswith("are exchanged"), order)
        turned = f"start and finish of {coil} are exchanged"
        judge("leads turned", seed, with_leads_turned(wiring, coil), lambda text, t=turned: text == t)  # type: ignore[misc]
        gone = f"the joint at {other}."
        judge(
            "coil open",
            seed,
            without_terminal(wiring, other, "finish"),
            lambda text, t=gone: text.startswith(t),
        )  # type: ignore[misc]
        short = f"{other}.start touches {other}.finish"
        judge("coil shorted", seed, with_coil_shorted(wiring, other), lambda text, t=short: text == t)  # type: ignore[misc]
        judge(
            "no tone capacitor", seed, without_terminal(wiring, "tone_cap", "b"), lambda text: "tone" in text
        )

    for kind, rows in counts.items():
        words = [word for word, _ in rows]
        low, high = share_interval(words.count(NOT_AS_PROPOSED), len(rows))
        print(
            f"{name} {kind}: {words.count(AS_PROPOSED)} as proposed, {words.count(NOT_AS_PROPOSED)} not"
            f" ({100 * low:.0f} to {100 * high:.0f} % of all such guitars, a 95 % interval),"
            f" {len(words) - words.count(AS_PROPOSED) - words.count(NOT_AS_PROPOSED)} unsure,"
            f" right cause first {sum(right for _, right in rows)} of {len(rows)}"
        )
    share = {kind: np.mean([word == NOT_AS_PROPOSED for word, _ in rows]) for kind, rows in counts.items()}
    assert share.pop("sound") <= MOST_WRONG
    assert share.pop("sound, hands not divided out") > MOST_WRONG
    assert min(share.values()) >= LEAST_SEEN, share

"""A search for positions whose first answer is known to be poor."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

import pytest

from dsp.errors import InputError
from dsp.sounds import alternatives, choose
from dsp.sounds.candidates import Candidates
from dsp.sounds.choose import Choice
from dsp.sounds.rules import SetRules


def answer_poorly_first(
    monkeypatch: pytest.MonkeyPatch, found: Candidates, rules: SetRules
) -> tuple[Choice, Choice]:
    """Make the first answer the best set that has none of the best's positions, not proved.

    Whichever position of the poor set a later search leaves out, the best set keeps its rules, and is
    the answer. No other search is run.

    Returns
    -------
    Choice, Choice
        The best set, and the poor one.
    """
    *_, best = choose.choose_sets(found, rules)
    *_, worse = choose.choose_sets(found, replace(rules, without=best.chosen))
    poor = replace(worse, bound_db=best.bound_db)

    def answer(
        _found: Candidates, asked: SetRules, *, stop: Callable[[], bool] | None = None
    ) -> Iterator[Choice]:
        if asked.quiet > rules.quiet:
            raise InputError("positions", "more that cancel hum", "as many as were asked for")
        yield best if asked.without else poor

    for module in (choose, alternatives):
        monkeypatch.setattr(module, "choose_sets", answer)
    return best, poor

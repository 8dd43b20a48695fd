"""The study's row "meter + exciter" of both demo wirings, on draws that nothing was tuned with."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from benchmarks.test_checking_speed import core_s
from fault_cases import faulty_cases, sound_cases
from places import DEMO

from dsp.checking.book import Book, make_book
from dsp.checking.diagnosis import diagnose
from dsp.checking.exciter import find_exciter_points
from dsp.checking.points import find_points, find_settings
from server.wirings.text import load_wiring

pytestmark = pytest.mark.benchmark
COUNT, SEED = 60, 9300
LEAST_TOP_THREE, MOST_FALSE_ALARMS = 0.97, 0.05
MOST_BOOK_S = 20.0


def measure(
    book: Book, where: list[int], count: int, *, refit: bool = True
) -> tuple[float, float, int, float]:
    """Right class first and among three, number of classes, sound guitars accused."""
    points, ranks, classes = [book.points[i] for i in where], [], 0
    for case in faulty_cases(book, count, SEED):
        found = diagnose(book, points, case.levels[where], plan=False, refit=refit)
        ranks.append(next(i for i, one in enumerate(found.classes) if case.fault in one.faults))
        classes = max(classes, len(found.classes))
    accused = [
        not diagnose(book, points, case.levels[where], plan=False, refit=refit).classes[0].sound
        for case in sound_cases(book, count, SEED + 1)
    ]
    rank = np.array(ranks)
    return float(np.mean(rank == 0)), float(np.mean(rank < 3)), classes, float(np.mean(accused))


@pytest.mark.parametrize("name", ["baritone", "twelve"])
def test_meter_and_exciter(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    wiring = load_wiring(DEMO / f"{name}.yaml")
    points = [*find_points(find_settings(wiring)), *find_exciter_points(wiring)]
    book_s, book = core_s(lambda: make_book(wiring, points))
    kinds = {"meter": ("meter",), "meter + exciter": ("meter", "exciter")}
    kinds["meter + exciter + blade"] = ("meter", "exciter", "blade")
    with capsys.disabled():
        print(
            f"\n{name}: book of {len(book.faults)} faults, exciter and blade in it, {book_s:.1f} s (bar 20 s)"
        )
        for title, of in kinds.items():
            where = [i for i, point in enumerate(points) if point.kind in of]
            first, three, classes, accused = measure(book, where, COUNT)
            print(
                f"{name}, {title}: first {100 * first:.0f} %, among three {100 * three:.0f} %, "
                f"{classes} classes, sound guitars accused {100 * accused:.1f} %"
            )
            assert three >= LEAST_TOP_THREE
            assert accused <= MOST_FALSE_ALARMS
        slopes = book.slopes.copy()
        slopes[:, [one.attribute == "level" for one in book.directions]] = 0.0
        where = [i for i, point in enumerate(points) if point.kind in ("meter", "exciter")]
        _, three, _, accused = measure(replace(book, slopes=slopes), where, 30, refit=False)
        print(f"{name}, no level unknown: among three {100 * three:.0f} %, accused {100 * accused:.0f} %")
        answer_s = min(
            core_s(lambda: diagnose(book, points[:20], book.levels[5, :20], exciter=True))[0]
            for _ in range(5)
        )
        every_s = min(
            core_s(lambda: diagnose(book, [points[i] for i in where], book.levels[5, where], exciter=True))[0]
            for _ in range(5)
        )
        print(f"{name}, an answer: {1e3 * answer_s:.0f} ms; of all under an exciter: {1e3 * every_s:.0f} ms")
    assert accused > MOST_FALSE_ALARMS, "the twin must fail"
    assert book_s < 2 * MOST_BOOK_S

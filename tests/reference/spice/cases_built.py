"""Settings of the networks whose netlist is built from the file (reference.spice.independent)."""

from __future__ import annotations

import itertools

from reference.spice.cases_by_hand import Case


def _grid(
    network: str, positions: tuple[int | None, ...], *settings: dict[str, float | str]
) -> tuple[Case, ...]:
    return tuple(Case(network, p, s, {}) for p, s in itertools.product(positions, settings))


def _ends(network: str, *knobs: str) -> tuple[Case, ...]:
    """Every combination of both ends of travel."""
    corners = itertools.product((0.0, 10.0), repeat=len(knobs))
    return tuple(Case(network, None, dict(zip(knobs, corner, strict=True)), {}) for corner in corners)


CASES: tuple[Case, ...] = (
    *_grid(
        "sketch_baritone", (1, 2, 3, 4, 5, 6, 7, 8), {"volume": 10, "tone": 10}, {"volume": 6.2, "tone": 3.7}
    ),
    *_grid("sketch_twelve", (1, 2, 3, 4, 5), {"volume": 10, "fat": 1}, {"volume": 7.3, "fat": 2}),
    *_grid(
        "twelve_measured_pots",
        (None,),
        {"neck_level": 10, "bridge_level": 10, "bass": 10, "treble": 10},
        {"neck_level": 7.25, "bridge_level": 6.1, "bass": 0, "treble": 5},
        {"neck_level": 0, "bridge_level": 8.3, "bass": 4, "treble": 0.5},
        {"neck_level": 9.6, "bridge_level": 0, "bass": 5, "treble": 8.9},
        {"neck_level": 3.33, "bridge_level": 4.5, "bass": 9.1, "treble": 0},
    ),
    *_grid("baritone_three_coupled", (1, 2, 3, 4, 5), {"volume": 10}, {"volume": 4}),
    *_grid(
        "twelve_floating", (1, 2, 3, 4, 5), {"volume": 10, "spare_pot": 10}, {"volume": 6, "spare_pot": 0}
    ),
    *_grid("twelve_floating", (1,), {"volume": 0, "spare_pot": 5}),
    *(
        Case("brief_three_singles", position, {"push_pull": stand, "volume": volume, "tone": tone}, {})
        for position, stand, volume, tone in (
            (1, 2, 10, 10),
            (2, 2, 10, 10),
            (3, 1, 7, 4),
            (4, 2, 10, 10),
            (5, 2, 5, 0),
        )
    ),
    *(
        Case("brief_three_toggles", choice, {"neck_coils": neck, "bridge_coils": bridge, "volume": 10}, {})
        for choice, neck, bridge in ((1, 1, 2), (1, 2, 1), (2, 1, 2), (2, 3, 3), (3, 1, 2), (3, 2, 3))
    ),
    *_grid(
        "brief_two_volumes",
        (1, 2, 3),
        {"neck_volume": 10, "bridge_volume": 10},
        {"neck_volume": 0, "bridge_volume": 6},
        {"neck_volume": 4, "bridge_volume": 0, "neck_tone": 3, "bridge_tone": 0},
    ),
    *_grid("brief_three_humbuckers", (1, 2, 3, 4, 5), {"volume": 8, "tone": 6}),
    *_ends("baritone_travel_ends", "split", "blend", "tone", "volume"),
    *_grid(
        "baritone_travel_ends",
        (None,),
        {"split": 3, "blend": 5, "tone": 6, "volume": 8},
        {"split": 0, "blend": 2.5, "tone": 0, "volume": 5},
    ),
    *(
        Case(
            "baritone_push_pulls",
            position,
            {"split_neck": neck, "split_bridge": bridge, "phase": phase, "volume": 10, "tone": tone},
            {},
        )
        for position, neck, bridge, phase, tone in (
            (1, 1, 1, 1, 10.0),
            (1, 2, 1, 1, 10.0),
            (1, 2, 1, 2, 5.0),
            (2, 1, 1, 1, 10.0),
            (2, 1, 1, 2, 10.0),
            (2, 2, 2, 1, 10.0),
            (2, 2, 2, 2, 7.5),
            (3, 1, 2, 1, 10.0),
            (3, 2, 1, 2, 0.0),
        )
    ),
    *_grid(
        "twelve_bass_cut",
        (1, 2, 3, 4),
        {"bass": 10, "volume": 10, "trap": 1},
        {"bass": 2, "volume": 8, "trap": 2},
        {"bass": 0, "volume": 5.5, "trap": 1},
    ),
    *_grid("twelve_bare_jack", (1, 2), {}),
    *_grid("baritone_screened", (1, 2, 3, 4, 5), {"volume": 10, "tone": 10}, {"volume": 6, "tone": 3}),
    *_grid(
        "baritone_second_jack",
        (None,),
        {"volume": 10, "bridge_volume": 10},
        {"volume": 7, "bridge_volume": 4, "output": "mono"},
        {"volume": 10, "bridge_volume": 10, "output": "stereo"},
        {"volume": 0, "bridge_volume": 6, "output": "stereo"},
    ),
    *_grid("baritone_heavy_load", (1, 2, 3), {"volume": 10}, {"volume": 5}),
    *_grid("baritone_one_coupled_in_sketch", (1, 2, 3, 4), {"volume": 10}, {"volume": 3}),
)

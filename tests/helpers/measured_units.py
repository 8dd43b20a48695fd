"""Two coils of one housing as measured: 18 units of an open data set.

Source: the open data set "strayr" of pickup sweeps, a public repository, commit 7760780 (2023). Each row
is our own fit of its unloaded sweeps at 0.5-1.6 kHz: both coils in series, each coil alone, and the k
that follows.
"""

from __future__ import annotations

Unit = tuple[float, float, float, float]
DOUBLES: tuple[Unit, ...] = (  # whole, coil, coil (henry), k
    (4.36, 1.82, 1.82, 0.195), (5.37, 2.23, 2.28, 0.192), (5.24, 2.00, 2.29, 0.222),
    (5.66, 2.31, 2.39, 0.203), (4.23, 1.71, 1.68, 0.248), (4.32, 1.73, 1.68, 0.266),
)  # fmt: skip
HOT_DOUBLES: tuple[Unit, ...] = (
    (9.77, 4.22, 4.17, 0.165), (9.26, 3.97, 4.19, 0.136), (8.04, 3.33, 3.57, 0.165),
    (7.72, 3.21, 3.43, 0.163), (8.27, 3.64, 3.63, 0.138),
    (8.56, 3.77, 3.65, 0.153), (8.48, 3.68, 3.72, 0.147), (8.49, 3.72, 3.70, 0.144),
    (9.32, 4.06, 4.15, 0.135), (8.78, 3.41, 3.58, 0.256),
)  # fmt: skip
OTHERS: tuple[Unit, ...] = ((6.41, 3.11, 3.11, 0.030), (10.36, 4.44, 4.51, 0.158))
ROUNDED_H = 0.012
"""The table's values are rounded to 0.01 H and its k to 0.001."""

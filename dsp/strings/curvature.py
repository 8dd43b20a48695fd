"""The field of a magnet falls with distance: a string is louder as it swings closer."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Curvature:
    """Flux through a coil by a power law of the string's distance.

    Attributes
    ----------
    distance_m : float
        From the string at rest to the pole of the law, below the magnet's face.
    power : float
        Exponent. Both values are illustrative: no measured constants are published.

    References
    ----------
    Static law of distance, then the derivative in time: A. Novak et al., Appl. Sci. 7(1):50
    (2017), who question whether that suffices; forms: R. Paiva et al., J. Audio Eng. Soc. 60 (2012).
    """

    distance_m: float = 0.008
    power: float = 2.0

    def gain(self, towards_m: Floats) -> Floats:
        """Return the slope of the flux at a displacement, relative to rest.

        With flux (d + z)^-p, z away from the coil, the EMF is velocity times
        (1 + z/d)^-(p + 1).

        Parameters
        ----------
        towards_m : ndarray, any shape, metre
            Displacement towards the coil, limited to nine tenths of the distance.

        Returns
        -------
        ndarray, same shape
        """
        near = np.minimum(towards_m / self.distance_m, 0.9)
        return np.asarray((1.0 - near) ** -(self.power + 1.0))

"""From responses to filters: shared poles, one numerator per coil, run block by block."""

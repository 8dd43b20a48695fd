"""A coil's values from its impedance: the rig's tone, two-channel recordings, calibration, the fit."""

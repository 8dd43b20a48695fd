"""Takes: dry performances, and the EMF that each induces in every coil."""

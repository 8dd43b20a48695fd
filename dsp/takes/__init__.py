"""Takes: dry performances, and the EMF each makes in every coil."""

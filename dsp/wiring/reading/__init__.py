"""From a wiring file's tree to a Wiring, or all its problems."""

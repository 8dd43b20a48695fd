"""From a take file's tree to a Take, or all its problems."""

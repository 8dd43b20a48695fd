"""The sub-commands of `presolder`, a file each, loaded when called."""

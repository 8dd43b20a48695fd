"""Storage: the only place of the server that opens files."""

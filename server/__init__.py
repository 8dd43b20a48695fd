"""Everything that touches the world: files, processes, the command line, the page."""

"""Pure computation: numbers in, numbers out. No files, sockets, clock, globals or printing."""

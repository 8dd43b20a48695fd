"""Long work: renders of many clips."""

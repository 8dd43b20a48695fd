"""Child processes: start, priority, lifeline, messages, limits, end."""

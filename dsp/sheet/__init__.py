"""What a build sheet says: steps in the order one solders, parts, meter readings, what to check."""

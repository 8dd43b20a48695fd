"""The workshop itself: its name, contact and picture, which every proposal shows."""

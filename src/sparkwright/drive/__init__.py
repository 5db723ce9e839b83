"""Logs of the engine running: read, laid on the map, and what they show."""

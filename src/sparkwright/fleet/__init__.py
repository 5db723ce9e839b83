"""Many engines, or one engine drawn many times, computed here or on a cluster."""

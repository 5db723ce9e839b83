"""The engine cycle: what the gas, the flame, the walls and the end gas do between two valve events."""

"""What is looked at: the cap, the map, hooks, ribbons, readings."""

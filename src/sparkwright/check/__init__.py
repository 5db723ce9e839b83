"""Can this ignition deliver it: what the engine asks, what rotor, cap, coil and driver give, the wiring."""

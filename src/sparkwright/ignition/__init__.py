"""Rotor and cap, gaps and their breakdown, coil and driver, order of firing, wiring: plain functions."""

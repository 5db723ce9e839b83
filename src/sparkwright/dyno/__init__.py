"""Torque as it was measured: sweeps of advance at one speed and load, and pulls over speed."""

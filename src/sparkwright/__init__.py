"""Sparkwright: a workbench for the ignition timing of engines that fire through a distributor.

The rooms stand in the order in which a job passes through them: ``sparkwright.job`` holds what a shop writes
down, ``sparkwright.check`` and ``sparkwright.plan`` answer from it, ``sparkwright.light`` holds readings
against the answer. Nothing is loaded here, so that a command that needs little starts at once.
"""

__version__ = "0.1.0"

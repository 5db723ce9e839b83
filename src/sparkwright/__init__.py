"""Sparkwright: a workbench for the ignition timing of engines that fire through a distributor."""

__version__ = "0.1.0"

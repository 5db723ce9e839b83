"""The sections of a job, one a module, named as in the file: `engine.py` holds `[engine]`."""

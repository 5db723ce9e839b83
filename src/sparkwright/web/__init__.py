"""The workbench in a browser, and the JSON API under it."""

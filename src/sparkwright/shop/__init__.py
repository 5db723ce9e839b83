"""Keeping: jobs, their revisions and what is attached to them, in SQLite or PostgreSQL."""

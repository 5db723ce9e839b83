"""The steps by which the tables came to be: one module a step, never changed once released.

A new step gets the next number, says in ``down_revision`` which it follows, and moves ``tables.NEWEST``.
Steps only go forward: what went before is in the backup.
"""

"""A changed fact or cell, and what it moves."""

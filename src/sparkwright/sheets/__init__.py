"""Pictures and printed sheets: they draw results and compute nothing of the subject."""

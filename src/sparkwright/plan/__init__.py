"""Planning: from a job to a spark map, and the reason for every cell."""

"""Planning: from a job to a spark map, a hardware verdict and the reasons for both."""

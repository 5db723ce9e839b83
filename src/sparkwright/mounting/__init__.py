"""The day the distributor goes in: dead centre, tape, cap plan, phasing, static setting; their geometry."""

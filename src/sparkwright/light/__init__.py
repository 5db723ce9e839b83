"""Proof: timing-light readings, top-dead-centre finding and timing tapes."""

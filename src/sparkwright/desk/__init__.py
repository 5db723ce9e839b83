"""The desk: from what a caller can say to the cause, by the test that settles most for its time."""

"""The writer of sentences, the same for screen and paper."""

"""What is believed of one engine from what was measured on it, and what is worth measuring next."""

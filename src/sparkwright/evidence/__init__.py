"""Records of what was seen on one engine: typed, dated, and withdrawn where they must not count."""

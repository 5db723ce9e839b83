"""Published formulas that the cycle itself doesn't call: the kernel and its choices are held against them."""

"""Pages of what was learned, and the files that can be taken from them."""

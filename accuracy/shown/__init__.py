"""What the pages of this app show: rows and lines in words, from what services fetched."""

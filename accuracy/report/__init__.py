"""Evidence on tested sensors as files to publish: gathered once, then written in several forms."""

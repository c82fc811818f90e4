"""Running the whole installation from one command: queue, web, workers and scheduler."""

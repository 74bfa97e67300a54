"""Case files, filling, and reading back by key."""

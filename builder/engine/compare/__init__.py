"""What the current edition changes against an older one, in words that an auditor signs."""

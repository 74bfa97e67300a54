"""The results of the cases at the last release."""

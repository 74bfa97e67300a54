"""Register lines from many planning workbooks that came back."""
